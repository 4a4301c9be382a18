"""Size a scenario: its own demand, engine, prices and limits handed to the method."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from difflib import get_close_matches
from functools import partial
from typing import TYPE_CHECKING, Any

from surge_sim.demand.replay import replay_of
from surge_sim.equipment.stock import Stock, stock_in_hand
from surge_sim.equipment.warned import all_warnings
from surge_sim.errors import Fault, ScenarioError
from surge_sim.randomness import Sample
from surge_sim.scenario.advice import invented_prices, kit_cheaper_than_battery
from surge_sim.sizing.chain import candidate_level
from surge_sim.sizing.changes import PARTS_ORDERED_AT_FIRST_USE, changed
from surge_sim.sizing.forecast import spoken
from surge_sim.sizing.items import ITEMS, PARTS, PRICE_FIELDS, VARIED
from surge_sim.sizing.looks import least_surges_to_pass
from surge_sim.sizing.method import Case, Plan, size_case
from surge_sim.sizing.player import ScenarioPlayer
from surge_sim.sizing.recorded import as_one_play, decided_by_one
from surge_sim.sizing.result import SizeResult
from surge_sim.sizing.watch import SoFar, Watch
from surge_sim.sizing.why import waiting_with
from surge_sim.statistics.binomial import log_evidence_above

if TYPE_CHECKING:
    from surge_sim.scenario.goal import Prices, Target
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.schema import Settings

#: surges timed for the first forecast
_TIMED = 4


def size(
    scenario: Scenario,
    *,
    vary: Sequence[str] = ("kits", "batteries"),
    hold: Sequence[str] = (),
    target: Target | None = None,
    prices: Prices | None = None,
    confidence: float = 0.95,
    choose: int = 200,
    surges: int = 800,
    seed: int = 1,
    budget: float | None = None,
    more: int | None = None,
    anytime: bool = False,
    within_s: float | None = None,
    processes: int | None = None,
    engine: str = "compiled",
    watch: Watch | None = None,
    cluster: str | None = None,
) -> SizeResult:
    """Find the cheapest stock that can be shown to keep the scenario's target.

    Parameters
    ----------
    scenario : Scenario
        From ``load_scenario``.
    vary : sequence of str
        Items that may change: kits, batteries, bays, crew. The rest stays as it is in hand.
    hold : sequence of str
        Spare parts that stay as they are in hand, of hoods, tubes, prefilters, main_filters; the
        others that the scenario limits are searched.
    target, prices : Target, Prices, optional
        Instead of the scenario's.
    confidence : float
        Of every claim [0..1].
    choose, surges : int
        Surges that choose candidates, and fresh surges that certify.
    seed : int
        Number that all chance comes from.
    budget : float, optional
        Also find the best service for so much money.
    more : int, optional
        Look on at one item less, up to so many surges, until its verdict is decided; what is
        shown to pass becomes the recommended stock.
    anytime : bool
        Certify with evidence that may be looked at after any surge: the search stops early
        where it can, and more surges may be added by running again with a larger number. This
        holds for the recommended stock and for each verdict on one item less; the lower end of
        the least cost holds for one run.
    within_s : float, optional
        With ``anytime``: stop looking after this time [s].
    processes : int, optional
        Processes to share the work; the result does not depend on it.
    engine : {"compiled", "reference"}
        Which engine plays.
    watch : Watch, optional
        Where progress goes.
    cluster : str, optional
        Address of a Dask scheduler whose workers share the work instead.

    Returns
    -------
    SizeResult

    Raises
    ------
    ScenarioError
        When something is asked that cannot be done.
    OutOfReach
        When no stock within the limits keeps the target.
    """
    from surge_sim.engine.surges import workers

    watch = watch or Watch()
    settings = scenario.settings
    target = target or settings.target
    vary = _in_order(vary)
    plan = Plan(vary, confidence, choose, surges, seed, budget, more, anytime, within_s)
    limited = limited_parts(settings)
    bought = tuple(name for name in limited if name not in hold)
    replay, asked = replay_of(scenario), target
    alike = replay is not None and replay.alike
    if replay is not None:
        watch = replace(watch, best=partial(_best_of_a_period, watch))
    if alike:
        plan, target = decided_by_one(plan, target)
    check_plan(scenario.path.name, plan, target, settings, hold)
    player = ScenarioPlayer(scenario, target, seed, engine, alike=alike)
    central = None
    if scenario.has_ranges and not alike:
        central = ScenarioPlayer(replace(scenario, ranges=()), target, seed, engine)
    early = None
    if bought and changed(settings, PARTS_ORDERED_AT_FIRST_USE) != settings:
        early = replace(player, change=PARTS_ORDERED_AT_FIRST_USE)
    guess, arithmetic = _average_rates(scenario, stock_in_hand(settings))
    case = Case(
        name=scenario.name,
        player=player,
        in_hand=stock_in_hand(settings),
        prices=prices or settings.prices,
        limits=settings.limits,
        guess=guess,
        arithmetic=arithmetic,
        central=central,
        notes=(*_price_notes(settings, [*vary, *bought], prices), *all_warnings(scenario)),
        title=settings.title,
        could_vary=tuple(name for name in VARIED if name not in without_effect(settings)),
        parts=bought,
        parts_held=tuple(name for name in limited if name in hold),
        shelf=settings.supplies,
        early=early,
    )

    # what is played once is remembered here, so there is nothing to share out
    with workers(1, None) if alike else workers(processes, cluster) as place:

        def over(task: Callable[[int], Any], numbers: Sequence[int]) -> Iterable[Any]:
            return place.over(task, numbers, engine)

        place.start()
        if not alike:
            _time_plays(player, case, place.count, watch)
        start = time.perf_counter()
        result = size_case(case, plan, over, watch)
    if alike:
        once = len(player.only.scores) + (result.box.asked_early is not None)
        result = as_one_play(result, asked, once)
    waiting = waiting_with(scenario, case.in_hand, seed, 1 if alike else choose, player.engine)
    result = replace(result, confidence=confidence, replay=replay, waiting_in_hand=waiting)
    took = spoken(time.perf_counter() - start)
    if alike:
        watch.say(
            f"Played the recorded period {result.plays:,} times, once with each stock, in {took}"
        )
        return result
    watch.say(
        f"Played {result.plays:,} {'surges' if replay is None else 'times'}, of one stock or "
        f"another, in {took}: {100 * result.plays / result.grid_plays:.1f} % "
        f"of the {result.grid_plays:,} that every stock within the limits would take"
    )
    return result


def _best_of_a_period(watch: Watch, so_far: SoFar) -> None:
    """Tell what was found so far without counts, which would be read as surges."""
    watch.best(replace(so_far, seen="found by playing the one recorded period"))


def without_effect(settings: Settings) -> dict[str, str]:
    """Return the items of which more would change nothing in the scenario, each with the reason."""
    found = {}
    if settings.cleaning.by != "crew":
        found["crew"] = f"cleaning is by {settings.cleaning.by}, so no crew wipes kits down"
    return found


def limited_parts(settings: Settings) -> tuple[str, ...]:
    """Return the parts that can run out: those that the scenario's `supplies` name."""
    return tuple(name for name in PARTS if getattr(settings.supplies, name) is not None)


