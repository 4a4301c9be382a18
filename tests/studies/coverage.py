"""How often every printed interval holds the truth, on cases whose answer is known.

    python -m tests.studies.coverage --repetitions 2000

The intervals of a run come first, then those of a sizing. The last columns say by how much
chance alone may lower the coverage of a sound interval, and what to read.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy import stats

from surge_sim.statistics.intervals import (
    Interval,
    clopper_pearson,
    mean_interval,
    quantile_over_surges,
    ratios,
)
from tests.statistics.coverage import waits_of
from tests.studies.known_waits import TARGET_S, Case, Loads, OneLine, quantile_s

#: one-sided chance that a sound interval is called too narrow
EACH = 5e-6
QUANTILES = (0.5, 0.9, 0.95, 0.99)
#: waits beyond this are of no account to the ladder of the study [s]
_LADDER_S = 20_000


@dataclass(frozen=True)
class Coverage:
    """One line of the study."""

    what: str
    nominal: float
    covered: int
    repetitions: int
    #: what it covers in the long run where that is less than nominal
    known: float = 1.0

    @property
    def share(self) -> float:
        """Share of repetitions whose interval covered the truth."""
        return self.covered / self.repetitions

    @property
    def least(self) -> float:
        """Coverage below which chance is no explanation."""
        least = stats.binom.ppf(EACH, self.repetitions, min(self.nominal, self.known))
        return float(least / self.repetitions)

    def __str__(self) -> str:
        mark = "" if self.share >= self.least else "  too narrow"
        return f"{self.what:<66} {self.nominal:6.1%} {self.share:7.1%} {self.least:6.1%}{mark}"


def holds(interval: Interval, truth: float) -> bool:
    """Return whether an interval holds the truth; a missing limit is no limit."""
    _, low, high = interval
    return (low is None or low <= truth + 1e-9) and (high is None or truth <= high + 1e-9)


def studies(repetitions: int) -> Iterator[Coverage]:
    """Yield the coverage of every kind of interval."""
    cases: tuple[Case, ...] = (OneLine(), Loads())
    for surges in (20, 50, 100, 200):
        for case in cases:
            yield from run_ratios(case, repetitions, surges)
        yield from run_counts(Loads(), repetitions, surges)
    for surges in (50, 100, 200):
        for case in cases:
            yield from run_quantiles(case, repetitions, surges)
    for surges in (100, 300, 800):
        for share in (0.9, 0.97):
            yield shares(repetitions, surges, share)
    for surges in (100, 200):
        for share in (0.5, 0.9):
            yield over_surges(repetitions, surges, share)
            yield needed(repetitions, surges, share)
    yield from sized(repetitions)


# --- a run -----------------------------------------------------------------------------------


def run_ratios(case: Case, repetitions: int, surges: int) -> Iterator[Coverage]:
    """Service level and mean wait over all entries; mean of the surges' shares."""
    rng = np.random.default_rng([surges, 1])
    shape = (surges, repetitions)
    all_entries, good, waited_s = (np.empty(shape, dtype=np.int64) for _ in range(3))
    for surge in range(surges):
        entries, waits = case.draw(rng, repetitions)
        which = np.repeat(np.arange(repetitions), entries)
        all_entries[surge] = entries
        good[surge] = np.bincount(which[waits <= TARGET_S], minlength=repetitions)
        waited_s[surge] = np.bincount(which, weights=waits, minlength=repetitions)
    in_time = 1.0 - case.longer(TARGET_S)
    found = {
        "share of entries in time": (ratios(good, all_entries), in_time),
        "mean wait": (ratios(waited_s, all_entries), case.mean_s()),
    }
    for what, (intervals, truth) in found.items():
        hits = sum(holds(interval, truth) for interval in intervals)
        yield Coverage(f"run, {case.name}: {what}, {surges} surges", 0.95, hits, repetitions)
    mean_share = case.mean_service_level() if isinstance(case, Loads) else in_time
    hits = sum(holds(mean_interval(column), mean_share) for column in (good / all_entries).T)
    what = f"run, {case.name}: mean of the surges' shares, {surges} surges"
    yield Coverage(what, 0.95, hits, repetitions)


