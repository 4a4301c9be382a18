"""Size a scenario: what to add to the stock in hand, in which order, for which money."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from surge_sim.demand.replay import replay_of
from surge_sim.equipment.average_load import all_warnings
from surge_sim.equipment.stock import ITEMS, Stock, stock_in_hand, stock_words, within
from surge_sim.errors import OutOfReach
from surge_sim.randomness import Sample
from surge_sim.scenario.advice import (
    hours_without_cleaners,
    invented_prices,
    kit_cheaper_than_battery,
)
from surge_sim.sizing.choosing import SampleA
from surge_sim.sizing.inputs import (
    CHOOSE,
    SURGES,
    Asked,
    check,
    read_names,
    read_share,
    read_stock,
    searched,
    with_asked,
)
from surge_sim.sizing.least import least_cost
from surge_sim.sizing.ledger import Ledger, looks
from surge_sim.sizing.player import Player, ScenarioPlayer, Seen, SoFar, Watch, Work
from surge_sim.sizing.reasons import none_confirmed, unreachable, waiting_table
from surge_sim.sizing.result import MOST_STAGES, SizeResult, stock_columns, thinned
from surge_sim.sizing.search import (
    SearchRegion,
    aim_of,
    best_for,
    buying,
    find_cheap,
    find_rich,
    from_minimum_passing,
    make_chain,
    rising,
    search_region,
)
from surge_sim.statistics.intervals import upper_limit
from surge_sim.statistics.warnings import no_entries, single_charger_seen
from surge_sim.units import DAY_S, HOUR_S

if TYPE_CHECKING:
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.schema import Prices, SearchLimits, Settings, Target

#: chance of calling a target unreachable that some stock within the limits can meet
_UNREACHABLE = 0.001
#: surges of a first look
_FIRST = 20


@dataclass(frozen=True)
class Sizing:
    """What is to be sized, for any player."""

    player: Player
    region: SearchRegion
    limits: SearchLimits
    confidence: float = 0.95
    choose: int = 200
    surges: int = 800
    spend: float | None = None
    #: where the search begins, by item
    guess: dict[str, int] = field(default_factory=dict)
    #: one play of a recorded period says all
    alike: bool = False


@dataclass(frozen=True)
class Found:
    """What a sizing came to."""

    #: candidates in the order of their tests
    chain: tuple[Stock, ...]
    digest: str
    sample: SampleA
    ledger: Ledger
    recommended: Stock
    #: the order of buying it, and candidates beyond it
    way: tuple[Stock, ...]
    spent: Stock | None


def size(
    scenario: Scenario,
    *,
    vary: str | Sequence[str] | None = None,
    stock: Stock | Sequence[int] | Mapping[str, int] | None = None,
    new: bool = False,
    spend: float | None = None,
    target: Target | str | Mapping[str, Any] | None = None,
    prices: Prices | str | Mapping[str, Any] | None = None,
    confidence: float | str = 0.95,
    choose: int = CHOOSE,
    surges: int = SURGES,
    seed: int = 1,
    processes: int | None = None,
    engine: str = "compiled",
    watch: Watch | None = None,
    cluster: str | None = None,
) -> SizeResult:
    """Find what to add to a stock so that it meets the target, and in which order.

    Parameters
    ----------
    scenario : Scenario
        From ``load_scenario``.
    vary : str or sequence of str, optional
        Items that may be bought, ``"kits,bays"``; the rest stays as it is in hand. By default
        kits, batteries, bays, the parts named in ``supplies`` (without a price they count as
        free), and cleaners of a crew that have a price.
    stock : Stock, sequence or mapping, optional
        In hand, instead of the scenario's: ``(8, 13, 8)`` kits, batteries, bays.
    new : bool
        Begin with none of what is searched, instead of the stock in hand; spare parts on the
        scenario's shelf stay.
    spend : float, optional
        Also find the best use of so much money.
    target, prices : Target, Prices, str or mapping, optional
        Instead of the scenario's: ``"wait=10min"``, ``{"kit": 2000}``.
    confidence : float or str
        Of every claim [0..1], or ``"95%"``.
    choose : int
        Simulated surges that choose the candidates.
    surges : int
        Most new surges that test them. Clear cases stop early; a larger number goes on from
        where a smaller one stood, with the same claim.
    seed : int
        Random seed.
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
        When no stock within the limits meets the target, or none could be confirmed.
    """
    from surge_sim.engine.surges import compile_engine, workers

    scenario, watch = with_asked(scenario, target, prices), watch or Watch()
    settings, priced = scenario.settings, scenario.settings.prices
    names = searched(settings, priced) if vary is None else _in_order(read_names(vary))
    asked = Asked(
        names,
        settings.target,
        priced,
        stock_in_hand(settings) if stock is None else read_stock(stock),
        read_share("--confidence", confidence),
        choose,
        surges,
        seed,
        new,
        spend,
    )
    replay = replay_of(scenario)
    alike = replay is not None and replay.alike
    check(asked, settings, scenario.path.name, alike)
    player = ScenarioPlayer(scenario, asked.target, seed, engine, alike=alike)
    owned = asked.stock
    for name in names if new else ():
        owned = ITEMS[name].put(owned, 0)
    region = search_region(owned, names, priced, settings.limits)
    plays = (1, 1) if alike else (choose, surges)
    guess = _average_rates(scenario)
    sizing = Sizing(player, region, settings.limits, asked.confidence, *plays, spend, guess, alike)
    with workers(1 if alike else processes, cluster) as place:

        def over(task: Callable[[int], Any], numbers: Sequence[int]) -> Iterable[Any]:
            return place.over(task, numbers, engine)

        if engine == "compiled":
            compile_engine()
        work = Work(over, watch)
        found = find_stock(sizing, work)
        bounds = least_cost(found.sample, found.ledger, region, found.recommended)
        central = _central(player, found, work) if scenario.has_ranges and not alike else None
        return SizeResult(
            name=scenario.name,
            title=settings.title,
            seed=seed,
            target=asked.target,
            confidence=asked.confidence,
            choose=plays[0],
            surges=plays[1],
            region=region,
            chain=found.chain,
            digest=found.digest,
            way=found.way,
            recommended=found.recommended,
            ledger=found.ledger,
            chosen_shares={one: found.sample.share(one) for one in found.chain},
            least=bounds,
            waiting=waiting_table(found.ledger.rows(owned), settings.cleaning.by == "crew"),
            plays=found.sample.plays + found.ledger.plays,
            new=new,
            spend=spend,
            spent=found.spent,
            central=central,
            cleaner_hours=_cleaner_hours(settings),
            shifts=tuple((one.start, one.end) for one in settings.cleaning.crew),
            unwiped=tuple(hours_without_cleaners(settings)),
            shelf=settings.supplies,
            notes=(
                *no_entries(found.ledger.rows(found.recommended)[:, Seen.ENTRIES], replay),
                *_single_charger(scenario, found, seed),
                *_price_notes(settings, names),
                *all_warnings(scenario),
            ),
            replay=replay,
        )


def find_stock(sizing: Sizing, work: Work) -> Found:
    """Choose a chain of candidates on sample A, fix it, and test it on sample B.

    Parameters
    ----------
    sizing : Sizing
        What is sized.
    work : Work
        Shares surges out; the result does not depend on it.

    Raises
    ------
    OutOfReach
        No stock within the limits meets the target, or none could be confirmed.
    """
    player, region = sizing.player, sizing.region
    share, alpha = player.target.share_of_surges, 1.0 - sizing.confidence
    ledger = Ledger(player, share, alpha, sizing.surges, work, sizing.alike)
    sample = SampleA(player, min(_FIRST, sizing.choose), work)
    cheap = _first_look(sizing, sample)
    sample.grow(sizing.choose)
    if cheap is None:
        passes = sample.passes(region.ample)
        most = float(passes) if sizing.alike else upper_limit(passes, sizing.choose, _UNREACHABLE)
        if most < share:
            error = unreachable(player, region, passes, sizing.choose, sizing.limits, work)
            raise _with_spend(error, sizing, sample, ledger)
    sample.find_poorest(*rising(region, cheap or region.ample))
    aim = aim_of(sample, region, share)
    cheap = find_cheap(sample, region, cheap or region.ample, aim)
    chain = make_chain(sample, region, cheap, share)
    said = json.dumps([[stock_columns(one) for one in chain], share, alpha], sort_keys=True)
    digest = hashlib.sha256(said.encode()).hexdigest()
    ledger.walk(chain)
    best = ledger.recommended
    if best is None:
        entries = [ledger.entry(chain[0])]
        error = none_confirmed(entries, share, sizing.confidence, region)
        raise _with_spend(error, sizing, sample, ledger)
    entry = ledger.entry(best)
    _tell(work, region, best, entry.passes, entry.surges, confirmed=True)
    way = buying(sample, region, best)
    # dearer candidates, as far as each has at least as much of everything as the one before
    for stock in reversed(chain[: chain.index(best)]):
        if within(way[-1], stock):
            way.append(stock)
    ledger.play_whole(thinned(way, best, MOST_STAGES), "stage")
    spent = None
    if sizing.spend is not None:
        spent = _spent(sizing, sample, chain, best)
        ledger.play_whole([spent], "for so much money")
    return Found(chain, digest, sample, ledger, best, tuple(way), spent)


def _first_look(sizing: Sizing, sample: SampleA) -> Stock | None:
    """Tell an estimate from a few surges, long before the answer; None if they have none."""
    region, share = sizing.region, sizing.player.target.share_of_surges
    rich = find_rich(sample, region, sizing.guess)
    if sample.share(rich) < share:
        return None
    cheap = find_cheap(sample, region, from_minimum_passing(sample, region, rich, share), share)
    _tell(sample.work, region, cheap, sample.passes(cheap), sample.surges, confirmed=False)
    return cheap


def _tell(
    work: Work, region: SearchRegion, stock: Stock, passes: int, surges: int, confirmed: bool
) -> None:
    money = region.money(stock)
    work.watch.best(SoFar(region.owned, stock, money, passes, surges, confirmed))


def _spent(sizing: Sizing, sample: SampleA, chain: Sequence[Stock], best: Stock) -> Stock:
    """Return the best use of the money; once it buys the answer, the next stages of the chain."""
    assert sizing.spend is not None
    # those that are dearer than the answer are confirmed, too
    for stock in chain[: chain.index(best) + 1]:
        if sizing.region.money(stock) <= sizing.spend + 1e-9:
            return stock
    return best_for(sample, sizing.region, sizing.spend)


def _with_spend(error: OutOfReach, sizing: Sizing, sample: SampleA, ledger: Ledger) -> OutOfReach:
    """Say what the money does all the same, though the target is out of reach."""
    if sizing.spend is None:
        return error
    stock = best_for(sample, sizing.region, sizing.spend)
    ledger.play_whole([stock], "for so much money")
    entry = ledger.entry(stock)
    words = (
        f"The best use of {sizing.spend:,.10g} found is {stock_words(stock)} "
        f"({sizing.region.money(stock):,.10g}): the target is then met in {entry.passes} of "
        f"{entry.surges} simulated surges."
    )
    return OutOfReach(f"{error}\n{words}")


def _central(player: ScenarioPlayer, found: Found, work: Work) -> tuple[int, int]:
    """Return the counts of the answer with every range at its central value."""
    fixed = replace(player, scenario=replace(player.scenario, ranges=()))
    ledger = Ledger(fixed, found.ledger.share, found.ledger.alpha, found.ledger.most, work)
    ledger.play([found.recommended], looks(ledger.most)[0], "central values")
    entry = ledger.entry(found.recommended)
    return entry.passes, entry.surges


def _in_order(names: Sequence[str]) -> tuple[str, ...]:
    """Return the names in the fixed order of items, unknown ones last."""
    order = list(ITEMS)
    return tuple(sorted(names, key=lambda name: order.index(name) if name in ITEMS else len(order)))


def _average_rates(scenario: Scenario) -> dict[str, int]:
    """Return where the search begins: what average rates ask for, and some more."""
    from surge_sim.equipment.average_load import expected_load

    load = expected_load(scenario.settings)
    busy = {
        "kits": load.kits_busy_at_peak,
        "batteries": load.batteries_busy_at_peak,
        "bays": load.bays_busy_at_peak,
    }
    return {name: math.ceil(number + 2 * math.sqrt(number)) for name, number in busy.items()}


def _cleaner_hours(settings: Settings) -> float:
    """Return the hours of work in a surge for one more cleaner on every shift."""
    if settings.cleaning.by != "crew":
        return 0.0
    a_day_s = sum(shift.length_s for shift in settings.cleaning.crew)
    return a_day_s / HOUR_S * settings.horizon / DAY_S


def _single_charger(scenario: Scenario, found: Found, seed: int) -> tuple[str, ...]:
    """Say what hangs on one charger, if the recommended stock has only one."""
    best = found.recommended
    on_target = found.ledger.rows(best)[:, Seen.ON_TARGET] == 1
    said = single_charger_seen(scenario, best, seed, Sample.CONFIRM, on_target)
    return (said,) if said else ()


def _price_notes(settings: Settings, names: Sequence[str]) -> tuple[str, ...]:
    """Say which prices nobody wrote, or which look swapped."""
    said = invented_prices(settings, [ITEMS[name].price_field for name in names])
    doubt = kit_cheaper_than_battery(settings.prices)
    notes = [said, f"The price of a kit {doubt}" if doubt else ""]
    return tuple(note for note in notes if note)