def _price_notes(settings: Settings, vary: Sequence[str], prices: Prices | None) -> tuple[str, ...]:
    """Say which prices nobody wrote, or which of those handed over look swapped."""
    if prices is None:
        said = invented_prices(settings, [PRICE_FIELDS[name] for name in vary])
        return (said,) if said else ()
    doubt = kit_cheaper_than_battery(prices)
    # what the file has is warned about at its line
    told = (prices.kit, prices.battery) == (settings.prices.kit, settings.prices.battery)
    return (f"The price of a kit {doubt}",) if doubt and not told else ()


def check_plan(
    file: str,
    plan: Plan,
    target: Target,
    settings: Settings | None = None,
    hold: Sequence[str] = (),
) -> None:
    """Refuse what cannot be done, with what would be right."""
    faults = [
        Fault("--vary", 0, f"there is no {name!r}.", _nearest(name, VARIED))
        for name in dict.fromkeys(plan.vary)
        if name not in ITEMS
    ]
    faults += [
        Fault("--hold", 0, f"there is no part {name!r}.", _nearest(name, PARTS))
        for name in dict.fromkeys(hold)
        if name not in PARTS
    ]
    for name in PARTS:
        if name in plan.vary:
            found = f"{name} are spare parts, searched wherever `supplies` limits them."
            faults.append(Fault("--vary", 0, found, f"Leave {name} out, or use --hold {name}."))
        elif settings is not None and name in hold and name not in limited_parts(settings):
            found = f"`supplies` of {file} names no {name}, so they never run out."
            faults.append(Fault("--hold", 0, found, f"Leave {name} out."))
    if not plan.vary:
        faults.append(Fault("--vary", 0, "names nothing.", f"Use any of {', '.join(VARIED)}."))
    # a slip of the pen for another item would leave that one as it is in hand, unnoticed
    twice = [name for name in dict.fromkeys(plan.vary) if plan.vary.count(name) > 1]
    if twice:
        right = f"Name each item once, any of {', '.join(VARIED)}."
        faults.append(Fault("--vary", 0, f"names {', '.join(twice)} more than once.", right))
    useless = without_effect(settings) if settings is not None else {}
    for name in dict.fromkeys(plan.vary):
        if name in useless:
            found = f"more {ITEMS[name].several} change nothing in {file}: {useless[name]}."
            faults.append(Fault("--vary", 0, found, f"Leave {name} out."))
    if not 0.5 <= plan.confidence < 1.0:
        found = f"is {100 * plan.confidence:g} %."
        right = "Use at least 50 % and less than 100 %: 95 %."
        faults.append(Fault("--confidence", 0, found, right))
    elif not 0.0 < target.share_of_surges < 1.0:
        found = f"target.share_of_surges is {100 * target.share_of_surges:g} %."
        right = "No number of surges can show that; use more than 0 % and less than 100 %."
        faults.append(Fault(file, 0, found, right))
    else:
        least = _least_certifying(plan, target.share_of_surges)
        if plan.certify < least:
            share = 100 * target.share_of_surges
            found = f"is {plan.certify}, too few to show {share:g} %."
            right = f"Use at least {least}, better 300 or more."
            faults.append(Fault("--surges", 0, found, right))
    if plan.choose < 20:
        faults.append(Fault("--choose", 0, f"is {plan.choose}.", "Use at least 20."))
    if plan.budget is not None and not 0 < plan.budget < math.inf:
        faults.append(Fault("--budget", 0, f"is {plan.budget:g}.", "Use more than 0."))
    if plan.more is not None and plan.more <= plan.certify:
        found = f"is {plan.more}, and {plan.certify} surges certify anyway."
        right = f"Use more than {plan.certify}, or leave it out."
        faults.append(Fault("--more", 0, found, right))
    if plan.within_s is not None and not plan.anytime:
        right = "A stop by the clock is honest only with --anytime; add it."
        faults.append(Fault("--within", 0, "stands alone.", right))
    if faults:
        raise ScenarioError(faults)


