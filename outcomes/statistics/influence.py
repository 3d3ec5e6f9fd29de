"""How much does each lid pull on a cumulative incidence?"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from outcomes.statistics.kaplan_meier import RiskTable

FloatArray = npt.NDArray[np.float64]


def incidence_influence(table: RiskTable, cause: npt.NDArray[np.int64], number: int) -> FloatArray:
    """The influence of each lid (row) on the incidence of cause `number` at each time of the table (column).

    It is the derivative of the estimate by the weight of the lid, so it adds up to 0 over all lids; the sum of its
    squares is the infinitesimal jackknife variance. Unit: proportion for one lid. The hazard's error at each time adds
    directly, and through the share that was still event-free to meet it.

    Jaeckel LA. The infinitesimal jackknife. Bell Laboratories Memorandum MM 72-1215-11, 1972 (from memory).

    >>> from outcomes.statistics.kaplan_meier import risk_table
    >>> incidence_influence(risk_table([1.0, 2.0], None), np.array([1, 0]), 1)[:, 1].tolist()
    [0.25, -0.25]
    """
    steps = np.arange(table.time.size)
    present = table.place[:, None] >= steps
    ending = table.place[:, None] == steps
    risk = np.maximum(table.at_risk, np.finfo(float).tiny)
    own, every = ending & (cause == number)[:, None], ending & (cause > 0)[:, None]
    hazard, total = (table.weight @ which / risk for which in (own, every))
    event_free = np.cumprod(1 - total)
    before = np.append(1.0, event_free[:-1])
    direct = before * (own - present * hazard) / risk
    # Where everybody left has the event nobody stays to be pulled on.
    staying = np.where(total < 1, risk * (1 - total), np.inf)
    survival_pull = -np.cumsum((every - present * total) / staying, axis=1)
    earlier = np.hstack([np.zeros((cause.size, 1)), survival_pull[:, :-1]])
    return np.cumsum(direct + before * hazard * earlier, axis=1)
