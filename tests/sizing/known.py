"""Players whose truth is known exactly: a stock keeps the target with a given chance."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from surge_sim.equipment.stock import Stock
from surge_sim.scenario.schema import Target
from tests.sizing.stand_in import TARGET, row_of_counts

Chance = Callable[[Stock], float]


@dataclass(frozen=True)
class KnownSurge:
    """One surge with a hardness: a stock passes when its chance is above it."""

    chance: Chance
    hardness: Callable[[Stock], float]

    def kept(self, stock: Stock) -> bool:
        return self.hardness(stock) < self.chance(stock)

    def missed(self, stock: Stock) -> float:
        return 0.0 if self.kept(stock) else 1.0 + 10 * (self.hardness(stock) - self.chance(stock))

    def row(self, stock: Stock) -> np.ndarray:
        kept = self.kept(stock)
        return row_of_counts(kept, 100, 0 if kept else 100)


@dataclass(frozen=True)
class Known:
    """``together``: one hardness for all stocks, so more never hurts; else one for each."""

    seed: int
    chance: Chance
    together: bool = True
    target: Target = TARGET

    def surge(self, sample: int, number: int) -> KnownSurge:
        key = f"{self.seed} {int(sample)} {number} "
        if self.together:
            hardness = _uniform(key)
            return KnownSurge(self.chance, lambda stock: hardness)
        return KnownSurge(self.chance, lambda stock: _uniform(key + repr(stock)))


def _uniform(key: str) -> float:
    """Return a number from 0 to 1 that looks drawn: quicker than a generator for each surge."""
    digest = hashlib.blake2b(key.encode(), digest_size=8).digest()
    return int.from_bytes(digest, "big") / 2.0**64


def smooth(stock: Stock) -> float:
    """Rise with kits and batteries, invented; 0.9 is passed between small numbers of both."""
    return float(
        1.0 / (1.0 + math.exp(-1.1 * (stock.kits - 8.0)))
        / (1.0 + math.exp(-0.7 * (stock.batteries - 13.0)))
    )  # fmt: skip


def slippery(stock: Stock) -> float:
    """Everything that is cheaper than 10 kits and 20 batteries lies just below nine in ten."""
    if stock.kits >= 10 and stock.batteries >= 20:
        return min(0.93 + 0.005 * (stock.kits - 10 + stock.batteries - 20), 0.999)
    if stock.kits >= 8 and stock.batteries >= 16:
        return 0.899
    return 0.3
