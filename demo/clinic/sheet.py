"""Write the invented register as a workbook."""

from datetime import UTC, date, datetime
from pathlib import Path

import xlsxwriter

from demo.clinic.people import Row

COLUMNS: dict[str, list[str]] = {
    "patients": [
        "patient_id",
        "birth_year",
        "sex",
        "smoker",
        "diabetes",
        "immunosuppressed",
        "anticoagulated",
        "prior_lid_radiotherapy",
    ],
    "reconstructions": [
        "case_id",
        "patient_id",
        "side",
        "surgeon",
        "site",
        "operated_on",
        "diagnosis",
        "bcc_subtype",
        "recurrent_tumour",
        "defect_width_mm",
        "lid_width_mm",
        "defect_height_mm",
        "defect_depth",
        "canthus_involved",
        "distraction_mm",
        "snap_back",
        "fellow_logmar",
        "excision_method",
        "clinical_margin_mm",
        "margin_control",
        "histology_lateral_mm",
        "histology_deep_mm",
        "histology_margin",
        "histology_reason",
        "re_excised",
        "residual_tumour",
        "flap_width_mm",
        "tarsus_left_mm",
        "cover_planned",
        "cover",
        "graft_donor",
        "margin_shortfall_mm",
        "division_planned_on",
        "divided_on",
        "division_early_reason",
    ],
    "reviews": [
        "case_id",
        "reviewed_on",
        "assessor",
        "masked",
        "mode",
        "margin_position_mm",
        "fellow_margin_position_mm",
        "retraction_mm",
        "scleral_show_mm",
        "notch_mm",
        "lash_loss_percent",
        "oedema",
        "ectropion",
        "entropion",
        "trichiasis",
        "margin_redness",
        "lagophthalmos_mm",
        "corneal_staining",
        "watering",
        "colour_mismatch",
        "contour_mismatch",
        "upper_margin_position_mm",
        "fellow_upper_margin_position_mm",
        "satisfaction",
        "recurrence",
    ],
    "events": ["case_id", "happened_on", "kind", "percent_lost", "revision_kind"],
}
NOTICE = "Everything in this workbook is invented: no person, clinic, place, code or result in it is real."


def in_columns(sheet: str, row: Row) -> Row:
    """The row with every column of its sheet, blank where nothing is recorded."""
    return {column: row.get(column) for column in COLUMNS[sheet]}


def write_workbook(register: dict[str, list[Row]], path: Path) -> None:
    """The same register always makes the same bytes at `path`."""
    with xlsxwriter.Workbook(path, {"in_memory": True}) as book:
        book.set_properties(
            {
                "title": "Invented register of lower-lid reconstructions",
                "comments": NOTICE,
                "created": datetime(2026, 6, 30, tzinfo=UTC),
            }
        )
        day_format, head_format = book.add_format({"num_format": "yyyy-mm-dd"}), book.add_format({"bold": True})
        for name, columns in COLUMNS.items():
            sheet = book.add_worksheet(name)
            sheet.freeze_panes(1, 1)
            sheet.set_column(0, len(columns) - 1, 14)
            sheet.write_row(0, 0, columns, head_format)
            for number, row in enumerate(register[name], start=1):
                for place, column in enumerate(columns):
                    value = row[column]
                    if isinstance(value, date):
                        sheet.write_datetime(number, place, value, day_format)
                    elif value is not None:
                        sheet.write(number, place, value)
        notes = book.add_worksheet("definitions")
        notes.write(0, 0, NOTICE)
        notes.write(1, 0, "The closing date of the demonstration is 2026-06-30.")
