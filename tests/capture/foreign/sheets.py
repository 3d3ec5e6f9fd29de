"""Five invented sheets as clinics keep them, each of another shape, written by libraries that the program does not use."""

from __future__ import annotations

import csv
import random
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.comments import Comment

COVERS = ("graft", "advancement")


def wide_english(path: Path) -> Path:
    """One row a lid: a title, two rows of headings with merged blocks of visits, totals, comments, words of the trade."""
    drawn = random.Random(1)
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Hughes series"
    sheet["A1"] = "Tarsoconjunctival flaps 2016-2022 (invented)"
    sheet.merge_cells("A1:V1")
    first = [
        "No",
        "Name",
        "DOB",
        "m/f",
        "OD/OS",
        "Date of op",
        "Dx",
        "Defect (mm)",
        "Ant. lamella",
        "VA fellow",
        "Division",
        "Smoker",
    ]
    block = ["Date", "MRD2 op", "MRD2 fellow", "SS (mm)", "Oedema"]
    row = [*first, "6M", *[None] * 4, "12 Mo", *[None] * 4, "Remarks", "Recurrence date", "Pre-op MRD2"]
    sheet.append([])
    sheet.append(row)
    sheet.append([None] * 12 + block * 2)
    sheet.merge_cells("M3:Q3")
    sheet.merge_cells("R3:V3")
    for number in range(1, 31):
        operated = date(2016, 3, 1) + timedelta(days=60 * number + drawn.randrange(20))
        divided = operated + timedelta(days=drawn.choice([21, 22, 28, 35, 36]))
        visits: list[Any] = []
        for days in (183, 365):
            seen = divided + timedelta(days=days + drawn.randrange(-25, 26))
            mrd2: Any = "5-6" if number in {3, 17} else drawn.choice([4, 4.5, 5, 5.5, 6, "n.a."])
            visits += [
                seen if drawn.random() < 0.6 else f"{seen.day} {seen:%b} {seen.year}",
                mrd2,
                drawn.choice([4, 4.5, 5, "–"]),
                drawn.choice([0, 0.5, 1, None]),
                drawn.choice(["-", "+", "++", "(+)", "none"]),
            ]
        sheet.append(
            [
                number,
                f"Invented {number}",
                date(1930 + drawn.randrange(30), 1 + drawn.randrange(12), 1 + drawn.randrange(28)),
                drawn.choice(["m", "f"]),
                drawn.choice(["OD", "OS"]),
                operated,
                drawn.choice(["BCC", "BCC", "BCC", "SCC", "basalioma", "sebaceous gland carcinoma"]),
                drawn.choice(["22 x 9", "18x8", "ca. 20", "15 x 7 mm", "n.a."]),
                drawn.choice(["FTSG", "flap adv.", "advancement flap", "skin graft", "VY"]),
                drawn.choice(["6/12", "6/9", "6/6", "20/40", "HM"]),
                divided if number != 9 else None,
                drawn.choice(["no", "ex-smoker", "yes", "?"]),
                *visits,
                drawn.choice([None, "happy", "seen by GP"]),
                divided + timedelta(days=500) if number in {4, 21} else None,
                drawn.choice([4, 5, None]),
            ]
        )
    sheet.append(["Mean", None, None, None, None, None, None, None, None, None, None, None, None, 5.1])
    sheet.append(["n = 30"])
    sheet["G8"].comment = Comment("second opinion asked for", "invented")
    sheet["N12"].comment = Comment("measured by a student", "invented")
    book.save(path)
    return path


