"""The planted effects in words (PLANTED.md)."""

from collections.abc import Callable
from typing import Any

SHOWN = (
    "oedema",
    "colour_mismatch",
    "contour_mismatch",
    "notching",
    "retraction",
    "ectropion",
    "lash_loss",
    "upper_lid_retraction",
)

PAGE = """\
# What was planted in the invented clinic

Every person, clinic, place, code and result in `invented_clinic.xlsx` is invented. This page and
`planted.json` are written by `python -m demo.generate` together with the workbook; a test compares them.

Closing date {closing_date}. {reconstructions} reconstructions of {patients} patients ({patients_with_both_lids} with
both lids): {grafted} grafted, {advanced} advanced, the rest covered in another way. {reviews} reviews, of which
{masked_reviews} are photographs graded by one masked grader; {events} events.

## What is true of the cover

Shares of poor results if *all* had been covered one way, before any revision, as a masked assessor would grade.
Differences are advanced minus grafted, in points. *As chosen* is what a crude comparison would find with nobody
missing: true effect and confounding together.

{tables}

- Oedema: a true, large effect; grafts swell more and for longer.
- Colour and contour: true, moderate effects; grafts match worse.
- Notching: a true effect of a few points, too small for this series to settle.
- Retraction: **no** effect of the cover. Wide, tall defects in tight lids retract, and those were grafted.
- Ectropion: no effect of the cover. Lax lids evert, and those were advanced.
- Lash loss: follows the width of the defect and nothing else.
- Upper lid: no effect. Recurrence: no effect of the cover.

## What the comparison says six months after division

Planned outcomes, adjusted; a test holds this table to the comparison. Two of seventeen read better and two may be better, where
chance alone would give about one. Swelling is also better with advanced skin at one week, six weeks and three months.

| measure | planted | said |
|---|---|---|
| `margin_position` | no effect | no difference that matters |
| `retraction` | no effect; crude confounded | no difference that matters |
| `scleral_show` | no effect | no difference that matters |
| `notching` | a few points | no difference that matters |
| `lash_loss` | no effect | no difference that matters |
| `oedema` | a large effect | may be better with advanced |
| `ectropion` | no effect | no difference that matters |
| `entropion` | no effect | cannot tell |
| `trichiasis` | no effect | cannot tell |
| `margin_redness` | no effect | cannot tell |
| `lagophthalmos` | no effect | no difference that matters |
| `corneal_staining` | no effect | no difference that matters |
| `watering` | no effect | cannot tell |
| `colour_mismatch` | a moderate effect | better with advanced |
| `contour_mismatch` | a moderate effect | better with advanced |
| `upper_lid_retraction` | no effect | no difference that matters |
| `satisfaction` | follows from the rest | may be better with advanced |

## What makes it hard

- The defect chooses the cover. Log odds of advancement, for each step: {log_odds}.
  {planned_one_way_done_another} were planned one way and done another.
- Division was planned {graft_days} days after a graft and {other_days} after anything else; {divided_early} were
  divided sooner, {never_or_not_yet_divided} never or not yet.
- The unmasked chief grades advanced skin more kindly, by these parts of a grade: {kindness}.
- Trouble brings patients back; comfort, moving away and death keep them away. The clinic hears of {heard_of} of the
  deaths.
- Advanced skin became commoner over the years, so its follow-up is shorter.
- Histology not assessable, by method of excision: {not_assessable}.
- Recurrence by five years, by margin: {recurrence}.
- {recurrence_suspected_at_a_review} reviews suspect a recurrence; {confirmed} are confirmed.

## Events

{events_by_kind}.

## Told by hand

Everything loads; the rows that are valid but unusual are there to be asked about.

{stories}
"""


def percent(share: float) -> str:
    """A share as whole percent."""
    return f"{100 * share:.0f} %"


def signed(value: float) -> str:
    """A number with its sign, in print's own minus."""
    return f"{value:+g}".replace("-", "−") if value else "0"


def shares_table(effects: dict[str, Any], window: str) -> str:
    """One window's table of true shares, under its heading."""
    lines = [
        f"### {window.replace('_', ' ').capitalize()} after division",
        "",
        "| measure | all grafted | all advanced | true difference | as chosen |",
        "|---|---|---|---|---|",
    ]
    for measure in SHOWN:
        row = effects["poor_shares"][measure][window]
        lines.append(
            f"| {measure.replace('_', ' ')} | {percent(row['grafted'])} | {percent(row['advanced'])} "
            f"| {signed(round(100 * row['difference']))} | {signed(round(100 * row['crude_difference']))} |"
        )
    return "\n".join(lines)


def listed(values: dict[str, Any], say: Callable[[Any], str] = str) -> str:
    """Names and values in one line."""
    return ", ".join(f"{name.replace('_', ' ')} {say(value)}" for name, value in values.items())


def span(days: list[int]) -> str:
    """The first and the last day."""
    return f"{days[0]}–{days[1]}"


def in_words(effects: dict[str, Any]) -> str:
    """PLANTED.md, with every number taken from what was planted."""
    many = effects["counts"]
    return PAGE.format(
        **many
        | {
            "closing_date": effects["closing_date"],
            "tables": "\n\n".join(shares_table(effects, window) for window in effects["poor_shares"]["oedema"]),
            "log_odds": listed(effects["cover_log_odds_of_advancement"], signed),
            "graft_days": span(effects["division_days"]["grafted"]),
            "other_days": span(effects["division_days"]["advanced"]),
            "kindness": listed(effects["kindness_of_the_unmasked_chief_to_advanced_skin"]),
            "heard_of": percent(effects["deaths_heard_of"]),
            "not_assessable": listed(effects["not_assessable_by_method"], percent),
            "recurrence": listed(effects["recurrence_by_five_years_by_margin"], percent),
            "confirmed": many["events_by_kind"]["recurrence"],
            "events_by_kind": listed(many["events_by_kind"]),
            "stories": "\n".join(f"- {story}: {', '.join(cases)}" for story, cases in effects["arranged"].items()),
        }
    )
