"""Why: what people wait for with a stock, and why a target is out of reach."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from surge_sim.cautions import FIXED_TIMES
from surge_sim.equipment.causes import Cause
from surge_sim.equipment.stock import ITEMS, PARTS, listed, stock_words
from surge_sim.errors import OutOfReach
from surge_sim.randomness import Sample
from surge_sim.scenario.schema import REPAIRED
from surge_sim.sizing.player import ScenarioPlayer, Seen
from surge_sim.statistics.waits import cause_name, missing_name

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.schema import SearchLimits, Settings
    from surge_sim.sizing.ledger import Entry
    from surge_sim.sizing.player import Player, Work
    from surge_sim.sizing.search import SearchRegion

#: surges played to see why
_TRIED = 10

_BAYS = (Cause.BATTERY_WAITING_FOR_BAY,)
_PARTS = {
    Cause.KIT_LACKS_PREFILTER: "prefilters",
    Cause.KIT_LACKS_HE_FILTER: "he_filters",
    Cause.HOOD_ON_ORDER: "hoods",
    Cause.NO_HOOD: "hoods",
    Cause.NO_LARGE_HOOD: "large_hoods",
    Cause.TUBE_ON_ORDER: "tubes",
    Cause.NO_TUBE: "tubes",
}
#: what no purchase mends
_NONE = (Cause.BATTERY_TOO_WEAK,)


def reduced_by(state: int, by_crew: bool) -> str:
    """Return the item of which more would reduce a cause of waiting; empty: none would."""
    if state in _PARTS:
        return _PARTS[Cause(state)]
    if state in _BAYS:
        return "bays"
    if state == Cause.KIT_WAITING_FOR_WIPE and by_crew:
        return "cleaners"
    missing = missing_name(state)
    if state in _NONE or missing not in ("kit", "battery"):
        return ""
    return "kits" if missing == "kit" else "batteries"


def waiting_table(rows: NDArray[np.int64], by_crew: bool) -> pd.DataFrame:
    """Return what people waited for: hours by cause, their share, and what would mend it.

    Parameters
    ----------
    rows : ndarray, shape (surges, SEEN)
        Whole plays of one stock.
    by_crew : bool
        Whether cleaners wipe the kits down.
    """
    seconds = rows[:, Seen.CAUSES :]
    total = seconds.sum()
    found = [
        {
            "missing": missing_name(state),
            "cause_of_waiting": cause_name(state),
            "reduced_by": reduced_by(state, by_crew),
            "hours_per_surge": float(seconds[:, state].mean() / 3600),
            "share": float(seconds[:, state].sum() / total),
            "in_surges": int((seconds[:, state] > 0).sum()),
        }
        for state in range(seconds.shape[1])
        if seconds[:, state].any()
    ]
    columns = ["missing", "cause_of_waiting", "reduced_by", "hours_per_surge", "share", "in_surges"]
    table = pd.DataFrame(found, columns=columns)
    return table.sort_values(
        ["hours_per_surge", "cause_of_waiting"], ascending=[False, True], ignore_index=True
    )


def _full_crew(settings: Settings) -> dict[str, Any]:
    from surge_sim.scenario.schema import CrewShift

    most = max((shift.cleaners for shift in settings.cleaning.crew), default=0)
    halves = (("00:00", "12:00"), ("12:00", "00:00"))
    crew = tuple(CrewShift(start=a, end=b, cleaners=most) for a, b in halves)  # type: ignore[arg-type]
    return {"cleaning": settings.cleaning.model_copy(update={"crew": crew})}


def _of(section: str, **values: object) -> Callable[[Settings], dict[str, Any]]:
    return lambda settings: {section: getattr(settings, section).model_copy(update=values)}


#: words for a world without a cause, and its sections. None of them touches a contact or drying
#: time, a check or a rest
_WORLDS: dict[str, tuple[Callable[[Settings], object], Callable[[Settings], dict[str, Any]]]] = {
    "without the timeline in the file": (lambda s: s.timeline, lambda s: {"timeline": ()}),
    "without the reserve for urgent entries": (
        lambda s: s.policy.reserved_for_urgent, _of("policy", reserved_for_urgent=0)
    ),
    "if the full crew of cleaners worked at all hours": (
        lambda s: s.cleaning.by == "crew", _full_crew
    ),
    "if kits were not held for a shift": (
        lambda s: s.policy.kit == "held for a shift", _of("policy", kit="per entry")
    ),
    "if kits were not kept for a round": (
        lambda s: s.policy.kit == "per round", _of("policy", kit="per entry")
    ),
    "if filters did not clog": (lambda s: s.filters, lambda s: {"filters": None}),
    "if nothing broke": (
        lambda s: True,
        _of("failures", **dict.fromkeys(REPAIRED), hood_damage=0.0, tube_damage=0.0),
    ),
    "if parts did not run out": (
        lambda s: True,
        _of("supplies", **dict.fromkeys(PARTS)),
    ),
    "if batteries had full capacity": (
        lambda s: True, _of("batteries", state_of_health=(1.0,), age=None)
    ),
}  # fmt: skip


def unreachable(
    player: Player, region: SearchRegion, passes: int, surges: int, limits: SearchLimits, work: Work
) -> OutOfReach:
    """Say that no stock within the limits meets the target, what is missed, and the cause.

    Parameters
    ----------
    player : Player
        Plays the surges; worlds without a cause are tried for a scenario's own player only.
    region : SearchRegion
        What may be bought.
    passes, surges : int
        In how many surges plenty kept the target, of how many.
    limits : SearchLimits
        How far the search went.
    work : Work
        Shares surges out.
    """
    ample, alike = region.ample, isinstance(player, ScenarioPlayer) and player.alike
    share, tried = player.target.share_of_surges, 1 if alike else min(_TRIED, surges)
    words = stock_words(ample)
    only = _only(region)
    lines = [f"{only}no stock within the limits meets the target."]
    lines[0] = lines[0][0].upper() + lines[0][1:]
    if alike:
        lines.append(f"With plenty ({words}) the recorded period misses it too.")
    else:
        lines.append(
            f"With plenty ({words}) it is met in {passes} of {surges} simulated surges; "
            f"{100 * share:g} % must meet it."
        )
    rows = np.array([player.surge(Sample.CHOOSE, number).row(ample) for number in range(tried)])
    causes = waiting_table(rows, False)
    if not causes.empty:
        # less would be written as 0 %
        top = causes[causes["share"] >= 0.005].head(3)
        pairs = zip(top["cause_of_waiting"], top["share"], strict=True)
        said = [f"{cause} ({100 * share:.0f} %)" for cause, share in pairs]
        lines.append(f"With plenty, people still wait for: {listed(said)}.")
        if (top["cause_of_waiting"] == cause_name(Cause.KIT_DRYING)).any():
            lines.append(FIXED_TIMES)

    def met(world: Player, stock: Stock) -> bool:
        task = _Kept(world, stock)
        kept = sum(work(task, range(tried), "why not"))
        counts["met"] = kept
        return kept >= share * tried

    counts: Counter[str] = Counter()
    found = [
        f"{words} ({counts['met']} of {tried})"
        for words, world, stock in _trials(player, region, limits)
        if met(world, stock)
    ]
    if found:
        lines.append(f"In a short trial it was met {'; or '.join(found)}.")
    elif only:
        names = listed([ITEMS[axis.item.name].several or axis.item.name for axis in region.axes])
        lines.append(
            f"More {names} alone do not do it: let other items be bought, too (leave out --only)."
        )
    else:
        lines.append(
            "No single cause explains it: `surge-sim run` says what people wait for, and its "
            "tables at which hours of the day."
        )
    return OutOfReach("\n".join(lines))


def _only(region: SearchRegion) -> str:
    """Say what alone was to be bought; nothing, where all of the equipment may be."""
    names = [axis.item.name for axis in region.axes]
    if {"kits", "batteries", "bays"} <= set(names):
        return ""
    return f"Buying {listed([ITEMS[name].several or name for name in names])} only: "


class _Kept:
    """Play one surge of a world with a stock; picklable."""

    def __init__(self, player: Player, stock: Stock) -> None:
        self.player, self.stock = player, stock

    def __call__(self, number: int) -> bool:
        return self.player.surge(Sample.CHOOSE, number).kept(self.stock)


def _trials(
    player: Player, region: SearchRegion, limits: SearchLimits
) -> Iterator[tuple[str, Player, Stock]]:
    """Yield what may be the cause, in words, with the world and the stock to be tried."""
    ample, names = region.ample, [axis.item.name for axis in region.axes]
    others = ["kits", "batteries", "bays"]
    if isinstance(player, ScenarioPlayer) and player.scenario.settings.cleaning.by == "crew":
        others.append("cleaners")
    for name in others:
        if name not in names:
            number = max(ITEMS[name].limit(limits), ITEMS[name].of(ample))
            # cleaners without a price are searched only where they are named
            free = name == "cleaners" and not region.prices.cleaner
            how = "write `prices.cleaner`" if free else "leave --only out"
            words = (
                f"with plenty of {name} as well ({number:,}, the limit of the search; not an "
                f"amount to buy): name them in --only, or {how}"
            )
            yield words, player, ITEMS[name].put(ample, number)
    wide = ample
    for axis in region.axes:
        wide = axis.item.put(wide, 4 * max(axis.high, axis.lot))
    yield "with four times as much: widen `limits` in the scenario", player, wide
    if isinstance(player, ScenarioPlayer):
        settings = player.scenario.settings
        for words, (there, without) in _WORLDS.items():
            if there(settings):
                sections = {**player.sections, **without(settings)}
                yield words, replace(player, sections=sections), ample


def none_confirmed(
    entries: Sequence[Entry], share: float, confidence: float, region: SearchRegion
) -> OutOfReach:
    """Say that no candidate was confirmed, and whether limits or surges were too few."""
    lines = ["No stock could be confirmed."]
    top = entries[-1]
    lines.append(
        f"The richest candidate ({stock_words(top.stock)}) met the target in {top.passes:,} of "
        f"{top.surges:,} new simulated surges; {100 * share:g} % could not be shown with "
        f"{100 * confidence:g} % confidence."
    )
    # parts have no limit in the scenario
    at_limit = [
        axis.item.name
        for axis in region.axes
        if axis.item.name not in PARTS and axis.item.of(top.stock) > axis.high - axis.lot
    ]
    if at_limit:
        fields = listed([f"limits.{name}" for name in at_limit])
        lines.append(f"It is at the limit of the search: widen {fields} in the scenario.")
    else:
        lines.append("Use more surges (--surges): with so few, only a clear margin can be shown.")
    return OutOfReach("\n".join(lines))
