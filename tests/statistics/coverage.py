"""How often the intervals of a run hold the truth, on surges whose truth is known.

The surges are invented: each has a load of its own, which moves both its number of entries and
the share of them that waits, as real surges do. Run the whole study with

    python -m tests.statistics.coverage --repetitions 2000
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from surge_sim.statistics.intervals import Interval, mean_interval, ratio_interval
from surge_sim.statistics.waits import Waits, rungs, tally, within

TARGET_S = 300
LONGEST_S = 40_000
QUANTILES = (0.5, 0.8, 0.9, 0.95, 0.99)


@dataclass(frozen=True)
class Invented:
    """Surges with about `entries` entries; `spread` says how much their loads differ."""

    entries: float = 200.0
    spread: float = 0.5

    def surge(self, rng: np.random.Generator) -> np.ndarray:
        """Waits of one surge [s]: mostly 0, in heavy surges often long."""
        load = math.exp(rng.normal(0.0, self.spread))
        count = rng.poisson(self.entries * (0.6 + 0.4 * load))
        some = rng.random(count) < load / (6.0 + load)
        waits = np.where(some, rng.exponential(600.0 * load, count), 0.0)
        return np.rint(np.minimum(waits, LONGEST_S)).astype(np.int64)


def waits_of(surges: list[np.ndarray], longest_s: int = LONGEST_S) -> Waits:
    """Put the waits of surges together as a run does."""
    ladder_s = rungs(longest_s, TARGET_S)
    ones = [np.ones(len(waits), dtype=np.int64) for waits in surges]
    none = np.zeros((0, len(ladder_s)), dtype=np.int64)
    longest = [waits.max(initial=-1) for waits in surges]
    values, counts = (np.concatenate([[], *side]).astype(np.int64) for side in (surges, ones))
    return Waits(
        ladder_s,
        np.vstack([none, *(within(ladder_s, waits) for waits in surges)]),
        np.array([len(waits) for waits in surges], dtype=np.int64),
        np.array([waits.sum() for waits in surges], dtype=np.int64),
        *tally(values, counts),
        longest_s=int(max(longest, default=-1)),
    )


def intervals_of(surges: list[np.ndarray]) -> Iterator[tuple[str, Interval]]:
    """Every kind of interval that a run prints, by name."""
    entries = [len(waits) for waits in surges]
    in_time = [int((waits <= TARGET_S).sum()) for waits in surges]
    yield "share of entries", ratio_interval(in_time, entries, highest=1.0)
    shares = [good / all_ for good, all_ in zip(in_time, entries, strict=True)]
    yield "mean of surges' shares", mean_interval(shares, highest=1.0)
    sums = waits_of(surges)
    yield "mean wait", sums.mean()
    for share in QUANTILES:
        yield f"p{100 * share:g} of the wait", sums.quantile(share)


def truth(case: Invented, surges: int, rng: np.random.Generator) -> dict[str, float]:
    """Values that very many surges give."""
    estimates = intervals_of([case.surge(rng) for _ in range(surges)])
    return {
        name: interval.estimate for name, interval in estimates if interval.estimate is not None
    }


def covered(
    case: Invented, known: dict[str, float], surges: int, repetitions: int, rng: np.random.Generator
) -> dict[str, float]:
    """Share of repetitions whose interval holds the truth; a missing limit is no limit."""
    hits = dict.fromkeys(known, 0)
    for _ in range(repetitions):
        for name, (_, low, high) in intervals_of([case.surge(rng) for _ in range(surges)]):
            above = low is None or low <= known[name]
            below = high is None or known[name] <= high
            hits[name] += above and below
    return {name: count / repetitions for name, count in hits.items()}


def main() -> None:
    """Print the coverage of every interval at several numbers of surges."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repetitions", type=int, default=2000)
    parser.add_argument("--truth", type=int, default=40_000)
    parser.add_argument("--surges", type=int, nargs="+", default=[20, 50, 100, 200])
    options = parser.parse_args()
    case, rng = Invented(), np.random.default_rng(1)
    known = truth(case, options.truth, rng)
    columns = {n: covered(case, known, n, options.repetitions, rng) for n in options.surges}
    print(f"{'interval, nominal 95 %':26}{'truth':>10}", *(f"{n:>7}" for n in columns))
    for name, value in known.items():
        print(f"{name:26}{value:>10.4g}", *(f"{found[name]:>7.3f}" for found in columns.values()))


if __name__ == "__main__":
    main()
