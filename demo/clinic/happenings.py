"""Dated events of each lid: complications, revisions, recurrence, death and departure."""

from datetime import date, timedelta

import numpy as np

from demo.clinic.course import after_division, poor_results
from demo.clinic.lids import Lid
from demo.clinic.people import Row, stream
from demo.clinic.truth import Truth

FIRST_DAYS = {"infection": (3, 20), "haematoma": (1, 3)}
"""Days after the operation on which an early complication is found."""


def event(lid: Lid, day: date, kind: str, **more: object) -> Row:
    """One row of the events sheet."""
    return {"case_id": lid.row["case_id"], "happened_on": day, "kind": kind} | more


def complications(rng: np.random.Generator, lid: Lid, truth: Truth) -> list[Row]:
    """Dehiscence, loss of cover, infection, haematoma and granuloma."""
    law, operated_on, events = truth.complications, lid.row["operated_on"], []
    if lid.dehisced_on:
        events.append(event(lid, lid.dehisced_on, "pedicle dehiscence"))
    if lid.cohort and rng.uniform() < law.cover_failure[lid.cohort]:
        lost = float(rng.choice([10, 20, 30, 50, 80])) if lid.cohort == "grafted" else float(rng.choice([5, 10, 20]))
        events.append(
            event(lid, operated_on + timedelta(days=int(rng.integers(5, 13))), "cover failure", percent_lost=lost)
        )
    for kind, (first, last) in FIRST_DAYS.items():
        day = operated_on + timedelta(days=int(rng.integers(first, last + 1)))
        if rng.uniform() < law.shares.get(kind, 0.0):
            events.append(event(lid, day, kind))
    late = int(rng.integers(20, 120))
    if rng.uniform() < law.shares.get("granuloma", 0.0) and lid.row["divided_on"]:
        events.append(event(lid, after_division(lid, late), "granuloma"))
    return events


def revisions(rng: np.random.Generator, lid: Lid, truth: Truth) -> list[Row]:
    """Revisions of what is truly poor half a year after division; each mends its measure from that day on."""
    if lid.row["divided_on"] is None:
        return []
    done = []
    for name in poor_results(lid, after_division(lid, 183), truth):
        day, kind = after_division(lid, int(rng.integers(150, 620))), truth.courses[name].revision
        if kind and rng.uniform() < truth.complications.revised_when_poor and day <= lid.seen_until:
            lid.mended[name] = day
            done.append(event(lid, day, "revision", revision_kind=kind))
    return done


def recurs_on(rng: np.random.Generator, lid: Lid, truth: Truth) -> date | None:
    """The day on which histology confirms a recurrence, if any can be seen; the cover plays no part."""
    share = truth.tumour.five_year.get(lid.row["histology_margin"] or "", 0.0)
    if share == 0 or lid.row["diagnosis"] == "benign":
        return None
    years, operated_on = 0.4 + rng.exponential() * 5 / -np.log1p(-share), lid.row["operated_on"]
    if years * 365.25 > (lid.seen_until - operated_on).days:
        return None
    day: date = operated_on + timedelta(days=int(years * 365.25))
    return day


def departures(lid: Lid) -> list[Row]:
    """Death, when the clinic heard of it, and leaving; whichever came first ends the story."""
    who = lid.person
    if who.left_on and who.left_on == who.last_day:
        return [event(lid, who.left_on, who.left_by)]
    return [event(lid, who.died_on, "death")] if who.died_on and not who.died_unheard else []


def happenings(seed: int, lid: Lid, truth: Truth) -> list[Row]:
    """All events of one lid in order of time; none after the last day on which it could be seen but a departure."""
    rng = stream(seed, 5, lid.number)
    recurrence = recurs_on(rng, lid, truth)
    events = complications(rng, lid, truth) + revisions(rng, lid, truth)
    if recurrence:
        events.append(event(lid, recurrence, "recurrence"))
    seen = [row for row in events if row["happened_on"] <= lid.seen_until]
    return sorted(seen + departures(lid), key=lambda row: (row["happened_on"], row["kind"]))
