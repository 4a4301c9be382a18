"""A recorded period in which nothing is random: one play says whether a stock keeps the target.

The method is the one for drawn surges. Its tests need several surges, so the one play of each
stock is handed to them several times; what they count is then told as the one play that it is.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from surge_sim.sizing.budget import BudgetChoice
from surge_sim.sizing.certify import Evidence, Step
from surge_sim.sizing.method import Plan
from surge_sim.sizing.monotone import Harm
from surge_sim.sizing.next_item import NextItems

if TYPE_CHECKING:
    from surge_sim.scenario.goal import Target
    from surge_sim.sizing.result import SizeResult

#: all or none of so many equal plays keep the target, which decides every test at 95 %
_REPEATED, _SHARE, _CONFIDENCE = 20, 0.5, 0.95


def decided_by_one(plan: Plan, target: Target) -> tuple[Plan, Target]:
    """Return the plan and the target with which equal plays decide every test."""
    plan = replace(
        plan, choose=_REPEATED, certify=_REPEATED, confidence=_CONFIDENCE, more=None,
        anytime=False, within_s=None,
    )  # fmt: skip
    return plan, target.model_copy(update={"share_of_surges": _SHARE})


def as_one_play(result: SizeResult, target: Target, plays: int) -> SizeResult:
    """Return a sizing by equal plays with one play of each stock where it counts them.

    Parameters
    ----------
    result : SizeResult
        By a plan and a target from `decided_by_one`.
    target : Target
        The one that was asked for.
    plays : int
        How often any stock was really played.
    """
    budget, arithmetic, box = result.budget, result.arithmetic, result.box
    return replace(
        result,
        target=target,
        choice=replace(result.choice, least=result.choice.least[:1]),
        chain=replace(result.chain, surges=1),
        steps=tuple(map(_step, result.steps)),
        evidence=tuple(map(_evidence, result.evidence)),
        harm=_harm(result.harm),
        next_in_hand=_next(result.next_in_hand),
        next_recommended=_next(result.next_recommended),
        arithmetic=arithmetic and replace(arithmetic, surges=1, **_kept(arithmetic.passes)),
        budget=replace(budget, surges=1, **_kept(budget.passes))
        if isinstance(budget, BudgetChoice)
        else budget,
        box=replace(
            box,
            used=box.used[:1],
            asked=box.asked[:1],
            asked_early=None if box.asked_early is None else box.asked_early[:1],
        ),
        short_in_hand=result.short_in_hand[:1],
        short=result.short[:1],
        plays=plays,
        grid_plays=result.choice.space.stocks,
    )


def _kept(passes: int) -> dict[str, Any]:
    """Count of one play on target, which is the share of such plays and both its limits."""
    one = min(passes, 1)
    return {"passes": one, "low": one, "high": one}


def _step(step: Step) -> Step:
    return replace(step, surges=1, passes=min(step.passes, 1))


def _evidence(entry: Evidence) -> Evidence:
    return replace(entry, surges=1, low_alpha=0.0, **_kept(entry.passes))


def _harm(harm: Harm) -> Harm:
    counts = {name: harm.pairs[name].clip(upper=1) for name in ("surges", "hurt", "helped")}
    one, hurt = min(harm.surges, 1), min(harm.hurt, 1)
    return Harm(one, hurt, float(hurt), harm.pairs.assign(**counts))


def _next(items: NextItems | None) -> NextItems | None:
    if items is None:
        return None
    table = items.table
    gained, lost = (table[name].clip(upper=1) for name in ("surges_gained", "surges_lost"))
    gain, entries = (gained - lost).astype(float), table["entries_gain"]
    told = table.assign(
        surges_gained=gained, surges_lost=lost, surges_gain=gain, surges_low=gain,
        surges_high=gain, entries_low=entries, entries_high=entries,
        tells=(gain != 0) | (entries != 0),
    )  # fmt: skip
    return replace(items, surges=1, passes=min(items.passes, 1), table=told)
