"""Waits of all surges: how long they were, how sure their quantiles are, and what was waited for.

Waits of a surge are kept as whole seconds and how often each occurred. Such tallies are sparse and
exact, so quantiles of waits from any number of surges are those of the list of all waits, and
nothing grows with the number of surges. Only waits beyond :data:`COARSE_FROM_S` are kept to the
next whole minute.

How sure a quantile is comes from the surges, not from the waits: along a ladder of waits, the
share that waits no longer than a rung is a ratio over surges with an error of its own, and the
limits of the quantile are where that share, with its error, passes the level: Woodruff,
"Confidence intervals for medians and other position measures", Journal of the American
Statistical Association 47, 1952. No density is estimated, so a heap of waits of 0 does no harm.

Each waiting second has one cause, and the causes of a wait add up to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from surge_sim.engine.log import IntArray, RunLog
from surge_sim.equipment.causes import CAUSES, Cause
from surge_sim.statistics import intervals
from surge_sim.statistics.intervals import CONFIDENCE, FEWEST, NOTHING, Interval

MINUTE = 1.0 / 60.0
QUANTILES = (0.5, 0.9, 0.95, 0.99)

#: longer waits are counted at the next whole minute, which no answer shows [s]
COARSE_FROM_S = 6 * 3_600


def rungs(longest_s: int, *marks_s: int) -> IntArray:
    """Return a ladder of waits [s] up to the longest, with the marks among its rungs.

    A rung is 5 s, and later a twentieth, above the one below.
    """
    ladder = [0, 1]
    while ladder[-1] < longest_s:
        ladder.append(ladder[-1] + max(ladder[-1] // 20, 5))
    return np.unique(np.array([*ladder, *marks_s], dtype=np.int64))


def coarse(wait_s: IntArray) -> IntArray:
    """Return the waits as they are kept: long ones up to the next whole minute."""
    return np.where(wait_s > COARSE_FROM_S, -(-wait_s // 60) * 60, wait_s)


def tally(values: IntArray, counts: IntArray) -> IntArray:
    """Return the distinct values in rising order and their counts, shape (2, distinct)."""
    distinct, place = np.unique(values, return_inverse=True)
    summed = np.zeros(len(distinct), dtype=np.int64)
    np.add.at(summed, place, counts)
    return np.stack([distinct, summed])


def within(ladder_s: IntArray, wait_s: IntArray) -> IntArray:
    """Count the waits that are no longer than each rung, shape (rungs,)."""
    return np.searchsorted(np.sort(wait_s), ladder_s, side="right")


def quantile(wait_s: IntArray, counts: IntArray, share: float) -> int | None:
    """Return the least wait with at least this share at or below it; None without waits."""
    if not len(wait_s):
        return None
    return int(np.quantile(wait_s, share, weights=counts, method="inverted_cdf"))


@dataclass(frozen=True, eq=False)
class Waits:
    """Waits of one group of requests over all surges."""

    ladder_s: IntArray
    #: requests that waited no longer than each rung, shape (surges, rungs)
    within: IntArray
    #: requests, and their waiting seconds, shape (surges,)
    requests: IntArray
    total_s: IntArray
    #: distinct waits [s], long ones coarse, and how often each occurred, shape (distinct,)
    wait_s: IntArray
    counts: IntArray
    #: the longest wait [s]; -1: none
    longest_s: int

    def mean(self) -> Interval:
        """Return the mean wait over all requests [s]."""
        return intervals.ratio_interval(self.total_s, self.requests)

    def share_within(self) -> list[tuple[int, Interval]]:
        """Return the share of requests that wait no longer than each rung [s], to the longest."""
        last = np.searchsorted(self.ladder_s, max(self.longest_s, 0)) + 1
        shares = intervals.ratios(self.within[:, :last], self.requests[:, None], highest=1.0)
        return list(zip(self.ladder_s[:last].tolist(), shares, strict=True))

    def quantile(self, share: float, confidence: float = CONFIDENCE) -> Interval:
        """Return a quantile of the wait over all requests, with limits from the surges [s].

        Without limits where fewer than :data:`FEWEST` surges have longer waits, or shorter ones;
        without an upper limit when even the longest wait may lie below the quantile.
        """
        middle = quantile(self.wait_s, self.counts, share)
        if middle is None:
            return NOTHING
        place = int(np.searchsorted(self.ladder_s, middle, side="right"))
        x = self.within[:, [max(place - 1, 0), min(place, len(self.ladder_s) - 1)]]
        y = np.broadcast_to(self.requests[:, None], x.shape)
        if len(x) < 2 or intervals.telling(x, y, share=True).max() < FEWEST:
            return Interval(float(middle), None, None)
        error, skewness, lean = intervals.spread(x, y)
        sides = intervals.skewness_corrected(len(x), skewness, lean, confidence) * error
        # between two rungs the farther limits are taken, which hold in any case
        down, up = sides.max(axis=1)
        low = quantile(self.wait_s, self.counts, max(share - up, 0.0))
        high = quantile(self.wait_s, self.counts, share + down) if share + down < 1.0 else None
        return Interval(
            float(middle), *(None if end is None else float(end) for end in (low, high))
        )

    def measures(self) -> dict[str, Interval]:
        """Return mean, quantiles and longest of the wait [min].

        A higher quantile is never shorter, and neither are its limits: see :func:`rising_limits`.
        """
        quantiles = rising_limits([self.quantile(share) for share in QUANTILES])
        names = [f"p{round(100 * share)}" for share in QUANTILES]
        longest = NOTHING if self.longest_s < 0 else Interval(float(self.longest_s), None, None)
        found = {"mean": self.mean(), **dict(zip(names, quantiles, strict=True)), "max": longest}
        return {name: interval.scaled(MINUTE) for name, interval in found.items()}


def rising_limits(intervals: Sequence[Interval]) -> list[Interval]:
    """Widen the limits along a curve that only rises until they do so too.

    Limits that are worked out point by point need not rise, because the error is another one at
    each point; a band with a hump says what cannot be. The upper limit becomes the highest of
    those at the point and before, the lower limit the lowest of those at the point and beyond. No
    interval gets narrower, so what each holds it still holds with at least its confidence.

    Parameters
    ----------
    intervals : sequence of Interval
        Points of the curve, in order.

    Returns
    -------
    list of Interval
        The same estimates. A limit that is not known stays unknown and widens no other.
    """
    estimate, low, high = np.array(intervals, dtype=float).reshape(-1, 3).T
    wide_low = np.where(np.isnan(low), np.nan, np.fmin.accumulate(low[::-1])[::-1])
    wide_high = np.where(np.isnan(high), np.nan, np.fmax.accumulate(high))
    return [Interval.of(point) for point in zip(estimate, wide_low, wide_high, strict=True)]


#: beyond the causes of those who stand in line: time that failed checks cost
FAILED_CHECK = CAUSES
#: the wearer was still busy with the visit before when the play closed
BUSY = CAUSES + 1
ALL_CAUSES = CAUSES + 2

#: what is missing, and where it is; together they are the name of the cause
_NAMES = {
    Cause.KIT_IN_USE: ("kit", "in use"),
    Cause.KIT_HELD: ("kit", "held between visits"),
    Cause.KIT_WAITING_FOR_WIPE: ("kit", "waiting for a wipe-down"),
    Cause.KIT_IN_WIPE_DOWN: ("kit", "in wipe-down"),
    Cause.KIT_DRYING: ("kit", "in contact or drying time"),
    Cause.KIT_LACKS_PREFILTER: ("kit", "waiting for a prefilter"),
    Cause.KIT_LACKS_HE_FILTER: ("kit", "waiting for an HE filter"),
    Cause.KIT_GETTING_FILTER: ("kit", "having a filter fitted"),
    Cause.KIT_IN_REPAIR: ("kit", "in repair"),
    Cause.KIT_AWAY: ("kit", "away"),
    Cause.KIT_RESERVED: ("kit", "reserved for urgent entries"),
    Cause.NO_KIT: ("kit", "not in stock"),
    Cause.HOOD_ON_ORDER: ("hood", "used up and on order"),
    Cause.NO_HOOD: ("hood", "used up and not on order"),
    Cause.NO_LARGE_HOOD: ("hood", "of the large size, in use or used up"),
    Cause.TUBE_ON_ORDER: ("tube", "used up and on order"),
    Cause.NO_TUBE: ("tube", "used up and not on order"),
    Cause.BATTERY_IN_USE: ("battery", "in use"),
    Cause.BATTERY_COOLING: ("battery", "cooling down"),
    Cause.BATTERY_WAITING_FOR_BAY: ("battery", "waiting for a bay"),
    Cause.BATTERY_CHARGING: ("battery", "charging"),
    Cause.BATTERY_WITHOUT_POWER: ("battery", "in a bay without power"),
    Cause.BATTERY_NOT_FULL: ("battery", "charging to full"),
    Cause.BATTERY_TOO_WEAK: ("battery", "too weak even when full"),
    Cause.BATTERY_OUT: ("battery", "failed and not replaced"),
    Cause.BATTERY_AWAY: ("battery", "away"),
    Cause.BATTERY_RESERVED: ("battery", "reserved for urgent entries"),
    Cause.NO_BATTERY: ("battery", "not in stock"),
    FAILED_CHECK: ("nothing", "failed check"),
    BUSY: ("nothing", "wearer busy"),
}


def missing_name(state: int) -> str:
    """Return what was missing: ``kit``, ``hood``, ``tube``, ``battery`` or ``nothing``."""
    return _NAMES[state][0]


def cause_name(state: int) -> str:
    """Return both as the name of a cause: ``battery waiting for a bay``, ``failed check``."""
    missing, place = _NAMES[state]
    return place if missing == "nothing" else f"{missing} {place}"


def waiting_by_cause(log: RunLog) -> IntArray:
    """Add up the waits of a surge by cause.

    Parameters
    ----------
    log : RunLog
        One surge.

    Returns
    -------
    ndarray of int64, shape (ALL_CAUSES,)
        Seconds; their sum is that of all waits.
    """
    found = np.zeros(ALL_CAUSES, dtype=np.int64)
    found[:CAUSES] = log.waited_s.sum(axis=0)
    rest_s, state = _out_of_line(log)
    found[FAILED_CHECK:] = [rest_s[state == other].sum() for other in (FAILED_CHECK, BUSY)]
    return found


def longest_cause(log: RunLog) -> IntArray:
    """Return for each request the cause for which it waited longest; -1 where it did not wait."""
    in_line, (rest_s, state) = log.waited_s.argmax(axis=1), _out_of_line(log)
    longest = np.where(rest_s > log.waited_s.max(axis=1), state, in_line)
    return np.where(log.wait_s > 0, longest, -1)


def _out_of_line(log: RunLog) -> tuple[IntArray, IntArray]:
    """Seconds of each wait that were not spent in line, and their cause.

    Failed checks; without one, the wearer was still busy when the play closed.
    """
    rest_s = log.wait_s - log.waited_s.sum(axis=1)
    return rest_s, np.where(log.failed_checks > 0, FAILED_CHECK, BUSY)
