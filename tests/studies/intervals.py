"""How often the intervals that a sizing prints cover the truth, and how often verdicts err.

    python -m tests.studies.intervals --repetitions 2000

Every case has a known answer. An interval is sound when its coverage is not below its nominal
confidence by more than chance explains (the last column).
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from scipy import stats

from surge_sim.sizing.next_item import mean_interval
from surge_sim.statistics.binomial import (
    anytime_limits,
    clopper_pearson,
    paired_difference_interval,
    quantile_limits,
)

#: one-sided chance that a sound interval is called too narrow
EACH = 1e-5


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
        return float(
            stats.binom.ppf(EACH, self.repetitions, min(self.nominal, self.known))
            / self.repetitions
        )


def studies(repetitions: int) -> Iterator[Coverage]:
    """Yield the coverage of every kind of interval."""
    for surges in (100, 200, 800):
        yield from _paired(repetitions, surges)
    for surges in (100, 200):
        yield from _in_time(repetitions, surges)
    for surges in (100, 300, 800):
        for share in (0.9, 0.97):
            yield _shares(repetitions, surges, share)
    yield _anytime(repetitions)
    for surges in (100, 200):
        for share in (0.5, 0.9):
            yield _quantiles(repetitions, surges, share)


def _count(repetitions: int, covers: Callable[[np.random.Generator], bool], seed: int) -> int:
    rng = np.random.default_rng([seed, 5])
    return sum(covers(rng) for _ in range(repetitions))


def _paired(repetitions: int, surges: int) -> Iterator[Coverage]:
    """Change in the share of surges on target: (chance to gain, chance to lose)."""
    for gain, loss in ((0.02, 0.0), (0.08, 0.0), (0.25, 0.0), (0.05, 0.02), (0.1, 0.1), (0.0, 0.0)):

        def covers(rng: np.random.Generator, gain: float = gain, loss: float = loss) -> bool:
            gained, lost, _ = rng.multinomial(surges, [gain, loss, 1 - gain - loss])
            low, high = paired_difference_interval(int(gained), int(lost), surges)
            return bool(low - 1e-12 <= gain - loss <= high + 1e-12)

        what = f"one item more, surges on target, {surges} surges, gain {gain:g} loss {loss:g}"
        # few changed surges make large steps: exactly 93.3 % with 200 surges and 0.02
        known = 0.93 if (gain, loss) == (0.02, 0.0) else 1.0
        yield Coverage(what, 0.95, _count(repetitions, covers, 11), repetitions, known)


def _in_time(repetitions: int, surges: int) -> Iterator[Coverage]:
    """Change in the share of entries in time: most surges gain nothing, a few gain much."""
    for some in (0.9, 0.5, 0.2, 0.1):

        def covers(rng: np.random.Generator, some: float = some) -> bool:
            gains = np.where(rng.random(surges) < some, rng.gamma(1.0, 0.02, surges), 0.0)
            _, low, high = mean_interval(gains, 0.95)
            return bool(low <= some * 0.02 <= high)

        what = f"one item more, entries in time, {surges} surges, {some:.0%} of them gain"
        # 94.4 % in 4,000 repetitions where nearly all surges gain
        yield Coverage(what, 0.95, _count(repetitions, covers, 12), repetitions, 0.94)


def _shares(repetitions: int, surges: int, share: float) -> Coverage:
    def covers(rng: np.random.Generator) -> bool:
        low, high = clopper_pearson(int(rng.binomial(surges, share)), surges, 0.95)
        return low <= share <= high

    what = f"share of surges on target, {surges} surges, truth {share:g}"
    return Coverage(what, 0.95, _count(repetitions, covers, 13), repetitions)


def _anytime(repetitions: int) -> Coverage:
    """Both one-sided limits at every look, from 60 to 1,500 surges: at most 2 x 5 % err."""
    looks = []
    look = 60
    while look < 1500:
        looks.append(look)
        look += look // 2
    limits = {
        look: [anytime_limits(k, look, 0.05) for k in range(look + 1)] for look in looks
    }  # fmt: skip

    def covers(rng: np.random.Generator) -> bool:
        passes = np.cumsum(rng.random(looks[-1]) < 0.9)
        return all(
            limits[look][passes[look - 1]][0] <= 0.9 <= limits[look][passes[look - 1]][1]
            for look in looks
        )

    return Coverage(
        "share of surges, looked at again and again, truth 0.9", 0.90,
        _count(repetitions, covers, 14), repetitions,
    )  # fmt: skip


def _quantiles(repetitions: int, surges: int, share: float) -> Coverage:
    """Stock that a share of surges needs: whole numbers with many ties."""
    truth = int(stats.nbinom.ppf(share, 12, 0.5))

    def covers(rng: np.random.Generator) -> bool:
        low, _, high = quantile_limits(rng.negative_binomial(12, 0.5, surges), share, 0.95)
        return (-math.inf if low is None else low) <= truth <= (math.inf if high is None else high)

    what = f"stock needed in {share:.0%} of surges, {surges} surges"
    return Coverage(what, 0.95, _count(repetitions, covers, 15), repetitions)


def main() -> None:
    """Print the table of coverages."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--repetitions", type=int, default=2000)
    repetitions = parser.parse_args().repetitions
    print(f"{'interval':<72} nominal covered  least")
    for line in studies(repetitions):
        mark = "" if line.share >= line.least else "  too narrow"
        print(f"{line.what:<72} {line.nominal:7.1%} {line.share:7.1%} {line.least:6.1%}{mark}")


if __name__ == "__main__":
    main()
