"""Who counts, which review stands for which window, follow-up, clocks."""

from outcomes.cohort.characteristics import column
from outcomes.cohort.event_times import DAYS_IN_MONTH, event_intervals, event_times, unseen
from outcomes.cohort.extracts import Frames, Register, read_frames
from outcomes.cohort.filters import Selection
from outcomes.cohort.follow_up import followed
from outcomes.cohort.series import CaseSeries, Step, assemble
from outcomes.cohort.windows import MISSING, NOT_APPLICABLE, NOT_DUE, SEEN, states

__all__ = [
    "DAYS_IN_MONTH",
    "MISSING",
    "NOT_APPLICABLE",
    "NOT_DUE",
    "SEEN",
    "CaseSeries",
    "Frames",
    "Register",
    "Selection",
    "Step",
    "assemble",
    "column",
    "event_intervals",
    "event_times",
    "followed",
    "read_frames",
    "states",
    "unseen",
]
