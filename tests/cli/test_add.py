"""A case, a review and an event are entered by prompts alone, with slips and second thoughts, and never by halves."""

from datetime import date

import pypdf
import pytest

from outcomes.store import reading
from tests.cli.running import CLOSED_ON, done, files_in, outcomes, refused
from tests.cli.terminal import Terminal

pytestmark = pytest.mark.slow
BY = ("--as-of", CLOSED_ON)
ENTER = ""


@pytest.fixture
def register(tmp_path):
    path = tmp_path / "register.duckdb"
    done("new", "--register", path)
    return path


@pytest.fixture
def terminal(tmp_path):
    """Starts commands on terminals, and ends them with the test."""
    started = []

    def start(*arguments):
        started.append(Terminal(*arguments, folder=tmp_path))
        return started[-1]

    yield start
    for each in started:
        each.kill()


def held(register):
    with reading(register) as opened:
        return opened.held()


PATIENT = [
    ("Patient study code", "P1"),
    ("Year of birth", "1950"),
    ("1 female", "1"),
    ("Smoking", ENTER),
    ("Diabetes", "n.a."),
    ("Immunosuppressed", ENTER),
    ("Anticoagulated", ENTER),
    ("Earlier radiotherapy", ENTER),
]


def test_from_an_empty_register_to_a_divided_case_with_its_first_review(register, tmp_path, terminal):
    before = files_in(tmp_path)
    stopped = terminal("add", "case", *BY)
    stopped.answer(*PATIENT)
    stopped.expect("Case study code")
    stopped.interrupt()
    assert stopped.ended() == 1
    assert "stopped before it was saved; nothing was stored" in stopped.seen
    assert "Traceback" not in stopped.seen
    assert files_in(tmp_path) == before

    entry = terminal("add", "case", *BY, "--who", "KM")
    entry.answer(("Patient study code", "Jane Wood"), ("looks like a person's name", ENTER), ("is required", "P1"))
    entry.answer(*PATIENT[1:])
    entry.answer(
        ("Case study code", "C1"),
        ("1 right", "OS"),
        ("Surgeon", "back"),
        ("Side (required)", "OD"),
        ("Surgeon", "KM"),
        ("Site", ENTER),
    )
    entry.answer(("Date of operation", "05/06/2024"), ("can be read day first or month first", "2024-03-05"))
    entry.answer(
        ("Diagnosis", "BCC"),
        ("Subtype", "1"),
        ("Recurrent tumour", "2"),
        ("Defect width", "5-6"),
        ("is a range", "14.5"),
    )
    while "Cover (required" not in entry.seen:
        entry.expect(": ")
        if "Cover (required" not in entry.seen:
            entry.type(ENTER)
    entry.type("FTSG")
    entry.answer(
        ("Donor site", "1"),
        ("Margin shortfall", ENTER),
        ("Division planned", ENTER),
        ("Date of division", "2024-03-01"),
    )
    entry.answer(("Reason for early division", ENTER))
    entry.expect("Not possible: divided_on")
    entry.answer(("Date of division", "2024-03-26"), ("Enter to save", ENTER))
    entry.expect("Stored: patient P1 and reconstruction C1.")
    assert entry.ended() == 0
    rows = held(register)
    assert rows["patients"] == {("P1",): {"patient_id": "P1", "birth_year": 1950, "sex": "female"}}
    case = rows["reconstructions"][("C1",)]
    assert (case["side"], case["cover"], case["graft_donor"], case["divided_on"]) == (
        "right",
        "graft",
        "upper lid",
        date(2024, 3, 26),
    )
    assert case["defect_width_mm"] == 14.5

    visit = terminal("add", "review", *BY)
    visit.answer(
        ("Case study code", "c1"),
        ("Date of review", "2024-09-24"),
        ("Assessor", "AB"),
        ("Lid margin position", "5,5"),
        ("fellow lid", "5"),
        ("Scleral show", "1"),
        ("Notch depth", "0"),
        ("Lash loss", "40"),
        ("Oedema", "1"),
        ("Recurrence", ENTER),
        ("Further measures", ENTER),
        ("Enter to save", ENTER),
    )
    visit.expect("Stored: review C1 2024-09-24.")
    assert visit.ended() == 0
    assert len(visit.typed) <= 10
    [review] = held(register)["reviews"].values()
    assert {name: review[name] for name in review if name not in {"case_id", "assessor"}} == {
        "reviewed_on": date(2024, 9, 24),
        "margin_position_mm": 5.5,
        "fellow_margin_position_mm": 5.0,
        "scleral_show_mm": 1.0,
        "notch_mm": 0.0,
        "lash_loss_percent": 40.0,
        "oedema": 1,
    }


