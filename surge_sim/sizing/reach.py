"""Why a target is out of reach: the same surges in worlds where one thing is different."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from surge_sim.demand.replay import replay_of
from surge_sim.errors import OutOfReach
from surge_sim.randomness import Sample
from surge_sim.sizing.changes import CHANGES
from surge_sim.sizing.items import ITEMS, VARIED, count_words, stock_words
from surge_sim.sizing.ledger import Ledger
from surge_sim.sizing.player import ScenarioPlayer
from surge_sim.sizing.watch import OverSurges
from surge_sim.statistics.promise import parts_missed

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.goal import SearchLimits
    from surge_sim.sizing.certify import Step
    from surge_sim.sizing.chain import Chain
    from surge_sim.sizing.player import Player

#: surges played in each different world
_TRIED = 10

#: parts of a target as a planner reads them
_PARTS = {
    "wait": "the wait of all entries",
    "urgent wait": "the wait of urgent entries",
    "alarms": "the number of alarms",
    "stock-outs": "the number of stock-outs",
}


def explain(
    player: Player,
    ample: Stock,
    passes: int,
    surges: int,
    vary: Sequence[str],
    limits: SearchLimits,
    over: OverSurges,
) -> OutOfReach:
    """Say that no stock within the limits keeps the target, what was missed, and what would help.

    Parameters
    ----------
    player : Player
        Plays the surges; different worlds are tried for a scenario's own player only.
    ample : Stock
        Everything that varies at its limit.
    passes, surges : int
        In how many surges plenty kept the target, of how many.
    vary : sequence of str
        Items that varied.
    limits : SearchLimits
        How far the search went.
    over : OverSurges
        How surges are shared out.

    Returns
    -------
    OutOfReach
        The exception to raise; its text is for the planner.
    """
    share = player.target.share_of_surges
    replay = replay_of(player.scenario) if isinstance(player, ScenarioPlayer) else None
    plays = "surges" if replay is None else "plays of the recorded period"
    lines = [
        "No stock within the limits keeps the target.",
        f"With plenty ({stock_words(ample)}) {passes} of {surges} {plays} kept it; "
        f"{100 * share:g} % of {plays.split()[0]} must.",
    ]
    alike = replay is not None and replay.alike
    if alike:
        lines[1] = f"With plenty ({stock_words(ample)}) the recorded period misses it too."
    missed: Counter[str] = Counter()
    tried = 1 if alike else min(_TRIED, surges)
    for number in range(tried):
        score = player.surge(Sample.CHOOSE, number).score(ample, full=True)
        missed.update(parts_missed(score, player.target))
    if missed:
        parts = [f"{_PARTS[part]} (in {count} of the {tried})" for part, count in missed.items()]
        lines.append(
            f"What missed the target even with plenty, in the first {tried} of these {surges} "
            f"{plays}: {', '.join(parts)}."
            if not alike
            else f"What missed the target: {', '.join(_PARTS[part] for part in missed)}."
        )
    helps = list(_advice(player, ample, vary, limits, over))
    if helps:
        lines.extend(
            f"In a short trial on the first {_TRIED} {plays} it was kept {advice}"
            for advice in helps
        )
    else:
        lines.append(
            "None of the changes that were tried alone would keep it: see what the entries "
            "waited for with `surge-sim run`, or ask for less (--target)."
        )
    return OutOfReach("\n".join(lines))


def _advice(
    player: Player,
    ample: Stock,
    vary: Sequence[str],
    limits: SearchLimits,
    over: OverSurges,
) -> Iterator[str]:
    share = player.target.share_of_surges

    def kept(world: Player, stock: Stock) -> str | None:
        ledger = Ledger(world, over, sample=Sample.CHOOSE)
        ledger.extend([stock], _TRIED, "why not")
        passes = ledger.passes(stock)
        return f"{passes} of {_TRIED}" if passes >= share * _TRIED else None

    everything = ample
    for name in VARIED:
        if name in vary:
            continue
        item = ITEMS[name]
        rich = item.put(ample, max(item.limit(limits), item.of(ample)))
        everything = item.put(everything, item.of(rich))
        result = kept(player, rich)
        if result:
            words = count_words(name, item.of(rich))
            more = " more" if name == "crew" else ""
            now = "" if more else f" instead of {item.of(ample)}"
            all_names = ",".join([*vary, name])
            yield f"with {words}{more}{now} ({result}): let them vary with --vary {all_names}."
    wide = ample
    for name in vary:
        wide = ITEMS[name].put(wide, 4 * ITEMS[name].of(ample))
    result = kept(player, wide)
    if result:
        fields = ", ".join(f"limits.{ITEMS[name].limit_field}" for name in vary)
        yield f"with four times as much ({result}): widen {fields} in the scenario."
    if not isinstance(player, ScenarioPlayer):
        return
    for change in CHANGES:
        result = kept(replace(player, change=change), ample)
        if result:
            yield f"{change} ({result})."


def none_certified(
    chain: Chain, steps: Sequence[Step], vary: Sequence[str], confidence: float, ample: Stock
) -> OutOfReach:
    """Say that no candidate passed its test, and whether the limits or the surges were too few.

    Parameters
    ----------
    chain, steps : Chain, sequence of Step
        The candidates, and those that were tested.
    vary : sequence of str
        Items that varied.
    confidence : float
        Of the test [0..1].
    ample : Stock
        Everything that varies at its limit.
    """
    lines = ["No stock could be certified."]
    at_limit: list[str] = []
    if steps:
        step = steps[0]
        stock = step.link.stock
        lines.append(
            f"The richest candidate ({stock_words(stock)}) kept the target in "
            f"{step.passes:,} of {step.surges:,} fresh surges; {100 * chain.share:g} % could not "
            f"be shown with {100 * confidence:g} % confidence."
        )
        at_limit = [name for name in vary if ITEMS[name].of(stock) >= ITEMS[name].of(ample)]
    if at_limit:
        fields = " and ".join(f"limits.{ITEMS[name].limit_field}" for name in at_limit)
        lines.append(f"It is at the limit of the search: widen {fields} in the scenario.")
    else:
        lines.append("Use more surges (--surges): with so few, only a clear margin can be shown.")
    return OutOfReach("\n".join(lines))
