"""Stock arithmetic: base stock with a pipeline (Palm), batteries in rotation."""

from __future__ import annotations

from math import ceil

from scipy.stats import poisson


def backorders(stock: int, pipeline: float) -> float:
    """Expected backorders with `stock` in a loop that holds a mean of `pipeline` (Palm)."""
    held = sum((stock - k) * poisson.pmf(k, pipeline) for k in range(stock))
    return float(pipeline - stock + held)


def fill_rate(stock: int, pipeline: float) -> float:
    """Share of demands met from the shelf: P(pipeline <= stock - 1)."""
    return float(poisson.cdf(stock - 1, pipeline)) if stock > 0 else 0.0


def rotation(wearers: int, run: float, charge: float, swap: float = 0.0) -> tuple[int, int]:
    """Batteries and charging places that cover `wearers` without a gap."""
    return ceil(wearers * (run + charge + swap) / run), ceil(wearers * charge / run)
