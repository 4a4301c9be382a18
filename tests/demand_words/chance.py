"""Many random checks held to one false-alarm rate: each may err by its even share of it."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy import stats


class Checks:
    """Chances of values as far out as those seen, each under its name."""

    def __init__(self, false_alarm: float) -> None:
        self.false_alarm = false_alarm
        self.found: list[tuple[float, str]] = []

    def counts(self, name: str, seen: ArrayLike, expected: ArrayLike) -> None:
        """Poisson counts, or those that spread less."""
        observed, mean = np.ravel(np.asarray(seen)), np.ravel(np.asarray(expected, dtype=float))
        tails = np.minimum(
            stats.poisson.cdf(observed, mean), stats.poisson.sf(observed - 1.0, mean)
        )
        for place, tail in enumerate(np.minimum(1, 2 * tails).tolist()):
            words = f"{name}[{place}]: {observed[place]:g}, expected {mean[place]:.1f}"
            self.found.append((tail, words))

    def share(self, name: str, seen: int, tries: int, chance: float) -> None:
        """Count those of so many tries that came out, each with the same chance."""
        tail = min(stats.binom.cdf(seen, tries, chance), stats.binom.sf(seen - 1, tries, chance))
        words = f"{name}: {seen} of {tries}, expected {tries * chance:.1f}"
        self.found.append((min(1.0, 2 * float(tail)), words))

    def spread(self, name: str, values: np.ndarray, cdf: Any) -> None:
        """Whole seconds by their distribution (Kolmogorov-Smirnov; whole numbers err less often).

        ``cdf`` gives the chance of at most so many whole seconds.
        """
        if not len(values):
            return
        levels = np.unique(np.concatenate((values, values - 1)))
        seen = np.searchsorted(np.sort(values), levels, side="right") / len(values)
        apart = float(np.abs(seen - cdf(levels)).max())
        words = f"{name}: {len(values)} times, {apart:.4f} apart at most"
        self.found.append((float(stats.kstwo.sf(apart, len(values))), words))

    def too_far(self) -> list[str]:
        """Return what is too far out for chance."""
        least = self.false_alarm / max(1, len(self.found))
        return [f"{words} (chance {tail:.1e})" for tail, words in self.found if tail < least]
