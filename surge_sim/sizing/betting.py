"""A test by betting: evidence on a share of surges that may be looked at after any of them.

Somebody who doubts that the true share of surges on target is above ``p`` pays a stake of 1. Each
surge on target multiplies it by ``1 + u (1 - p) / p``, each other one by ``1 - u``. While the true
share is at most ``p`` the bet is not in favour, so the chance that the stake, an e-value, EVER
reaches 1/alpha is at most alpha (J. Ville, Etude critique de la notion de collectif, 1939, title
from memory; Waudby-Smith and Ramdas, "Estimating means of bounded random variables by betting",
Journal of the Royal Statistical Society B 86, 2024, title from memory). The lower limit of the
share is the largest ``p`` at which the stake has reached 1/alpha. The upper limit follows from the
bet on the other side: a surge on target multiplies by ``1 - v``, each other one by ``1 + v p / (1 -
p)``.

How much is put at risk is laid down beforehand: ``u`` and ``v`` are those that serve a test of
the share that is asked for best at the end of a block of surges. The blocks end at 500, 800,
2,000 surges and so on, whatever number is asked for: so more surges go on with the same bet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import optimize

#: ends of the first blocks; each later one is 2.5 times as far
_ENDS = (500, 800, 2_000)
_FURTHER = 2.5
#: no more than this part of the stake is put at risk
_MOST = 0.75


def block_ends(surges: int) -> tuple[int, ...]:
    """Return where the blocks of so many surges end."""
    ends = list(_ENDS)
    while ends[-1] < surges:
        ends.append(round(ends[-1] * _FURTHER))
    first = next(place for place, end in enumerate(ends) if end >= surges)
    return tuple(ends[: first + 1])


def at_risk(share: float, alpha: float, end: int) -> tuple[float, float]:
    """Return the parts of the stake at risk in a block: ``u`` and ``v``.

    Parameters
    ----------
    share : float
        Share of surges that is asked for [0..1].
    alpha : float
        Chance of error.
    end : int
        Surge at which the block ends.
    """
    size = 2.0 * math.log(1.0 / alpha) / end
    above, below = size * share / (1.0 - share), size * (1.0 - share) / share
    return min(math.sqrt(above), _MOST), min(math.sqrt(below), _MOST)


def by_block(kept: NDArray[np.bool_]) -> tuple[tuple[int, int], ...]:
    """Return the surges on target of each block, and how many there were."""
    begin, found = 0, []
    for end in block_ends(len(kept)):
        part = kept[begin:end]
        found.append((int(part.sum()), len(part)))
        begin = end
    return tuple(found)


def decided_at(
    kept: NDArray[np.bool_], share: float, alpha: float, first: int
) -> tuple[int, bool, bool]:
    """Return at which surge a stake against the share that is asked for reaches 1/alpha.

    Parameters
    ----------
    kept : ndarray of bool, shape (surges,)
        Whether each surge was on target.
    share, alpha : float
        See :func:`limits`.
    first : int
        One looks after this surge, and after each later one.

    Returns
    -------
    tuple
        Surges until then, or all; whether the true share is shown to be above; or below.
    """
    above, below = np.zeros(len(kept)), np.zeros(len(kept))
    begin = 0
    for end in block_ends(len(kept)):
        u, v = at_risk(share, alpha, end)
        part = kept[begin:end]
        above[begin:end] = np.where(part, math.log1p(u * (1.0 - share) / share), math.log1p(-u))
        below[begin:end] = np.where(part, math.log1p(-v), math.log1p(v * share / (1.0 - share)))
        begin = end
    bar = math.log(1.0 / alpha)
    high, low = above.cumsum() >= bar, below.cumsum() >= bar
    there = np.flatnonzero(high | low)
    there = there[there >= first - 1]
    if not there.size:
        return len(kept), False, False
    place = int(there[0])
    return place + 1, bool(high[place]), bool(low[place])


@lru_cache(maxsize=8192)
def limits(blocks: tuple[tuple[int, int], ...], share: float, alpha: float) -> tuple[float, float]:
    """Return the lower and the upper limit of the true share, each wrong with chance alpha.

    Parameters
    ----------
    blocks : tuple of (int, int)
        See :func:`by_block`.
    share : float
        Share that is asked for: what the bets are made for [0..1].
    alpha : float
        Chance that the true share ever lies beyond one of the limits, at most.
    """
    ends = block_ends(sum(surges for _, surges in blocks))
    risks = [at_risk(share, alpha, end) for end in ends]
    passes = [passed for passed, _ in blocks]
    misses = [surges - passed for passed, surges in blocks]
    low, high = 0.0, 1.0
    # the bet on the other side is the same bet on misses
    if any(passes):
        low = _reached(passes, misses, [u for u, _ in risks], alpha)
    if any(misses):
        high = 1.0 - _reached(misses, passes, [v for _, v in risks], alpha)
    return low, high


def _reached(
    won: Sequence[int], lost: Sequence[int], risks: Sequence[float], alpha: float
) -> float:
    """Return the share at which the stake is 1/alpha; below it the stake is larger."""

    def log_e_value(p: float) -> float:
        return sum(
            wins * math.log1p(risk * (1.0 - p) / p) + losses * math.log1p(-risk)
            for wins, losses, risk in zip(won, lost, risks, strict=True)
        )

    bar = math.log(1.0 / alpha)
    least = 1e-12
    if log_e_value(least) <= bar:
        return 0.0
    return float(optimize.brentq(lambda p: log_e_value(p) - bar, least, 1.0, xtol=1e-12))
