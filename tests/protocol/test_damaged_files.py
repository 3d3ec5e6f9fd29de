"""Every malformed protocol file is refused with its line, and every accepted one works."""

import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from outcomes.capture import HeldRows, check_sheets, read_sheets, write_template
from outcomes.errors import DataRefused
from outcomes.protocol import DEFAULT, SHEETS, protocol_from_text, read_protocol
from tests.capture.clinic import AS_OF, clinic, write_workbook

LINES = DEFAULT.read_text(encoding="utf-8").splitlines()
ENTRIES = [number for number, line in enumerate(LINES) if "=" in line and not line.startswith("#")]
VALUES = (
    '""', '"x"', "0", "1", "-1", "1.5", "nan", "inf", "1e400", "true", "[]", "{}", "[1]", '["a"]', '["a", "a"]', "[[1]]",
    "[1, 2, 3]", "[5, 1]", '["a", 1]', "2024-03-05", "12:30:00", '{ at_least = "x" }', "{ at_least = 1, at_most = 2 }",
    "{ at_least = nan }", '{ field = "cover" }', '{ field = 1, values = "graft" }', '{ operated = "x", fellow = 1 }',
    "{ a = { b = [1] } }", '"""', "'", "[", "9" * 400, '"reviews"', '"case_id"', '"grade"', '"number"', '"choice"',
    '"six_months"', '"recurrence"', '"\\u0000"', '"a\\nb"', "x",
)  # fmt: skip
EXTRA = (
    "[[fields]]", "[fields]", "[[rules]]", "[rules]", "[[queries]]", "[nonsense]", "id = 1", "x = 2", 'extends = "default"',
    '[[measures]]\nid = "a"', '[[scales]]\nid = "s"\nlevels = []', "[ends]", "[[fields.id]]", "rules = 3", "[a.b.c]",
)  # fmt: skip

with tempfile.TemporaryDirectory() as kept:
    CLINIC = read_sheets(write_workbook(Path(kept) / "clinic.xlsx", clinic()), read_protocol(DEFAULT))

changes = st.one_of(
    st.tuples(st.just("value"), st.sampled_from(ENTRIES), st.sampled_from(VALUES)),
    st.tuples(
        st.just("key"), st.sampled_from(ENTRIES), st.sampled_from(("id", "label", "kind", "sheet", "lable", "x"))
    ),
    st.tuples(st.just("line"), st.sampled_from(ENTRIES), st.sampled_from(EXTRA)),
    st.tuples(st.just("drop"), st.integers(0, len(LINES) - 1), st.just("")),
    st.tuples(st.just("twice"), st.integers(0, len(LINES) - 1), st.just("")),
    st.tuples(
        st.just("sign"), st.sampled_from(ENTRIES), st.sampled_from(('"', "=", "[", "]", "#", "\\", "\x00", "é", " "))
    ),
)


def changed(change):
    lines = list(LINES)
    for kind, number, text in change:
        key, _, value = lines[number].partition("=")
        if kind == "value":
            lines[number] = f"{key}= {text}"
        elif kind == "key":
            lines[number] = f"{text} ={value}"
        elif kind == "line":
            lines[number] += "\n" + text
        elif kind == "drop":
            lines[number] = ""
        elif kind == "twice":
            lines[number] += "\n" + lines[number]
        else:
            lines[number] = lines[number][:-1] + text
    return "\n".join(lines) + "\n"


def put_to_use(protocol, place):
    """Everything that is asked of a protocol, so that one that was accepted cannot fail later."""
    assert protocol_from_text(protocol.text).fingerprint == protocol.fingerprint
    for field in protocol.fields:
        assert field.says()
        for cell in ("", "x", "1", 1.0, "2024-03-05", True, AS_OF):
            reading = field.read(cell, as_of=AS_OF)
            if reading.value is not None and field.observed:
                assert field.word(field.number(reading.value) or 0.0) is not None
    for measure in protocol.measures:
        assert isinstance(protocol.poor_words(measure), str)
        assert all(protocol.judges(measure, window) in {True, False} for window in protocol.windows)
    write_template(place / "template.xlsx", protocol)
    check_sheets(read_sheets(place / "template.xlsx", protocol), protocol, as_of=AS_OF, held=HeldRows())
    check_sheets(CLINIC, protocol, as_of=AS_OF, held=HeldRows())


def refused_or_used(text):
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "clinic.toml"
        path.write_text(text, encoding="utf-8")
        try:
            protocol = read_protocol(path)
        except DataRefused as refusal:
            refused = refusal
        else:
            put_to_use(protocol, Path(place))
            return "used"
    assert str(refused)
    assert all(problem.row >= 1 and problem.what for problem in refused.problems)
    return "refused"


@settings(max_examples=80, deadline=None)
@given(st.lists(changes, min_size=1, max_size=3))
def test_a_changed_default_is_refused_or_works(change):
    refused_or_used(changed(change))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.sampled_from([*EXTRA, *LINES]), max_size=12), st.booleans())
def test_lines_at_random_are_refused_or_work(lines, extends):
    refused_or_used("\n".join(['extends = "default"'] * extends + lines))


@settings(max_examples=40, deadline=None)
@given(st.binary(max_size=200))
def test_bytes_at_random_are_refused(content):
    with tempfile.TemporaryDirectory() as place:
        path = Path(place) / "clinic.toml"
        path.write_bytes(content)
        with pytest.raises(DataRefused):
            read_protocol(path)


def entry_of(number):
    """The heading under which a line stands."""
    return next(line for line in reversed(LINES[:number]) if line.startswith("["))


LIMITS = [number for number, line in enumerate(LINES) if line.startswith(("low =", "high =", "step =", "jump ="))]


def test_a_default_without_one_of_its_limits_is_refused_or_works():
    assert len(LIMITS) > 40
    told = {number: refused_or_used(changed([("drop", number, "")])) for number in LIMITS}
    needed = [
        number
        for number in LIMITS
        if LINES[number].startswith(("low =", "high =")) and entry_of(number) == "[[fields]]"
    ]
    assert {told[number] for number in needed} == {"refused"}


def test_the_default_itself_works():
    assert refused_or_used("\n".join(LINES)) == "used"
    assert {field.sheet for field in read_protocol(DEFAULT).fields} == set(SHEETS)
