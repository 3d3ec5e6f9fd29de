"""Counts of one simulated situation, with their Monte Carlo error and the target."""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np

LIDS = (12, 20, 40)
MEASURED_LIDS = (12, 20, 40, 70, 150)
RATES = (0.0, 0.03, 0.1, 0.3, 0.5)
COVERAGE, ERROR = "coverage of a 95 % interval", "type I error at 5 %"
POWER = "how often each verdict is given"
HELD_AT_LEAST, HELD_AT_MOST, HELD_NEVER_UNDER, ERR_AT_MOST = 0.93, 0.975, 0.925, 0.055


@dataclass(frozen=True)
class Cell:
    """One line of the result: of `simulated` registers, how many gave an answer and how many of these `hits`.

    A hit is a truth held by its interval, or a test that rejects although nothing is true.
    """

    what: str
    kind: str
    situation: str
    lids: int
    simulated: int
    answered: int
    hits: int
    discrete: bool = False

    @property
    def share(self) -> float:
        """Hits among the answered."""
        return self.hits / self.answered if self.answered else math.nan

    @property
    def monte_carlo_error(self) -> float:
        """The standard error that the share has from simulating so few."""
        return math.sqrt(self.share * (1 - self.share) / self.answered) if self.answered else math.nan

    @property
    def verdict(self) -> str:
        """What the target says of it; two Monte Carlo errors are allowed before anything is called a miss."""
        if not self.answered:
            return "no answer given"
        return {COVERAGE: self._of_coverage, ERROR: self._of_error, POWER: str}[self.kind]()

    def _of_error(self) -> str:
        if self.share > ERR_AT_MOST + 2 * self.monte_carlo_error:
            return "too often"
        return "high" if self.share > ERR_AT_MOST else ""

    def _of_coverage(self) -> str:
        wide = "wide: few values are possible" if self.discrete else "wide"
        if not self.discrete and self.lids == min(MEASURED_LIDS):
            return "" if HELD_NEVER_UNDER <= self.share <= HELD_AT_MOST else "no target"
        if self.share < HELD_NEVER_UNDER:
            return "too seldom" if self.share < HELD_NEVER_UNDER - 2 * self.monte_carlo_error else "low"
        return wide if self.share > HELD_AT_MOST else ""


@dataclass
class Count:
    """Counts of one situation while it is simulated."""

    what: str
    kind: str
    situation: str
    lids: int
    discrete: bool = False
    answers: list[bool] = field(default_factory=list)
    simulated: int = 0

    def interval(self, low: float | None, high: float | None, truth: float) -> None:
        """Count one interval; None or nan is no answer. A hair is allowed for rounding."""
        self.simulated += 1
        if low is not None and high is not None and not math.isnan(low) and not math.isnan(high):
            self.answers.append(low - 1e-9 <= truth <= high + 1e-9)

    def test(self, p: float | None) -> None:
        """Count one test."""
        self.simulated += 1
        if p is not None and not math.isnan(p):
            self.answers.append(p <= 0.05)

    def hit(self, is_hit: bool) -> None:
        """Count one verdict."""
        self.simulated += 1
        self.answers.append(is_hit)

    def cell(self) -> Cell:
        """The line of the result."""
        return Cell(
            self.what,
            self.kind,
            self.situation,
            self.lids,
            self.simulated,
            len(self.answers),
            sum(self.answers),
            self.discrete,
        )


@dataclass(frozen=True)
class Part:
    """A piece of work for one processor: a name, and what gives its cells from its own stream of chance."""

    name: str
    simulate: Callable[..., Iterable[Cell]]
    arguments: tuple[object, ...] = ()

    def run(self) -> list[Cell]:
        """Simulate; the same name gives the same numbers on every run."""
        return list(self.simulate(np.random.default_rng(zlib.crc32(self.name.encode())), *self.arguments))