CASE = (
    "patient_id=P1",
    "birth_year=1950",
    "case_id=C1",
    "side=R",
    "date-of-surgery=2024-03-05",
    "dx=BCC",
    "cover=FTSG",
)


def test_the_same_in_one_line(register):
    assert (
        "Stored: patient P1 and reconstruction C1."
        in done("add", "case", *CASE, "division=2024-03-26", "--register", register, *BY).out
    )
    out = done(
        "add",
        "review",
        "c1",
        "date=2024-09-24",
        "assessor=AB",
        "mrd2=5.5",
        "mrd2-fellow=5",
        "oedema=++",
        "--register",
        register,
        *BY,
    ).out
    assert "Stored: review C1 2024-09-24." in out
    assert (
        "Stored: event C1 2024-10-01 revision."
        in done(
            "add",
            "event",
            "C1",
            "happened_on=2024-10-01",
            "kind=Re-OP",
            "revision_kind=lid tightening",
            "--register",
            register,
            *BY,
        ).out
    )
    rows = held(register)
    assert next(iter(rows["reviews"].values()))["oedema"] == 2
    assert next(iter(rows["events"].values()))["kind"] == "revision"


@pytest.mark.parametrize(
    "texts, words",
    [
        (("date=2024-09-24", "mrd2=55"), 'margin_position_mm "55": must be a number from 0 to 15 mm'),
        (("date=2024-09-24", "mrd3=5"), '"mrd3" is not a field here; did you mean'),
        (("mrd2=5",), "also needed: reviewed_on="),
        (("date=2024-09-24", "mrd2"), '"mrd2" is not FIELD=VALUE'),
    ],
)
def test_a_slip_in_one_line_is_a_sentence_and_nothing_is_stored(register, texts, words):
    done("add", "case", *CASE, "division=2024-03-26", "--register", register, *BY)
    assert words in refused("add", "review", "C1", *texts, "--register", register, *BY, code=2)
    assert held(register)["reviews"] == {}


def test_what_is_held_already_is_not_written_over(register):
    done("add", "case", *CASE, "division=2024-03-26", "--register", register, *BY)
    assert "hold C1 already" in refused("add", "case", *CASE, "--register", register, *BY)
    line = ("add", "review", "C1", "date=2024-09-24", "assessor=AB", "mrd2=5.5", "--register", register, *BY)
    done(*line)
    assert "outcomes amend" in refused(*line)


def test_an_unknown_case_suggests_a_near_one(register):
    done("add", "case", *CASE, "--register", register, *BY)
    assert 'no case "C11"; did you mean "c1"?' in refused(
        "add", "review", "C11", "date=2024-09-24", "--register", register, *BY, code=2
    )


def test_a_second_lid_asks_for_the_case_only(register):
    done("add", "case", *CASE, "--register", register, *BY)
    ran = outcomes("add", "case", "--register", register, *BY, typed="p1\nC2\n")
    assert "P1 is in the register; only the case is asked for." in ran.out
    assert "Year of birth" not in ran.out
    assert ran.code == 1


def test_an_undivided_case_is_asked_only_for_what_is_recorded_then(register):
    done("add", "case", *CASE, "--register", register, *BY)
    out = done("add", "review", "C1", "--register", register, *BY, typed="2024-03-12\nAB\n0\n\n\n").out
    assert "This case is not divided" in out
    assert "Lid margin position" not in out
    [review] = held(register)["reviews"].values()
    assert review["recurrence"] == 0


