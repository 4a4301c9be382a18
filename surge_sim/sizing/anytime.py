"""Evidence that may be looked at after any surge, and stopped whenever it is enough.

While a stock's true share is at most the share to be shown, the chance that the evidence EVER
reaches 1/alpha is at most alpha (see :mod:`surge_sim.statistics.binomial`). So it may be looked
at as often as one likes, stopped by the clock, and taken up again with more surges.
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from numpy.typing import NDArray

from surge_sim.sizing.chain import FAILS, PASSES, UNDECIDED
from surge_sim.statistics.binomial import log_evidence_above, log_evidence_below

if TYPE_CHECKING:
    import numpy as np

    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.ledger import Ledger

#: first look; each later look has half as many surges again
FIRST_LOOK = 100


@lru_cache
def anytime_looks(most: int) -> tuple[int, ...]:
    """Return at which numbers of surges one looks.

    Parameters
    ----------
    most : int
        Most surges, at least 1: the last look.
    """
    looks = [min(FIRST_LOOK, most)]
    while looks[-1] < most:
        looks.append(min(looks[-1] + looks[-1] // 2, most))
    return tuple(looks)


def evidence_says(
    passes: int, look: int, share: float, alpha: float, low_alpha: float | None = None
) -> str:
    """Return what the evidence of so many surges says.

    Parameters
    ----------
    passes, look : int
        Surges on target, of how many.
    share : float
        To be shown [0..1].
    alpha : float
        Chance of a wrong ``fails``, at most.
    low_alpha : float, optional
        Chance of a wrong ``passes``, at most; without it, ``alpha``.

    Returns
    -------
    str
        ``passes``, ``fails`` or ``undecided``.
    """
    bar, above = -math.log(alpha), -math.log(low_alpha or alpha)
    if log_evidence_above(passes, look, share) >= above:
        return PASSES
    if log_evidence_below(passes, look, share) >= bar:
        return FAILS
    return UNDECIDED


def anytime_verdict(
    kept: NDArray[np.int64], share: float, alpha: float, most: int, low_alpha: float | None = None
) -> tuple[str, int, int]:
    """Return the verdict of the first look that decides, or what the last one saw.

    Parameters
    ----------
    kept : ndarray of int, shape (surges played,)
        1 for every surge on target; at least those of the first look.
    share, alpha, low_alpha
        See :func:`evidence_says`.
    most : int
        Most surges.

    Returns
    -------
    tuple
        Verdict, surges looked at, passes among them. Each of ``passes`` and ``fails`` is wrong
        with its chance at most, however often one looks.
    """
    seen = (UNDECIDED, 0, 0)
    for look in anytime_looks(most):
        if look > len(kept):
            break
        passes = int(kept[:look].sum())
        seen = (evidence_says(passes, look, share, alpha, low_alpha), look, passes)
        if seen[0] != UNDECIDED:
            break
    return seen


def play_on(
    ledger: Ledger,
    stocks: Sequence[Stock],
    share: float,
    alpha: float,
    most: int,
    low_alpha: float | None = None,
    ends_s: float | None = None,
    label: str = "certifying",
) -> None:
    """Play stocks together until each is decided, or the surges (or the time) run out.

    Parameters
    ----------
    ledger : Ledger
        Plays the surges.
    stocks : sequence of Stock
        Cheapest first: what is no cheaper than one that passes already is played no further.
    share, alpha, most, low_alpha
        See :func:`anytime_verdict`.
    ends_s : float, optional
        Reading of ``time.monotonic`` after which no further look begins [s].
    label : str
        What progress says.
    """
    going = list(stocks)
    for look in anytime_looks(most):
        ledger.extend(going, look, label)
        left = []
        for stock in going:
            verdict, _, _ = anytime_verdict(
                ledger.kept(stock)[:look], share, alpha, most, low_alpha
            )
            if verdict == PASSES:
                break
            if verdict == UNDECIDED:
                left.append(stock)
        going = left
        if not going or (ends_s is not None and time.monotonic() > ends_s):
            return