def run_counts(case: Loads, repetitions: int, surges: int) -> Iterator[Coverage]:
    """Alarms and parts per 1,000 entries, stock-outs per surge: counts that heavy surges carry."""
    rng = np.random.default_rng([surges, 2])
    means: dict[str, Callable[[np.ndarray], np.ndarray]] = {
        "alarms per 1,000 entries": lambda x: 0.5 * x**2,
        "hoods used per 1,000 entries": lambda x: 0.01 * case.entries_at(x),
        "stock-outs per surge": lambda x: 0.3 * x**2,
        "rare stock-outs per surge": lambda x: 0.05 * x**2,
    }
    counts = {what: np.empty((surges, repetitions), dtype=np.int64) for what in means}
    over = {what: np.ones_like(counts[what]) for what in means}
    for surge in range(surges):
        load = case.loads(rng, repetitions)
        entries = rng.poisson(case.entries_at(load))
        for what, mean in means.items():
            if "surge" not in what:
                over[what][surge] = entries
            counts[what][surge] = rng.poisson(mean(load))
    for what, mean in means.items():
        below = 1.0 if "surge" in what else case.integral(case.entries_at)
        truth = case.integral(mean) / below
        hits = sum(holds(interval, truth) for interval in ratios(counts[what], over[what]))
        yield Coverage(f"run, {case.name}: {what}, {surges} surges", 0.95, hits, repetitions)


def run_quantiles(case: Case, repetitions: int, surges: int) -> Iterator[Coverage]:
    """Quantiles of the wait over all entries of all surges."""
    rng = np.random.default_rng([surges, 3])
    truths = {share: quantile_s(case, share) for share in QUANTILES}
    hits = dict.fromkeys(QUANTILES, 0)
    for _ in range(repetitions):
        entries, waits = case.draw(rng, surges)
        found = waits_of(np.split(waits, np.cumsum(entries)[:-1]), _LADDER_S)
        for share in QUANTILES:
            hits[share] += holds(found.quantile(share), truths[share])
    for share, count in hits.items():
        what = f"run, {case.name}: p{100 * share:g} of the wait, {surges} surges"
        yield Coverage(what, 0.95, count, repetitions)


# --- a run or a sizing -----------------------------------------------------------------------


def _count(repetitions: int, covers: Callable[[np.random.Generator], bool], seed: int) -> int:
    rng = np.random.default_rng([seed, 5])
    return sum(covers(rng) for _ in range(repetitions))


def shares(repetitions: int, surges: int, share: float) -> Coverage:
    """Share of surges on target, as a run prints it."""

    def covers(rng: np.random.Generator) -> bool:
        low, high = clopper_pearson(int(rng.binomial(surges, share)), surges, 0.95)
        return low <= share <= high

    what = f"share of surges on target, {surges} surges, truth {share:g}"
    return Coverage(what, 0.95, _count(repetitions, covers, 13), repetitions)


def over_surges(repetitions: int, surges: int, share: float) -> Coverage:
    """How surges differ: a quantile over surges of a long-tailed number."""
    truth = float(stats.lognorm.ppf(share, 0.5))

    def covers(rng: np.random.Generator) -> bool:
        return holds(quantile_over_surges(rng.lognormal(0.0, 0.5, surges), share), truth)

    what = f"run: {share:.0%} of surges have less, {surges} surges"
    return Coverage(what, 0.95, _count(repetitions, covers, 16), repetitions)


# --- a sizing --------------------------------------------------------------------------------


def needed(repetitions: int, surges: int, share: float) -> Coverage:
    """Stock that a share of surges needs: whole numbers with many ties."""
    truth = int(stats.nbinom.ppf(share, 12, 0.5))

    def covers(rng: np.random.Generator) -> bool:
        return holds(quantile_over_surges(rng.negative_binomial(12, 0.5, surges), share), truth)

    what = f"size: stock needed in {share:.0%} of surges, {surges} surges"
    return Coverage(what, 0.95, _count(repetitions, covers, 15), repetitions)


def sized(repetitions: int, choose: int = 60, surges: int = 150) -> Iterator[Coverage]:
    """Whole sizings of a known chance: the least cost, and the limits of the recommended stock."""
    from tests.sizing.known import smooth
    from tests.studies.selection import STUDIES, known_case, one_sizing, optimum

    best = optimum(known_case(0, smooth, choose, surges), smooth)
    rows = [
        one_sizing(seed + 10_000, STUDIES["smooth"], smooth, choose, surges)
        for seed in range(repetitions)
    ]
    found = [row for row in rows if not row["none"]]
    name, count = f"{choose}+{surges} surges", len(found)
    least = sum(row["low"] <= best + 1e-9 for row in found)
    yield Coverage(f"size: least cost, {name}", 0.95, least, count)
    for side, words in enumerate(("lower", "upper")):
        holds = sum(not row["best_outside"][side] for row in found)
        yield Coverage(f"size: recommended stock, {words} limit, {name}", 0.95, holds, count)


def main() -> None:
    """Print the table of coverages."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--repetitions", type=int, default=2000)
    repetitions = parser.parse_args().repetitions
    print(f"{'interval':<66} nominal covered  least")
    for line in studies(repetitions):
        print(line, flush=True)


if __name__ == "__main__":
    main()