def hospital_export(path: Path) -> Path:
    """One row a visit: semicolons, Latin-1, days with a time, R and L, 999 and 9 for missing, both eyes in columns."""
    drawn = random.Random(2)
    header = [
        "Patientennummer",
        "Geburtsdatum",
        "Geschlecht",
        "Auge",
        "OP-Datum",
        "Diagnose",
        "Deckung",
        "Stieldurchtrennung",
        "Untersuchungsdatum",
        "MRD2 RA",
        "MRD2 LA",
        "Skleralshow",
        "Ödem",
        "Ektropium",
        "Untersucher",
        "Freitext",
    ]
    rows = []
    for number in range(20):
        operated = date(2019, 1, 7) + timedelta(days=45 * number)
        divided = operated + timedelta(days=28)
        baseline = [
            f"{7_100_000 + 37 * number}",
            f"{drawn.randrange(1, 29):02}.{drawn.randrange(1, 13):02}.{1935 + number}",
            drawn.choice("mw"),
            drawn.choice("RL"),
            f"{operated:%d.%m.%Y} 08:15",
            drawn.choice(["Basaliom", "Plattenepithelkarzinom", "BZK"]),
            drawn.choice(["VHT", "Verschiebelappen"]),
            f"{divided:%d.%m.%Y} 13:40",
        ]
        for days in (8, 40, 190, 370)[: 2 + number % 3]:
            rows += [
                [
                    *baseline,
                    f"{divided + timedelta(days=days):%d.%m.%Y} 09:30",
                    drawn.choice(["4", "4,5", "5", "6", "999"]),
                    drawn.choice(["4", "5", "5,5", "999"]),
                    drawn.choice(["0", "0,5", "1", "999"]),
                    drawn.choice(["0", "1", "2", "9"]),
                    drawn.choice(["0", "0", "1", "9"]),
                    drawn.choice(["AB", "MÜ"]),
                    drawn.choice(["", "Übergabe an Hausarzt", "Fäden ex"]),
                ]
            ]
    with path.open("w", encoding="latin-1", newline="") as table:
        csv.writer(table, delimiter=";", lineterminator="\r\n").writerows([header, *rows])
    return path


def german_workbook(path: Path) -> Path:
    """Several sheets: lids, courses and complications, joined by number; serial days, re and li, grades as plus signs."""
    drawn = random.Random(3)
    book = openpyxl.Workbook()
    lids = book.active
    lids.title = "Lider"
    lids.append(
        [
            "Fall-Nr",
            "Pat.-Nr.",
            "Jahrgang",
            "Geschlecht",
            "Seite",
            "OP am",
            "Histologie",
            "Defektbreite (mm)",
            "Deckung",
            "Entnahmestelle",
            "Durchtrennung",
            "Raucher",
            "Visus Partnerauge",
        ]
    )
    course = book.create_sheet("Verlauf")
    course.append(
        [
            "Fall-Nr",
            "Datum",
            "Untersucher",
            "MRD2",
            "MRD2 Gegenseite",
            "Ödem",
            "Rötung",
            "Madarosis %",
            "Lagophthalmus",
            "Bemerkung",
        ]
    )
    events = book.create_sheet("Komplikationen")
    events.append(["Fall-Nr", "Datum", "Komplikation"])
    legend = book.create_sheet("Legende")
    legend["A1"] = "+ leicht, ++ mittel, +++ schwer"
    for number in range(1, 26):
        operated = date(2018, 5, 2) + timedelta(days=31 * number)
        divided = operated + timedelta(days=drawn.choice([21, 35, 42]))
        lids.append(
            [
                f"K{number:02}",
                f"Q{(number + 1) // 2:02}" if number < 5 else f"Q{number:02}",
                1940 + (number + 1) // 2 if number < 5 else 1940 + number,
                "w" if number < 5 else drawn.choice(["m", "w"]),
                ("re", "li")[number % 2] if number < 5 else drawn.choice(["re", "li", "rechts"]),
                (operated - date(1899, 12, 30)).days,
                drawn.choice(["BZK", "PEK", "Talgdrüsenkarzinom", "Basalzellkarzinom"]),
                drawn.choice([12, 15.5, "14,5", 20, "k.A."]),
                "VHT" if number % 2 else drawn.choice(["VL", "Vorschub", "Transpositionslappen"]),
                drawn.choice(["Oberlid", "retroaurikulär"]) if number % 2 else None,
                (divided - date(1899, 12, 30)).days,
                ("nein" if number < 5 else drawn.choice(["ja", "nein", "Ex-Raucher"])),
                drawn.choice([0.8, 1.0, "0,5", "k.A."]),
            ]
        )
        for days in (7, 45, 180)[: 1 + number % 3]:
            course.append(
                [
                    f"k{number:02}" if number == 7 else f"K{number:02}",
                    divided + timedelta(days=days),
                    drawn.choice(["AB", "CD"]),
                    drawn.choice([4, 5, 5.5, "ca. 5"]),
                    drawn.choice([4, 5, None]),
                    drawn.choice(["0", "+", "++", "(+)", "keine"]),
                    drawn.choice(["gering", "mittel", "keine", "k.A."]),
                    drawn.choice([0, 20, 45, "50 %"]),
                    drawn.choice([0, 1, "neg."]),
                    drawn.choice([None, "zufrieden"]),
                ]
            )
        if number % 6 == 0:
            events.append(
                [f"K{number:02}", divided + timedelta(days=20), drawn.choice(["Nachblutung", "Infekt", "Re-OP"])]
            )
    book.save(path)
    return path


