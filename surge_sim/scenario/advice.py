"""What a planner should look at in a scenario that can be used all the same."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise

from surge_sim import units
from surge_sim.scenario.clearance import clean_in_a_kit
from surge_sim.scenario.doubtful import Warned, doubtful, far_from_usual
from surge_sim.scenario.former_names import FORMER_NAMES
from surge_sim.scenario.schema import (
    CLEANING_NEEDS,
    CLEANING_TAKES,
    REPAIRED,
    CrewShift,
    Prices,
    Settings,
)
from surge_sim.scenario.timeline import Change, EntriesPostponed, KitsRecalled, PartialCharge, lent
from surge_sim.scenario.yaml_text import Tree

#: NIOSH publication 2013-146 (Metzler & Szalajda, 2013): the battery of an approved assembly
#: runs it at the required flow for at least 4 hours
LEAST_RUN_TIME_S = 4 * units.HOUR_S


def warnings_of(settings: Settings, tree: Tree) -> list[str]:
    """List the warnings with file and line, in the order of the file."""
    found = [one for look in _LOOKS for one in look(settings)]
    return [tree.warning(*one) for one in sorted(found, key=lambda one: tree.line(one[0]))]


def _run_times(settings: Settings) -> Iterator[Warned]:
    first, least_s = settings.kit.levels[0].run_time, settings.batteries.minimum_run_time
    least = units.duration_text(least_s)
    if first < LEAST_RUN_TIME_S:
        said = f"is {units.duration_text(first)}: the battery of an approved assembly runs it for "
        said += "at least 4 h (NIOSH publication 2013-146, Metzler & Szalajda, 2013)."
        yield ("kit", "levels", 0, "run_time"), said
    stock = settings.stock.batteries
    never = sum(health * first < least_s for health in settings.batteries.healths(stock))
    if never:
        said = f"is {least}: {never} of {stock} batteries never hold that much and are never "
        yield ("batteries", "minimum_run_time"), f"{said}issued."
    for number, level in enumerate(settings.kit.levels[1:], start=1):
        if max(settings.batteries.listed_healths) * level.run_time < least_s:
            said = (
                f"is {units.duration_text(level.run_time)}: no battery holds the minimum run time, "
            )
            yield ("kit", "levels", number, "run_time"), f"{said}{least}, at this level."


def _issued(settings: Settings) -> Iterator[Warned]:
    """Say so where a default decides which battery is issued, and another rule could matter."""
    unlike = unlike_batteries(settings)
    if unlike and "issued" not in settings.batteries.model_fields_set:
        said = (
            f"is not set: {settings.batteries.issued} is assumed. Another rule can change the "
            f"answer, because {' and '.join(unlike)}. Write the rule that your unit follows."
        )
        yield ("batteries", "issued"), said


def unlike_batteries(settings: Settings) -> list[str]:
    """Say why batteries that can be issued at one time may differ; nothing: all are alike and full.

    It matters which one is issued only where they differ; apart from some seconds, where two with
    different charge come to a bay at once: the lower number goes first.
    """
    found = []
    if len(set(settings.batteries.listed_healths)) > 1:
        found.append("batteries differ in health")
    if settings.charging.charge_below < 1:
        found.append("a battery may go back to the shelf partly charged")
    allowed = (one.allowed for one in settings.timeline if isinstance(one, PartialCharge))
    if settings.charging.partial_charge_at_reissue or any(allowed):
        found.append("a battery may be reissued with a partial charge")
    if settings.failures.battery_run_between_failures is not None:
        found.append("each battery fails in its own time")
    return found


def _charging(settings: Settings) -> Iterator[Warned]:
    if settings.batteries.constant_current_time > settings.batteries.constant_current_to:
        said = "is above `batteries.constant_current_to`: charging would be faster afterwards than "
        yield ("batteries", "constant_current_time"), f"{said}at constant current."


def _cleaning(settings: Settings) -> Iterator[Warned]:
    cleaning = settings.cleaning
    used = (*CLEANING_NEEDS[cleaning.by], *CLEANING_TAKES[cleaning.by])
    for name in ("wipe_down", "places", "crew", "rounds", "turnaround"):
        if name not in used and getattr(cleaning, name):
            yield ("cleaning", name), f"is not used, because cleaning is by {cleaning.by}."
    if cleaning.by == "crew" and not any(shift.cleaners for shift in cleaning.crew):
        yield ("cleaning", "crew"), "has no cleaners: no kit is ever wiped down."


def times_without_cleaner(crew: Sequence[CrewShift]) -> list[tuple[int, int]]:
    """Return from when to when no cleaner of a crew is there, in order of the day [s].

    One that passes midnight ends before it begins; without any cleaner it is the whole day.
    """
    shifts = [one for one in crew if one.cleaners]
    ends_s = {at_s % units.DAY_S for one in shifts for at_s in (one.start, one.end)}
    gaps = list[tuple[int, int]]()
    for from_s, to_s in pairwise((*sorted(ends_s | {0}), units.DAY_S)):
        if any((from_s - one.start) % units.DAY_S < one.length_s for one in shifts):
            continue
        if gaps and gaps[-1][1] == from_s:
            from_s = gaps.pop()[0]
        gaps.append((from_s, to_s))
    if len(gaps) > 1 and gaps[0][0] == 0 and gaps[-1][1] == units.DAY_S:
        (_, to_s), (from_s, _) = gaps.pop(0), gaps.pop()
        gaps.append((from_s, to_s))
    return gaps


def hours_without_cleaners(settings: Settings) -> list[int]:
    """Return the hours of the clock (0 to 23) that have entries and never a cleaner.

    Only where a crew wipes kits down. A change of the timeline is not looked at.
    """
    crew = settings.cleaning.crew
    if settings.cleaning.by != "crew" or not any(one.cleaners for one in crew):
        return []
    gaps = times_without_cleaner(crew)
    hours = [hour for hour in range(24) if any(_holds_hour(gap, hour) for gap in gaps)]
    return [hour for hour in hours if _has_entries(settings, hour)]


def _holds_hour(gap: tuple[int, int], hour: int) -> bool:
    """Say whether an hour of the clock lies in a part of the day as a whole."""
    from_s, to_s = gap
    since_s = (hour * units.HOUR_S - from_s) % units.DAY_S
    return since_s + units.HOUR_S <= ((to_s - from_s) % units.DAY_S or units.DAY_S)


def _has_entries(settings: Settings, hour: int) -> bool:
    """Say whether somebody enters in a kit at that hour of the clock."""
    if settings.entries is not None and settings.entries.rows is not None:
        past_s = units.clock_at_start_s(settings.start)
        due = (settings.entries.rows.due_s + past_s) // units.HOUR_S % 24
        return bool((due == hour).any())
    for name, role in settings.roles.items():
        if _always_in_a_kit(settings, name):
            return True
        hours = role.hours_of_day
        if role.kit_share and _makes_visits(settings, name) and (hours is None or hours[hour] > 0):
            return True
    return False


def nobody_wipes(settings: Settings) -> str:
    """Say in which hours with entries nobody wipes kits down; nothing, if there are none."""
    hours = hours_without_cleaners(settings)
    if not hours:
        return ""
    # runs of hours, one that passes midnight as one
    begins = [hour for hour in hours if (hour - 1) % 24 not in hours]
    runs = []
    for begin in begins:
        end = begin + 1
        while end % 24 in hours:
            end += 1
        first, last = begin * units.HOUR_S, end % 24 * units.HOUR_S
        runs.append(f"from {units.clock_text(first)} to {units.clock_text(last)}")
    return (
        f"Nobody wipes kits {' and '.join(runs)}, when there are entries: add a shift there to "
        "`cleaning.crew` (`compare --usual` tries one); `size` adds none."
    )


def _stock(settings: Settings) -> Iterator[Warned]:
    stock, limits = settings.stock, settings.limits
    for name in ("kits", "batteries", "bays"):
        if getattr(stock, name) > getattr(limits, name):
            yield ("limits", name), f"is below the stock in hand ({getattr(stock, name)})."
    if not stock.kits and not lent("kits", settings.timeline):
        yield ("stock", "kits"), "is 0: nobody gets a kit, and every entry that needs one is late."
    if stock.batteries < stock.kits:
        said = f"is {stock.batteries} for {stock.kits} kits: not every kit has a battery."
        yield ("stock", "batteries"), said
    if stock.batteries and not stock.bays and not lent("bays", settings.timeline):
        yield ("stock", "bays"), "is 0: no battery is ever charged again."
    if settings.policy.reserved_for_urgent >= max(stock.kits, 1):
        said = "leaves no kit of the stock in hand for routine entries."
        yield ("policy", "reserved_for_urgent"), said


def _hood_sizes(settings: Settings) -> Iterator[Warned]:
    """Say so where large hoods are kept for nobody."""
    if settings.supplies.large_hoods is not None and not settings.kit.large_hood_share:
        said = "are on the shelf, and nobody needs one: `kit.large_hood_share` is 0 %."
        yield ("supplies", "large_hoods"), said


def _rooms(settings: Settings) -> Iterator[Warned]:
    if settings.rooms is not None and not settings.rooms.count:
        what = "boards elsewhere" if settings.rooms.when_full == "board" else "is diverted"
        yield ("rooms", "count"), f"is 0: every patient {what}."


def _recalled(settings: Settings) -> Iterator[Warned]:
    """Say when more kits are to be away than the stock in hand has."""
    for number, said in recalled_beyond(settings.timeline, settings.stock.kits):
        yield ("timeline", number, "kits"), said


def recalled_beyond(changes: Sequence[Change], kits: int) -> Iterator[tuple[int, str]]:
    """Say where more kits are to be away than there are: each new highest number.

    Parameters
    ----------
    changes : sequence of Change
        A timeline.
    kits : int
        The stock in hand.

    Yields
    ------
    tuple of (int, str)
        Place of the change, and what is said of it.
    """
    events = [(n, e) for n, e in enumerate(changes) if isinstance(e, KitsRecalled)]
    most = kits
    for number, event in sorted(events, key=lambda one: one[1].at):
        together = sum(e.kits for _, e in events if e.at <= event.at < e.until)
        if together > most:
            most = together
            with_others = " with others at that time" if together > event.kits else ""
            said = f"recalls {together} kits{with_others}; the stock in hand has "
            said += f"{kits}: all of them leave, and no more."
            yield number, said


def _upkeep(settings: Settings) -> Iterator[Warned]:
    failures, (first, *_) = settings.failures, settings.kit.levels
    for rate, time in REPAIRED.items():
        if getattr(failures, rate) is not None and getattr(failures, time) is None:
            yield ("failures", time), "is missing: what failed is there again at once."
    if settings.filters is None and any(level.further_life for level in settings.kit.levels):
        said = "give further filter life, but there is no section `filters`."
        yield ("kit", "levels"), said
    if settings.filters is not None and first.further_life:
        said = "is not used: the lowest level has the life itself, higher levels have more."
        yield ("kit", "levels", 0, "further_life"), said


def _roles(settings: Settings) -> Iterator[Warned]:
    # a log says itself who enters, always in a kit
    for name, role in settings.roles.items() if settings.arrivals is not None else ():
        if not _visits(settings, name):
            yield ("roles", name), "is a role that never enters a room."
        if role.kit_share == 0 and not _always_in_a_kit(settings, name):
            yield ("roles", name, "kit_share"), "is 0 %: this role never needs a kit."


def _visits(settings: Settings, role: str) -> bool:
    clean = settings.rooms.terminal_clean if settings.rooms is not None else None
    cleans = clean is not None and clean.role == role
    return cleans or _makes_visits(settings, role) or _always_in_a_kit(settings, role)


def _makes_visits(settings: Settings, role: str) -> bool:
    """Say whether a role has routine entries, with or without a kit."""
    return any(one.entries.get(role, 0) > 0 for one in settings.classes.values())


def _always_in_a_kit(settings: Settings, role: str) -> bool:
    """Say whether a role makes urgent entries or cleans in a kit: at any hour, whatever share."""
    clean = clean_in_a_kit(settings.rooms)
    events = [one.urgent for one in settings.classes.values() if one.urgent is not None]
    return (clean is not None and clean.role == role) or any(
        event.role == role and event.per_patient > 0 for event in events
    )


def _postponed(settings: Settings) -> Iterator[Warned]:
    """Say where entries become due only after the simulation has ended: see `with_changes`."""
    closing_s, latest_s = settings.horizon + settings.run_out, settings.horizon
    events = [(n, e) for n, e in enumerate(settings.timeline) if isinstance(e, EntriesPostponed)]
    for number, event in sorted(events, key=lambda one: one[1].at):
        if not event.share or event.at >= latest_s:
            continue
        # one that was postponed before can be postponed again
        moved_s = min(event.until, latest_s) + event.by
        latest_s = max(latest_s, moved_s)
        if moved_s > closing_s:
            said = (
                f"is {units.duration_text(event.by)}: some entries become due after the simulation "
                "ends, and count as late although nobody waits. Write `run_out: "
                f"{units.duration_text(moved_s - settings.horizon)}` or more."
            )
            yield ("timeline", number, "by"), said


def _run_out_period(settings: Settings) -> Iterator[Warned]:
    if settings.run_out < settings.target.wait:
        said = "is shorter than the target's wait: entries at the end of the horizon are cut short."
        yield ("run_out",), said


def _prices(settings: Settings) -> Iterator[Warned]:
    prices = settings.prices
    if said := kit_cheaper_than_battery(prices):
        yield ("prices", "kit"), said
    for name, field in type(prices).model_fields.items():
        # where 0 is the default, writing it changes nothing
        if getattr(prices, name) == 0 and field.default != 0:
            yield ("prices", name), "is 0: it costs nothing, however many are bought."


def _sources(settings: Settings) -> Iterator[Warned]:
    """Sources are names of sections; a name that is none says nothing."""
    known = set(type(settings).model_fields)
    for name in settings.sources:
        first = name.split(".")[0]
        if first not in known:
            now = FORMER_NAMES.get(first)
            hint = f" It is called `{now}` now." if now in known else ""
            yield ("sources", name), f"names no section of the scenario.{hint}"


_LOOKS: tuple[Callable[[Settings], Iterator[Warned]], ...] = (
    _run_times, _issued, _charging, _cleaning, _stock, _rooms, _hood_sizes, _recalled, _upkeep,
    _roles, _postponed, _run_out_period, doubtful, far_from_usual, _prices, _sources,
)  # fmt: skip


def kit_cheaper_than_battery(prices: Prices) -> str:
    """Say that a kit costs less than a battery, if it does."""
    if not 0 < prices.kit < prices.battery:
        return ""
    return (
        f"is {units.number_text(prices.kit)}, less than a battery "
        f"({units.number_text(prices.battery)}): check whether the two are swapped."
    )


def invented_prices(
    settings: Settings, fields: Iterable[str] = ("kit", "battery", "charger")
) -> str:
    """Say which prices nobody wrote: they decide which stock is the cheapest.

    Parameters
    ----------
    settings : Settings
        The scenario.
    fields : iterable of str
        Fields of the section `prices` that matter; a run needs none.

    Returns
    -------
    str
        One sentence, or nothing.
    """
    prices = settings.prices
    missing = [name for name in fields if name not in prices.model_fields_set]
    if not missing:
        return ""
    said = [f"{name} {units.number_text(getattr(prices, name))}" for name in missing]
    return (
        f"No price is given for some items; invented ones decide what is cheapest: "
        f"{', '.join(said)}. Write yours under `prices`."
    )