def test_the_last_value_is_shown_with_its_day(register):
    done("add", "case", *CASE, "division=2024-03-26", "--register", register, *BY)
    done("add", "review", "C1", "date=2024-09-24", "assessor=AB", "mrd2=5.5", "oedema=1", "--register", register, *BY)
    out = outcomes("add", "review", "C1", "--register", register, *BY, typed="2025-03-24\nAB\n5\n5\n1\n0\n40\n").out
    assert "number from 0 to 15 mm; last 5.5 on 2024-09-24" in out
    assert "last mild on 2024-09-24" in out


def test_back_at_the_summary_and_drop(register):
    done("add", "case", *CASE, "division=2024-03-26", "--register", register, *BY)
    typed = "2024-10-01\n2024-10-01\n6\n\nback\nlid tightening\ndrop\n"
    out = done(
        "add", "event", "C1", "--register", register, *BY, typed=typed.replace("2024-10-01\n2024-10-01", "2024-10-01")
    ).out
    assert out.count("Kind of revision") == 3  # asked twice, and once in the second summary
    assert "Left; nothing was stored." in out
    assert held(register)["events"] == {}


def test_a_clinic_sheet_has_one_page_a_case_in_the_order_of_the_prompts(register, tmp_path):
    done("add", "case", *CASE, "division=2024-03-26", "--register", register, *BY)
    done(
        "add",
        "case",
        "patient_id=P1",
        "case_id=C2",
        "side=L",
        "operated_on=2026-06-02",
        "dx=BCC",
        "cover=adv",
        "--register",
        register,
        *BY,
    )
    done("add", "review", "C1", "date=2024-09-24", "assessor=AB", "mrd2=5.5", "oedema=1", "--register", register, *BY)
    sheet = tmp_path / "clinic.pdf"
    done("template", sheet, "--case", "c1", "--case", "C2", "--register", register, *BY)
    pages = [" ".join(page.extract_text().split()) for page in pypdf.PdfReader(sheet).pages]
    assert len(pages) == 2
    prompted = outcomes(
        "add", "review", "C1", "--register", register, *BY, typed="2026-06-01\n" + "\n" * 9 + "y\n" + "\n" * 30
    ).out
    with reading(register) as opened:
        fields = [field for field in opened.protocol.sheet("reviews") if field.id not in {"case_id", "date_precision"}]
    asked = sorted((prompted.index(field.label), field.label) for field in fields if field.label in prompted)
    places = [pages[0].index(f"{label} ", 90) for _, label in asked if label != "Recurrence"]
    assert len(places) > 20
    assert places == sorted(places)
    assert "5.5, 2024-09-24" in pages[0]
    assert "mild, 2024-09-24" in pages[0]
    assert "Case C2" in pages[1]
    assert "Date of division: not yet" in pages[1]
    assert "Notch depth" not in pages[1]
    assert "is there already" in refused("template", sheet, "--case", "C1", "--register", register, *BY)
    assert "must end in .pdf" in refused(
        "template", tmp_path / "a.xlsx", "--case", "C1", "--register", register, *BY, code=2
    )


@pytest.mark.parametrize("by_prompts", [True, False])
def test_a_division_completes_its_case_and_changes_nothing_else(register, by_prompts):
    done("add", "case", *CASE, "width=14.5", "--register", register, *BY)
    before = held(register)["reconstructions"][("C1",)]
    line = () if by_prompts else ("division=2024-03-26",)
    typed = "\n2024-02-01\n\n2024-03-26\n\n" if by_prompts else ""
    out = done("add", "division", "c1", *line, "--register", register, *BY, "--who", "KM", typed=typed).out
    assert "Stored: reconstruction C1." in out
    assert ("is required" in out) is by_prompts
    assert ("Not possible: divided_on" in out) is by_prompts
    assert held(register)["reconstructions"][("C1",)] == {**before, "divided_on": date(2024, 3, 26)}
    assert "was divided on 2024-03-26" in refused("add", "division", "C1", "--register", register, *BY, code=2)
    with reading(register) as opened:
        assert [(past.field, past.value) for past in opened.history("C1") if past.change == 2] == [
            ("divided_on", date(2024, 3, 26))
        ]