def months_only(path: Path) -> Path:
    """One row a lid in a comma table: an age for a date of birth, days for a division, visits known by their month."""
    drawn = random.Random(4)
    header = [
        "Lid no",
        "Age",
        "Sex",
        "Eye",
        "Surgery date",
        "Tumour",
        "Repair",
        "Days to division",
        "3/12 notch (mm)",
        "3/12 lash loss",
        "1 yr notch (mm)",
        "1 yr lash loss",
        "FU3 date",
        "FU3 notch (mm)",
        "FU3 lash loss",
        "Deceased on",
    ]
    rows = []
    for number in range(1, 21):
        operated = date(2017, 6, 1) + timedelta(days=50 * number)
        late = operated + timedelta(days=800)
        rows.append(
            [
                number,
                drawn.randrange(55, 92),
                drawn.choice(["M", "F"]),
                drawn.choice(["R", "L"]),
                f"{operated:%d %B %Y}",
                drawn.choice(["BCC", "SCC"]),
                drawn.choice(["graft", "adv", "skin-muscle flap"]),
                drawn.choice([21, 28, 35, "not done"]),
                *visit_values(drawn),
                *visit_values(drawn),
                f"{late:%b %Y}",
                *visit_values(drawn),
                f"{late + timedelta(days=300):%d %b %Y}" if number % 7 == 0 else "",
            ]
        )
    with path.open("w", encoding="utf-8", newline="") as table:
        csv.writer(table).writerows([header, *rows])
    return path


def visit_values(drawn: random.Random) -> list[Any]:
    return [drawn.choice([0, 0.5, 1, 2, ""]), drawn.choice(["0%", "20%", "50%", "nd"])]


def american_visits(path: Path) -> Path:
    """One row a visit with the codes only in the first row of each lid, month-first dates as text, units below the names."""
    drawn = random.Random(5)
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Data"
    sheet.append(
        [
            "Study ID",
            "Eye",
            "DOB",
            "Gender",
            "Surgery date",
            "Tumor type",
            "Anterior lamella",
            "Division date",
            "VA other eye",
            "Visit date",
            "Examiner",
            "MRD2 op",
            "MRD2 other",
            "Scleral show",
            "Lago",
            "Staining",
            "Recurrence",
            "Comments",
        ]
    )
    sheet.append([None] * 11 + ["mm", "mm", "mm", "mm", "0-5"])
    for number in range(18):
        operated = date(2020, 1, 3) + timedelta(days=40 * number)
        divided = operated + timedelta(days=30)
        patient = f"S{number - 1 if number in {5, 11} else number:02}"
        eye = "OS" if number in {5, 11} else "OD"
        birth = f"{(number - (number in {5, 11})) % 12 + 1:02}/14/19{40 + number - (number in {5, 11})}"
        baseline = [
            patient,
            eye,
            birth,
            "F" if number in {4, 5} else "M",
            f"{operated:%m/%d/%Y}",
            drawn.choice(["BCC", "Melanoma", "BCC"]),
            drawn.choice(["full thickness skin graft", "Advancement flap"]),
            f"{divided:%m/%d/%Y}",
            drawn.choice(["20/20", "20/30", "20/200", "CF"]),
        ]
        for visit, days in enumerate((10, 50, 200)[: 1 + number % 3]):
            sheet.append(
                [
                    *(baseline if visit == 0 else [None] * len(baseline)),
                    f"{divided + timedelta(days=days):%m/%d/%Y}",
                    drawn.choice(["JD", "RT"]),
                    drawn.choice([4, 5, 6, "5 mm", 99]),
                    drawn.choice([4, 5, "N/A"]),
                    drawn.choice([0, 1, "trace"]),
                    drawn.choice([0, 0, 1]),
                    drawn.choice([0, 1, 2, None]),
                    drawn.choice(["no", "none", "V.a.", "no"]),
                    drawn.choice([None, "ok"]),
                ]
            )
    sheet.append([])
    sheet.append(["Mean age 71, all invented"])
    book.save(path)
    return path
