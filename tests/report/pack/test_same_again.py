"""One freeze gives one pack, and a pack leaves other people's files alone."""

import hashlib
import json
from dataclasses import replace

import pytest

from outcomes.cli.explain import selection_of
from outcomes.cohort import Selection
from outcomes.errors import WrongUsage
from outcomes.findings.disclosure.suppression import choice_without_codes
from outcomes.report.pack.assembly import PackRequest, _record, _selections, asked_of, write_pack
from outcomes.report.pack.pack_folder import RECORD
from tests.report.pack.conftest import silent
from tests.rows import AS_OF


def digests(folder):
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


@pytest.mark.slow
def test_two_packs_of_one_freeze_are_the_same_byte_for_byte(helds, packs, tmp_path):
    write_pack(helds[True], tmp_path / "again", silent)
    assert digests(tmp_path / "again") == digests(packs[True])


def test_the_contents_page_and_the_record_list_every_file_with_its_true_digest_and_size(packs):
    for folder in packs.values():
        held = digests(folder)
        page = (folder / "index.html").read_text(encoding="utf-8")
        recorded = {
            each["name"]: each for each in json.loads((folder / "pack.json").read_text(encoding="utf-8"))["files"]
        }
        for name, digest in held.items():
            if name == "index.html":
                continue
            assert f'href="{name}"' in page
            assert digest in page
            if name != "pack.json":
                assert recorded[name]["digest"] == digest
                assert recorded[name]["size"] == (folder / name).stat().st_size


def test_every_file_is_stamped(packs):
    import zipfile
    import zlib

    for folder in packs.values():
        digest = json.loads((folder / "pack.json").read_text(encoding="utf-8"))["register"][:12].encode()
        for path in folder.rglob("*"):
            if not path.is_file():
                continue
            content = path.read_bytes()
            if path.suffix in {".docx", ".pptx"}:
                with zipfile.ZipFile(path) as held:
                    content = b"".join(held.read(name) for name in held.namelist())
            if path.suffix in {".pdf", ".parquet"}:
                continue  # compressed inside: test_files.py reads the PDF's own words, test_shared.py the rows
            assert digest in content, path.name
            assert zlib.crc32(content)


def test_links_of_the_contents_page_lead_to_files(packs):
    import re

    for folder in packs.values():
        page = (folder / "index.html").read_text(encoding="utf-8")
        links = set(re.findall(r'(?:href|src)="([^"]+)"', page))
        assert {link for link in links if not (folder / link).is_file()} == set()
        assert "http" not in page


def test_a_folder_with_anything_else_in_it_is_refused_and_left_alone(helds, tmp_path):
    (tmp_path / "thesis.txt").write_text("years of work")
    with pytest.raises(WrongUsage, match="holds something that is no pack"):
        write_pack(helds[True], tmp_path, silent)
    assert [path.name for path in tmp_path.iterdir()] == ["thesis.txt"]


def test_a_filter_asked_after_the_freeze_is_said_on_the_contents_page_and_kept_in_the_record(packs):
    page = (packs[True] / "index.html").read_text(encoding="utf-8")
    assert "Asked after the data lock named “spring” was made: operated on or after 2017-01-01" in page
    record = json.loads((packs[True] / "pack.json").read_text(encoding="utf-8"))
    assert record["asked"]["windows"] == ["six_months", "one_year"]


def chosen(content, **filters):
    """The same content as if these filters had been set."""
    selection = Selection(AS_OF, **filters)
    shown = selection.choices if content.request.level == "own eyes" else map(choice_without_codes, selection.choices)
    mark = replace(content.comparison.stamp, selection=tuple(shown))
    request = replace(content.request, selection=selection)
    return replace(content, comparison=replace(content.comparison, stamp=mark), request=request)


def test_a_pack_made_over_another_says_what_was_asked_before(helds, packs):
    now = chosen(helds[True], diagnoses=("melanoma",))
    looked = _selections(now, packs[True])
    record = json.loads((packs[True] / "pack.json").read_text(encoding="utf-8"))
    assert [[[each.id, [*each.values]] for each in filters] for filters in looked.before] == record["looked_at"]
    assert "Packs made before into this folder" in looked.sentences("spring")[1]


CODES = {"surgeons": ("KO",), "sites": ("North",), "diagnoses": ("melanoma",)}
CODED = Selection(AS_OF, **CODES)


@pytest.mark.parametrize("level", ["journal", True])
def test_a_pack_for_others_holds_no_code_of_a_filter_now_or_before(helds, tmp_path, level):
    """Neither of its own filters, nor of those of a pack for own eyes that lay in the same folder."""
    for before in ({**CODES, "surgeons": ("AB",)}, CODES):
        own = chosen(helds[False], **before)
        _record(own, _selections(own, tmp_path), tmp_path)
        assert '"KO"' in (tmp_path / RECORD).read_text(encoding="utf-8") or before != CODES
    told = chosen(helds[level], **CODES)
    looked = _selections(told, tmp_path)
    _record(told, looked, tmp_path)
    record = (tmp_path / RECORD).read_text(encoding="utf-8")
    assert [code for code in ("AB", "KO", "North") if f'"{code}"' in record or f"'{code}'" in str(looked)] == []
    asked = json.loads(record)["asked"]
    assert (asked["surgeons"], asked["sites"], asked["diagnoses"]) == (1, 1, ["melanoma"])
    assert len(looked.before) == 1


def test_the_codes_that_a_pack_for_others_does_not_hold_are_given_again():
    asked = asked_of(PackRequest(CODED, "public", "", 250))
    assert selection_of(asked, sites=["North"], surgeons=["KO"]) == CODED
    with pytest.raises(WrongUsage, match="--surgeon"):
        selection_of(asked, sites=["North"])
    with pytest.raises(WrongUsage, match="leave --site out"):
        selection_of(asked_of(PackRequest(CODED, "own eyes", "", 250)), sites=["North"])


def test_a_pack_of_everything_says_so(helds, tmp_path):
    everything = chosen(helds[True])
    (told,) = _selections(everything, tmp_path).sentences("spring")
    assert told == "Nothing was filtered: the pack is of every case of the data lock named “spring”."


def test_a_pack_for_a_journal_keeps_what_allowed_it_and_says_its_level(packs):
    record = json.loads((packs["journal"] / "pack.json").read_text(encoding="utf-8"))
    assert (record["level"], record["approved"]) == ("journal", "ethics 2026/17")
    page = (packs["journal"] / "index.html").read_text(encoding="utf-8")
    assert "Allowed by: ethics 2026/17." in page
    assert not list((packs["journal"] / "data").glob("*.csv"))
