"""The case series: cohorts, measurements by window, follow-up and event times."""

from outcomes.cohort.characteristics import column
from outcomes.cohort.event_times import DAYS_IN_MONTH, event_intervals, event_times, never_reviewed
from outcomes.cohort.extracts import Frames, Register, read_frames
from outcomes.cohort.filters import Choice, Selection
from outcomes.cohort.follow_up import followed
from outcomes.cohort.measurements import MeasureValues, value_column
from outcomes.cohort.series import CaseSeries, Loss, LossReason, Step, assemble
from outcomes.cohort.windows import (
    MISSING,
    NOT_APPLICABLE,
    NOT_DUE,
    SEEN,
    STATUSES,
    chosen_values,
    counted_days,
    states,
    status_without_value,
)

__all__ = [
    "DAYS_IN_MONTH",
    "MISSING",
    "NOT_APPLICABLE",
    "NOT_DUE",
    "SEEN",
    "STATUSES",
    "CaseSeries",
    "Choice",
    "Frames",
    "Loss",
    "LossReason",
    "MeasureValues",
    "Register",
    "Selection",
    "Step",
    "assemble",
    "chosen_values",
    "column",
    "counted_days",
    "event_intervals",
    "event_times",
    "followed",
    "never_reviewed",
    "read_frames",
    "states",
    "status_without_value",
    "value_column",
]
