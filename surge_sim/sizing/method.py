"""The whole method, for any player: choose, freeze, certify, bound, compare."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from surge_sim.errors import OutOfReach
from surge_sim.randomness import Sample
from surge_sim.sizing.anytime import evidence_says
from surge_sim.sizing.box import whole_axes
from surge_sim.sizing.budget import BudgetChoice, TooLittle, best_for_budget, budget_words
from surge_sim.sizing.certify import (
    Evidence,
    Step,
    anytime_evidence_for,
    evidence_for,
    step_evidence,
    until_decided,
    walk,
)
from surge_sim.sizing.chain import ANYTIME, PASSES, Chain, freeze
from surge_sim.sizing.choose import choose
from surge_sim.sizing.forecast import CERTIFY, CHOOSE, COMPARE, LEAST_COST, LESS
from surge_sim.sizing.items import VARIED, one_less, parts_of, stock_cost
from surge_sim.sizing.leaning import LeaningLedger
from surge_sim.sizing.least_cost import least_cost
from surge_sim.sizing.ledger import Ledger
from surge_sim.sizing.monotone import count_harm
from surge_sim.sizing.next_item import LABEL, NextItems, next_items, stocks_compared
from surge_sim.sizing.parts import find_box, with_plenty
from surge_sim.sizing.reach import explain, none_certified
from surge_sim.sizing.result import Beside, SizeResult
from surge_sim.sizing.trim import trim
from surge_sim.sizing.watch import OverSurges, SoFar, Watch, one_by_one
from surge_sim.statistics.binomial import clopper_pearson

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.gear import Supplies
    from surge_sim.scenario.goal import Prices, SearchLimits
    from surge_sim.sizing.player import Player

#: surges on which one item more is compared: this part of those that certify, but so many
_COMPARED, _LEAST_COMPARED = 0.08, 64


@dataclass(frozen=True)
class Plan:
    """What is asked of a sizing."""

    vary: tuple[str, ...] = ("kits", "batteries")
    confidence: float = 0.95
    choose: int = 200
    certify: int = 800
    seed: int = 1
    budget: float | None = None
    #: look on at one item less up to so many surges
    more: int | None = None
    #: certify with evidence that may be looked at after any surge
    anytime: bool = False
    #: stop looking after this time [s]; needs `anytime`
    within_s: float | None = None
    compare: bool = True


@dataclass(frozen=True)
class Case:
    """What is to be sized: everything but the plan."""

    name: str
    player: Player
    in_hand: Stock
    prices: Prices
    limits: SearchLimits
    #: where the search begins, by item
    guess: dict[str, int] = field(default_factory=dict)
    #: the stock that average rates ask for
    arithmetic: Stock | None = None
    #: the same scenario with every range at its central value
    central: Player | None = None
    notes: tuple[str, ...] = ()
    title: str = ""
    #: items that make a difference in the scenario
    could_vary: tuple[str, ...] = ("kits", "batteries", "bays")
    #: parts that can run out: those of which more may be bought, and those that stay as they are
    parts: tuple[str, ...] = ()
    parts_held: tuple[str, ...] = ()
    #: the scenario's shelf of parts
    shelf: Supplies | None = None
    #: the same scenario with parts ordered again as soon as one is used, where that is earlier
    early: Player | None = None


def size_case(
    case: Case,
    plan: Plan,
    over: OverSurges = one_by_one,
    watch: Watch | None = None,
) -> SizeResult:
    """Find the cheapest stock that can be shown to keep the target.

    Parameters
    ----------
    case : Case
        What is sized.
    plan : Plan
        How.
    over : OverSurges
        How surges are shared out; the result does not depend on it.
    watch : Watch, optional
        Where progress goes.

    Returns
    -------
    SizeResult

    Raises
    ------
    OutOfReach
        When no stock within the limits keeps the target, or none could be certified.
    """
    watch = watch or Watch()
    try:
        return _size_case(case, plan, over, watch)
    except OutOfReach as error:
        if plan.budget is None:
            raise
        # the money was asked about too: say what it does, though the target is out of reach
        full = Ledger(case.player, over, watch, full=True)
        _, found = _budget(case, plan, over, watch, full, [case.in_hand])
        assert found is not None
        words = budget_words(found, case.player.target.share_of_surges, case.prices.currency)
        raise OutOfReach(f"{error}\nBudget: {words}") from error


def _size_case(case: Case, plan: Plan, over: OverSurges, watch: Watch) -> SizeResult:
    forecast = watch.forecast
    forecast.begin(plan, len(case.parts))
    share, alpha = case.player.target.share_of_surges, 1.0 - plan.confidence

    def unreachable(ample: Stock, passes: int, surges: int) -> Exception:
        return explain(case.player, ample, passes, surges, plan.vary, case.limits, over)

    choice = choose(
        case.player,
        with_plenty(case.in_hand, case.parts),
        plan.vary,
        case.prices,
        case.limits,
        plan.choose,
        over,
        case.guess,
        watch,
        unreachable,
    )
    box = find_box(case.player, choice, case.parts, case.parts_held, over, watch, case.early)
    forecast.done(CHOOSE, choice.plays + box.plays)
    chain = freeze(choice, plan.certify, share, alpha, plan.anytime, plan.more, box)
    for link in [one for one in chain.links if one.share_chosen >= share][-1:]:
        seen = f"an estimate from {choice.surges} simulated surges"
        watch.best(SoFar(link.stock, link.cost, seen))
    fixed = "1 candidate" if len(chain.links) == 1 else f"{len(chain.links)} candidates"
    watch.say(f"{fixed} fixed before the test (checksum {chain.digest[:12]})")
    fresh = Ledger(case.player, over, watch)
    ends_s = None if plan.within_s is None else time.monotonic() + plan.within_s
    steps = walk(fresh, chain, ends_s)
    passed = [step for step in steps if step.verdict == PASSES]
    if not passed:
        raise none_certified(chain, steps, plan.vary, plan.confidence, choice.ample)
    certified = passed[-1].link.stock
    seen = f"on target in {passed[-1].passes:,} of {passed[-1].surges:,} new simulated surges"
    watch.best(SoFar(certified, passed[-1].link.cost, seen, confirmed=True))
    forecast.done(CERTIFY, fresh.plays)
    played = fresh.plays
    if not plan.anytime:
        fresh.extend([certified], chain.surges)
    if chain.look_on is None:
        # one drawing of demand serves them all
        less = [stock for _, stock in one_less(certified, case.prices)]
        until_decided(fresh, less, chain, chain.kept / max(len(chain.trims), 1))
    best, level = trim(fresh, chain, certified, case.prices, ends_s)
    evidence = _evidence(fresh, case, chain, steps, best, level, ends_s)
    forecast.done(LESS, fresh.plays - played)
    leaning = LeaningLedger(fresh, chain.surges)
    bounds = least_cost(leaning, choice, best, share, alpha)
    forecast.done(LEAST_COST, bounds.plays)
    full = Ledger(case.player, over, watch, full=True)
    in_hand, at_best = _compare(full, case, plan, best) if plan.compare else (None, None)
    compared = _compared(plan)
    arithmetic = central = None
    if case.arithmetic is not None:
        words = "what average rates ask for"
        arithmetic = _beside(words, full, case.arithmetic, compared, plan.confidence)
    middle = None
    if case.central is not None:
        middle = Ledger(case.central, over, watch)
        words = "with every range at its central value"
        central = _beside(words, middle, best, plan.certify, plan.confidence)
    bases = [case.in_hand, parts_of(case.in_hand, best)]
    rough, budget = _budget(case, plan, over, watch, full, bases)
    full.extend([case.in_hand, best], compared, "use of parts")
    forecast.done(COMPARE, full.plays)
    ledgers = [fresh, full, rough, middle]
    plays = choice.plays + box.plays + bounds.plays
    plays += sum(ledger.plays for ledger in ledgers if ledger is not None)
    return SizeResult(
        name=case.name,
        seed=plan.seed,
        target=case.player.target,
        prices=case.prices,
        vary=plan.vary,
        confidence=plan.confidence,
        in_hand=case.in_hand,
        recommended=best,
        cost=stock_cost(best, case.prices),
        choice=choice,
        chain=chain,
        steps=tuple(steps),
        evidence=tuple(evidence),
        least_cost=bounds,
        harm=count_harm(fresh, leaning),
        next_in_hand=in_hand,
        next_recommended=at_best,
        arithmetic=arithmetic,
        central=central,
        budget=budget,
        plays=plays,
        grid_plays=choice.space.stocks * (plan.choose + plan.certify),
        seconds=forecast.laps,
        notes=(*_second_thoughts(fresh, evidence[0], share), *case.notes),
        title=case.title,
        could_vary=case.could_vary,
        box=box,
        short_in_hand=full.stock_outs(case.in_hand)[:compared],
        short=full.stock_outs(best)[:compared],
        shelf=case.shelf,
    )


def _second_thoughts(fresh: Ledger, best: Evidence, share: float) -> list[str]:
    """Say what all surges showed of a stock that had passed at an early look, if less."""
    played = fresh.played(best.stock)
    if played <= best.surges:
        return []
    passes = fresh.passes(best.stock)
    if best.test == ANYTIME and evidence_says(passes, played, share, best.low_alpha) == PASSES:
        return []
    return [
        f"The recommended stock was shown to pass on {best.surges} surges; of all {played} played "
        f"it kept the target in {passes}, which alone would not show it."
    ]


def _evidence(
    fresh: Ledger,
    case: Case,
    chain: Chain,
    steps: Sequence[Step],
    best: Stock,
    level: float,
    ends_s: float | None,
) -> list[Evidence]:
    """Judge the recommended stock, every single item less, and the candidates on the way."""
    last = next(step for step in reversed(steps) if step.verdict == PASSES)
    if chain.look_on is not None and best != last.link.stock:
        # at the level at which it was shown to pass; its neighbours have a part of that each
        own = level * len(chain.trims)
        evidence = [anytime_evidence_for(fresh, best, "recommended", chain, own, ends_s)]
    elif last.link.test == ANYTIME:
        evidence = [step_evidence(last, "recommended", chain)]
    else:
        # a stock far above the share passed early; all surges say more about it
        evidence = [evidence_for(fresh, best, "recommended", chain)]
        if evidence[0].verdict != PASSES:
            evidence = [step_evidence(last, "recommended", chain)]
    for role, stock in one_less(best, case.prices):
        evidence.append(
            evidence_for(fresh, stock, role, chain, level)
            if chain.look_on is None
            else anytime_evidence_for(fresh, stock, role, chain, level, ends_s)
        )
    judged = {entry.stock for entry in evidence}
    for step in steps:
        if step.link.stock in judged:
            continue
        role = "next candidate" if step.verdict != PASSES else "candidate"
        evidence.append(step_evidence(step, role, chain))
    return evidence


def _compare(full: Ledger, case: Case, plan: Plan, best: Stock) -> tuple[NextItems, NextItems]:
    """Return what one item more does to the stock in hand and to the recommended one."""
    names = [name for name in VARIED if name in {"kits", "batteries", "bays", *plan.vary}]
    surges, prices = _compared(plan), case.prices
    # the parts that are recommended, one kind at a time and all of them
    parts = parts_of(case.in_hand, best)
    together = [
        *stocks_compared(case.in_hand, names, prices, pairs=True, parts=parts),
        *stocks_compared(best, names, prices, less=False),
        *([case.arithmetic] if case.arithmetic else []),
    ]
    # one drawing of demand serves them all
    full.extend(together, surges, LABEL)
    at_hand = next_items(
        full, case.in_hand, names, prices, surges, plan.confidence, pairs=True, parts=parts
    )
    # what one item less does to it stands in the evidence, on more surges
    at_best = next_items(full, best, names, prices, surges, plan.confidence, less=False)
    return at_hand, at_best


def _compared(plan: Plan) -> int:
    return min(max(int(_COMPARED * plan.certify), _LEAST_COMPARED), plan.certify)


def _beside(what: str, ledger: Ledger, stock: Stock, surges: int, confidence: float) -> Beside:
    ledger.extend([stock], surges, what)
    passes = ledger.passes(stock, surges)
    return Beside(what, stock, surges, passes, *clopper_pearson(passes, surges, confidence))


def _budget(
    case: Case, plan: Plan, over: OverSurges, watch: Watch, full: Ledger, bases: Sequence[Stock]
) -> tuple[Ledger | None, BudgetChoice | TooLittle | None]:
    if plan.budget is None:
        return None, None
    rough = Ledger(case.player, over, watch, sample=Sample.CHOOSE, full=True)
    axes = whole_axes(plan.vary, case.prices, case.limits)
    found = best_for_budget(
        rough, full, bases, axes, case.prices, plan.budget,
        plan.choose, plan.certify, plan.confidence,
    )  # fmt: skip
    return rough, found
