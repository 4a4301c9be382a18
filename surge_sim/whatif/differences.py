"""How far two alternatives differ, from the surges that both were played on.

The surge is the unit, and differences are paired: surge by surge, alternative less base, so what
both have in common goes away. All limits of a comparison hold together with 95 %: each of m
limits has the confidence 1 - 0.05 / m (Bonferroni's inequality, which holds however strongly the
numbers hang together). What is told as real is therefore wrong anywhere in a table in at most one
table of twenty.

* A share of entries, alarms per 1,000 entries, a mean per surge: both are ratios of sums over
  surges, x / y with y = 1 for a mean. The difference of two ratios has the residuals
  (x' - R' y') / mean(y') - (x - R y) / mean(y) of the surges; from them come its standard error
  and limits with Student's t, corrected for skewness: :func:`intervals.skewness_corrected`, after
  Hall, Journal of the Royal Statistical Society B 54, 1992. Differences of alternatives that are
  alike are symmetric, and for symmetric ones Student's limits err on the safe side whatever their
  tails and ties: Efron, "Student's t-test under symmetry conditions", Journal of the American
  Statistical Association 64, 1969. With fewer than :data:`intervals.FEWEST` surges that differ,
  there are no limits.
* The share of surges on target: only surges count in which one is on target and the other is
  not: McNemar, "Note on the sampling error of the difference between correlated proportions or
  percentages", Psychometrika 12, 1947. The share of gains among these, and their share among all
  surges, have exact limits (Clopper and Pearson); 4/5 of the error go to the first, which decides
  the sign, 1/5 to the second. The product of both holds the difference, for any number of surges.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.statistics.intervals import (
    CONFIDENCE,
    FEWEST,
    Interval,
    clopper_pearson,
    skewness_corrected,
)
from surge_sim.whatif.outcome import Rows

FloatArray = NDArray[np.float64]

#: of the error of a difference of shares of surges, the part for its sign
_FOR_SIGN = 0.8


class Measure(NamedTuple):
    """A number by which alternatives are compared, as a ratio of sums over surges."""

    #: name of its columns
    name: str
    #: what is summed, and what by: floats of shape (surges,)
    x: Callable[[Rows], FloatArray]
    y: Callable[[Rows], FloatArray]
    #: whether less of it is better
    less: bool = False
    #: a yes or no of each surge
    is_yes: bool = False


def _column(name: str, factor: float = 1.0) -> Callable[[Rows], FloatArray]:
    return lambda rows: rows[name] * factor


def _each(rows: Rows) -> FloatArray:
    return np.ones(len(rows))


def _some(rows: Rows) -> FloatArray:
    """Surges with entries: without any there is no worst day."""
    return (rows["worst_entries"] > 0).astype(float)


#: in the order in which they are told
MEASURES = (
    Measure("service_level", _column("in_time"), _column("entries")),
    Measure("share_on_target", lambda rows: (rows["missed"] == 0) * 1.0, _each, is_yes=True),
    Measure("hours_waited", _column("wait_s", 1 / 3_600), _each, less=True),
    Measure("urgent_late", _column("urgent_late", 1.0), _each, less=True),
    Measure(
        "worst_day_service_level",
        lambda rows: rows["worst_in_time"] / np.maximum(rows["worst_entries"], 1),
        _some,
    ),
    Measure("alarms_per_1000", _column("alarms", 1_000.0), _column("entries"), less=True),
)


class Difference(NamedTuple):
    """Alternative less base, of one measure."""

    measure: Measure
    #: the measure of the base and of the alternative; None without anything to divide by
    base: float | None
    value: float | None
    #: their difference with its limits
    by: Interval
    #: surges in which the two differ in it
    surges: int

    @property
    def finding(self) -> str:
        """``better`` or ``worse``, or that it is ``undecided``; ``none`` seen in any surge."""
        if not self.surges:
            return "none"
        low, high = self.by.low, self.by.high
        if low is None or high is None or low <= 0.0 <= high:
            return "undecided"
        return "better" if (low > 0.0) != self.measure.less else "worse"


def level(measure: Measure, rows: Rows) -> float | None:
    """Return a measure over all surges; None without anything to divide by."""
    below = float(measure.y(rows).sum())
    return math.fsum(measure.x(rows)) / below if below else None


def differences(
    base: Rows,
    others: Sequence[Rows],
    confidence: float = CONFIDENCE,
    measures: Sequence[Measure] = MEASURES,
    limited: bool = True,
) -> list[list[Difference]]:
    """Return the differences of alternatives from the base, with limits that hold together.

    Parameters
    ----------
    base : Rows, shape (surges,)
        Outcomes of the base.
    others : sequence of Rows
        Outcomes of the alternatives in the same surges.
    confidence : float
        With which all limits hold together [0..1].
    measures : sequence of Measure
        What is compared.
    limited : bool
        Whether there are limits: plays of a recorded period have none.

    Returns
    -------
    list of list of Difference
        For each alternative, for each measure.
    """
    alpha = (1.0 - confidence) / max(len(others) * len(measures), 1)
    return [
        [_difference(one, base, other, 1.0 - alpha, limited) for one in measures]
        for other in others
    ]


def _difference(
    measure: Measure, base: Rows, other: Rows, confidence: float, limited: bool
) -> Difference:
    before, after = level(measure, base), level(measure, other)
    if before is None or after is None:
        return Difference(measure, before, after, Interval(None, None, None), 0)
    pairs = np.stack([one(other) - one(base) for one in (measure.x, measure.y)])
    differing = int((pairs != 0).any(axis=0).sum())
    by = after - before
    if not limited or len(base) < 2:
        return Difference(measure, before, after, Interval(by, None, None), differing)
    limits: tuple[float | None, float | None]
    if measure.is_yes:
        limits = _of_yes(pairs[0], confidence)
    elif _telling(pairs) < FEWEST:
        limits = (None, None)
    else:
        limits = _of_ratios(measure, base, other, by, confidence)
    return Difference(measure, before, after, Interval(by, *limits), differing)


def _telling(pairs: FloatArray) -> int:
    """Return in how many surges the difference is another one than in most."""
    counts = np.unique(pairs, axis=1, return_counts=True)[1]
    return int(pairs.shape[1] - counts.max())


def _of_ratios(
    measure: Measure, base: Rows, other: Rows, by: float, confidence: float
) -> tuple[float, float]:
    """Return the limits of a difference of two ratios: see the head of this module."""
    surges, residuals, leaning = len(base), np.zeros(len(base)), 0.0
    for rows, sign in ((other, 1.0), (base, -1.0)):
        x, y = measure.x(rows), measure.y(rows)
        share = y / y.mean()
        mine = sign * (x / y.mean() - x.sum() / y.sum() * share)
        residuals += mine
        leaning += float((mine * share).mean())
    deviation = float(np.sqrt((residuals**2).mean()))
    if deviation <= 1e-12 * max(abs(by), 1e-300):
        return by, by
    skewness = float((residuals**3).mean()) / deviation**3
    skewness *= math.sqrt(surges * (surges - 1)) / (surges - 2) if surges > 2 else 0.0
    down, up = skewness_corrected(surges, skewness, leaning / deviation, confidence).tolist()
    error = deviation / math.sqrt(surges - 1)
    return by - down * error, by + up * error


def _of_yes(gained: FloatArray, confidence: float) -> tuple[float, float]:
    """Return the limits of a difference of two shares of surges, from 1, 0 or -1 of each."""
    surges, alpha = len(gained), 1.0 - confidence
    gains, losses = int((gained > 0).sum()), int((gained < 0).sum())
    part = clopper_pearson(gains, gains + losses, 1.0 - _FOR_SIGN * alpha)
    least, most = clopper_pearson(gains + losses, surges, 1.0 - (1.0 - _FOR_SIGN) * alpha)
    low, high = (2.0 * end - 1.0 for end in part)
    return low * (most if low < 0 else least), high * (most if high > 0 else least)