def _nearest(name: str, known: Sequence[str]) -> str:
    near = get_close_matches(name, known, n=1, cutoff=0.7)
    return f"Did you mean {near[0]}?" if near else f"Use any of {', '.join(known)}."


def _least_certifying(plan: Plan, share: float) -> int:
    """Return with how many surges, all on target, a candidate could be shown to pass."""
    level = candidate_level(1.0 - plan.confidence)
    surges = least_surges_to_pass(share, level)
    while plan.anytime and log_evidence_above(surges, surges, share) < -math.log(level):
        surges += 1
    return surges


def _in_order(vary: Sequence[str]) -> tuple[str, ...]:
    """Return the names in the fixed order of items, unknown ones last."""
    order = list(ITEMS)
    return tuple(sorted(vary, key=lambda name: order.index(name) if name in ITEMS else len(order)))


def _average_rates(scenario: Scenario, in_hand: Stock) -> tuple[dict[str, int], Stock]:
    """Return where the search begins, and the stock that average-rate arithmetic asks for."""
    from surge_sim.equipment.average_load import expected_load

    load = expected_load(scenario.settings)
    kits = max(math.ceil(load.kits_busy_at_peak), 1)
    batteries = max(math.ceil(load.batteries_busy_at_peak), 1)
    bays = max(math.ceil(load.bays_busy_at_peak), 1)
    arithmetic = replace(in_hand, kits=kits, batteries=batteries, bays=bays)
    guess = {
        "kits": kits + 2 * math.isqrt(kits),
        "batteries": batteries + 2 * math.isqrt(batteries),
        "bays": bays + 2 * math.isqrt(bays),
        "crew": 0,
    }
    return guess, arithmetic


def _time_plays(player: ScenarioPlayer, case: Case, at_once: int, watch: Watch) -> None:
    """Time a few surges, for the first forecast; later ones follow what the search itself takes."""
    from surge_sim.engine.surges import compile_engine

    if player.engine == "compiled":
        compile_engine()
    player.surge(Sample.CHOOSE, 0).score(case.in_hand)
    drawing, playing = [], []
    for number in range(_TIMED):
        start = time.process_time()
        surge = player.surge(Sample.CHOOSE, number)
        drawn = time.process_time()
        surge.score(case.in_hand)
        drawing.append(drawn - start)
        playing.append(time.process_time() - drawn)
    forecast = watch.forecast
    # the least: processes that start just now are in the way of the others
    forecast.draw_s, forecast.play_s, forecast.at_once = min(drawing), min(playing), at_once
    forecast.say = watch.say
