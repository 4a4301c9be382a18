"""The walk along the frozen chain, on fresh surges, and the verdict on single stocks."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from surge_sim.sizing.chain import ANYTIME, FIXED, Chain, Link
from surge_sim.statistics.binomial import (
    anytime_limits,
    least_passes,
    log_evidence_above,
    log_evidence_below,
    lower_limit,
    upper_limit,
)

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.ledger import Ledger

PASSES, FAILS, UNDECIDED = "passes", "fails", "undecided"

#: fixed-number candidates played together: one drawing of demand serves them all
_TOGETHER = 5
#: first look of the anytime test; each later look has half as many surges again
_FIRST_LOOK = 60


@dataclass(frozen=True)
class Step:
    """One candidate after its test."""

    link: Link
    surges: int
    passes: int
    verdict: str


def walk(ledger: Ledger, chain: Chain, within_s: float | None = None) -> list[Step]:
    """Test the candidates in order and stop at the first that is not shown to pass.

    Parameters
    ----------
    ledger : Ledger
        Plays sample B.
    chain : Chain
        The frozen candidates.
    within_s : float, optional
        Stop looking after this time [s]; anytime tests only, where stopping is honest.

    Returns
    -------
    list of Step
        All tested candidates; those before the last one passed.
    """
    steps: list[Step] = []
    ends_s = None if within_s is None else time.monotonic() + within_s
    links = chain.links
    needed = least_passes(chain.surges, chain.share, chain.alpha)
    for place, link in enumerate(links):
        if link.test == ANYTIME:
            ahead = [other.stock for other in links[place:] if other.test == ANYTIME]
            ledger.extend(ahead[:_TOGETHER], min(_FIRST_LOOK, chain.surges))
            step = _look_again(ledger, link, chain, ends_s)
        else:
            ahead = [
                other.stock for other in links[place : place + _TOGETHER] if other.test == FIXED
            ]
            if ledger.played(link.stock) < chain.surges:
                ledger.extend(ahead, chain.surges)
            passes = ledger.passes(link.stock, chain.surges)
            verdict = PASSES if passes >= needed else UNDECIDED
            step = Step(link, chain.surges, passes, verdict)
        steps.append(step)
        if step.verdict != PASSES:
            break
    return steps


def _look_again(ledger: Ledger, link: Link, chain: Chain, ends_s: float | None) -> Step:
    verdict, surges, passes = anytime_verdict(
        ledger, link.stock, chain.share, chain.alpha, chain.surges, ends_s
    )
    return Step(link, surges, passes, verdict)


def anytime_verdict(
    ledger: Ledger,
    stock: Stock,
    share: float,
    alpha: float,
    most: int,
    ends_s: float | None = None,
    family: int = 1,
) -> tuple[str, int, int]:
    """Play a stock until the evidence decides, or the surges (or the time) run out.

    Returns
    -------
    tuple
        Verdict, surges looked at, passes among them. Each of ``passes`` and ``fails`` is wrong
        with chance alpha at most, however often one looks.
    """
    bar = -math.log(alpha)
    look = min(_FIRST_LOOK, most)
    while True:
        ledger.extend([stock], look)
        passes = ledger.passes(stock, look)
        if log_evidence_above(passes, look, share) >= bar + math.log(family):
            return PASSES, look, passes
        if log_evidence_below(passes, look, share) >= bar:
            return FAILS, look, passes
        if look >= most or (ends_s is not None and time.monotonic() > ends_s):
            return UNDECIDED, look, passes
        look = min(look + look // 2, most)


def fixed_verdict(
    passes: int, surges: int, share: float, alpha: float, family: int = 1
) -> str:
    """Return what one-sided exact limits say about a stock played on a fixed number of surges."""
    if lower_limit(passes, surges, alpha / family) >= share:
        return PASSES
    if upper_limit(passes, surges, alpha) < share:
        return FAILS
    return UNDECIDED


@dataclass(frozen=True)
class Evidence:
    """What sample B says about one stock."""

    stock: Stock
    role: str
    surges: int
    passes: int
    verdict: str
    #: share of surges on target: at least ``low``, at most ``high``, each so surely
    low: float
    high: float
    test: str


def evidence_for(
    ledger: Ledger,
    stock: Stock,
    role: str,
    chain: Chain,
    most: int | None = None,
    family: int = 1,
) -> Evidence:
    """Judge one stock by exact limits at the fixed number, or look on up to ``most`` surges.

    ``family`` stocks share the chance of a wrong ``passes`` between them: somebody may act on
    any of them. Each ``fails`` stands alone.
    """
    if most is not None and most > chain.surges:
        verdict, surges, passes = anytime_verdict(
            ledger, stock, chain.share, chain.alpha, most, family=family
        )
        test = ANYTIME
        low, _ = anytime_limits(passes, surges, chain.alpha / family)
        _, high = anytime_limits(passes, surges, chain.alpha)
    else:
        ledger.extend([stock], chain.surges, "one item less")
        surges, test = chain.surges, FIXED
        passes = ledger.passes(stock, surges)
        verdict = fixed_verdict(passes, surges, chain.share, chain.alpha, family)
        low = lower_limit(passes, surges, chain.alpha / family)
        high = upper_limit(passes, surges, chain.alpha)
    return Evidence(stock, role, surges, passes, verdict, low, high, test)
