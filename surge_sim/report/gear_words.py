"""What a scenario says of the equipment, in plain sentences for a planner."""

from __future__ import annotations

from collections.abc import Iterator

from surge_sim.report.rounding import about, counted, listed
from surge_sim.report.scenario_words import spread_words
from surge_sim.scenario.advice import unlike_batteries
from surge_sim.scenario.schema import Cleaning, Settings, Supply
from surge_sim.scenario.spread import TimeSpread
from surge_sim.units import (
    clock_text,
    duration_text,
    flow_text,
    length_text,
    share_text,
    yes_no_text,
)

_ISSUED = {
    "fullest": "the fullest (the one with most charge; staff need a meter for that)",
    "any usable": "any, as it comes to hand,",
    "least charged that will do": "the least charged (staff need a meter for that)",
    "longest on the shelf": "the one longest on the shelf",
}


def _spread(times: TimeSpread | None) -> str:
    return "no time" if times is None else spread_words(times)


def kit_words(settings: Settings) -> Iterator[str]:
    """Say what one use of a kit takes, and what wears out."""
    kit = settings.kit
    yield (
        f"Every kit must pass its pre-use check ({duration_text(kit.pre_use_check)}). Donning: "
        f"{spread_words(kit.don)}; doffing: {spread_words(kit.doff)}."
    )
    if kit.recheck is not None:
        yield (
            f"It is checked again after {duration_text(kit.recheck.first_after)} of wear, then "
            f"every {duration_text(kit.recheck.then_every)}."
        )
    if kit.single_use_hoods:
        yield "Hoods are discarded after each use."
    if kit.large_hood_share:
        yield (
            f"{share_text(kit.large_hood_share)} of wearers need a large hood; none comes with a "
            "kit, and no hood of one size serves a wearer of the other (kit.large_hood_share). "
            "Someone who waits for a hood of one size lets people in the same line who need the "
            "other size go first; an urgent entry that waits for one holds routine entries back."
        )
    levels = [
        duration_text(level.run_time)
        + ("" if level.flow is None else f" at {flow_text(level.flow)}")
        + (f" ({share_text(level.further_life)} more filter life)" if number else "")
        for number, level in enumerate(kit.levels)
    ]
    yield (
        f"The check requires a flow of {flow_text(kit.minimum_flow)}; a kit runs at the lowest "
        "level that gives it."
    )
    fleet = settings.batteries
    full = fleet.state_of_health == (1.0,) and fleet.age is None
    health = "" if full else ", less where its state of health is below 100 %"
    yield f"A full battery runs {', '.join(levels)}{health}."
    if fleet.age is not None:
        ages = ", ".join(about(age_s) for age_s in fleet.age.ages)
        yield (
            f"Batteries are {ages} old (repeating pattern across all batteries) and lose "
            f"{share_text(fleet.age.fade_per_year)} of their capacity per year."
        )
    elif not full:
        healths = ", ".join(share_text(health) for health in fleet.state_of_health)
        yield f"State of health, repeating pattern across all batteries: {healths}."
    charging = settings.charging
    taken = (
        "A battery may be reissued with a partial charge, from its bay or while it waits for one"
        if charging.partial_charge_at_reissue
        else "A battery that is due to charge must be fully charged before reissue"
    )
    rounds = charging.rounds_every
    watched = "" if rounds is None else f"; full ones leave at rounds every {duration_text(rounds)}"
    if charging.charge_below < 1:
        watched += (
            f"; a battery is charged when its state of charge is below "
            f"{share_text(charging.charge_below)}"
        )
    end = (
        "then the current falls exponentially"
        if fleet.end_of_charge == "exponential"
        else "then slower, in a straight line"
    )
    yield (
        f"Charging an empty battery takes {duration_text(fleet.charge_time)} (constant current to "
        f"{share_text(fleet.constant_current_to)} after "
        f"{share_text(fleet.constant_current_time)} of the charge time, {end}; "
        f"batteries.end_of_charge: {fleet.end_of_charge}){watched}. Minimum run time at issue "
        f"{duration_text(fleet.minimum_run_time)}; low-battery alarm at "
        f"{duration_text(fleet.low_battery_alarm)}."
    )
    yield "The other end of a charge can change the result much where short visits are topped up."
    if charging.cool_down or charging.time_to_connect:
        yield (
            f"Before it is charged a battery cools down for {length_text(charging.cool_down)}; "
            f"connecting it in its bay takes {length_text(charging.time_to_connect)}."
        )
    yield (
        f"{taken} (charging.partial_charge_at_reissue: "
        f"{yes_no_text(charging.partial_charge_at_reissue)}). The other rule can change the "
        "result much."
    )
    unlike = unlike_batteries(settings)
    other = (
        f"Another rule can change the result, because {listed(unlike)}."
        if unlike
        else "Another rule would change nothing: batteries that can be issued are all alike and "
        "full."
    )
    yield (
        f"Of the batteries that can be issued, {_ISSUED[fleet.issued]} is taken "
        f"(batteries.issued: {fleet.issued}). {other}"
    )
    yield from _carrying_words(settings)
    yield _cleaning_words(settings.cleaning)
    filters = settings.filters
    if filters is not None:
        first = spread_words(filters.prefilter_life, longest="h")
        he = spread_words(filters.he_filter_life, longest="h")
        yield (
            f"Filter life in run time: prefilter {first}; HE filter {he} "
            f"({filters.at_start} at the start)."
        )
        hours = filters.working_hours
        weekend = "weekends too" if hours.weekend else "not on weekends"
        yield (
            f"Changing a prefilter takes {duration_text(filters.prefilter_change)}; an HE filter "
            f"{duration_text(filters.he_filter_turnaround)} of working time, from "
            f"{clock_text(hours.start)} to {clock_text(hours.end)}, {weekend}."
        )
    failures = settings.failures
    if failures.blower_run_between_failures is not None:
        yield (
            f"A blower fails once per {about(failures.blower_run_between_failures, 'h')} of "
            f"running on average; repair takes {_spread(failures.repair_time)}."
        )
    if failures.battery_run_between_failures is not None:
        yield (
            f"A battery fails once per {about(failures.battery_run_between_failures, 'h')} of "
            f"running on average, which ends the visit; replacing it takes "
            f"{_spread(failures.battery_replacement_time)}."
        )
    if failures.charger_time_between_failures is not None:
        bays = counted(settings.prices.bays_per_charger, "bay")
        yield (
            f"A charger ({bays}) fails once per {about(failures.charger_time_between_failures)} on "
            f"average; repair takes {_spread(failures.charger_repair_time)}."
        )
    if failures.hood_damage or failures.tube_damage:
        yield (
            f"Damage per use: {share_text(failures.hood_damage)} of hoods, "
            f"{share_text(failures.tube_damage)} of tubes."
        )
    yield from _supply_words(settings)
    yield f"One wipe-down uses {settings.supplies.wipes_per_clean} wipes."


def _carrying_words(settings: Settings) -> Iterator[str]:
    """Say how long a kit is carried in each cycle."""
    carrying = settings.carrying
    ways = [
        f"{way} {duration_text(length_s)}"
        for way, length_s in (
            ("to fetch a kit and set it up", carrying.fetch),
            ("to bring it back", carrying.bring_back),
            ("from there to the place of cleaning", carrying.to_cleaning),
        )
        if length_s
    ]
    if ways:
        yield f"Carrying, in each cycle: {', '.join(ways)}."


def _cleaning_words(cleaning: Cleaning) -> str:
    wipe = "" if cleaning.wipe_down is None else f", {spread_words(cleaning.wipe_down)}"
    after = (
        f"then {duration_text(cleaning.contact_time)} contact time and "
        f"{duration_text(cleaning.drying_time)} drying time"
    )
    if not cleaning.contact_time + cleaning.drying_time:
        after = "contact and drying time not counted"
    if cleaning.by == "crew":
        shifts = ", ".join(
            f"{shift.cleaners} from {clock_text(shift.start)} to {clock_text(shift.end)}"
            for shift in cleaning.crew
        )
        return f"A crew wipes kits down{wipe}, {after}. Cleaners: {shifts}."
    if cleaning.by == "central":
        rounds = ", ".join(clock_text(at) for at in cleaning.rounds)
        return (
            f"Kits are collected at {rounds} and back with the first round after "
            f"{duration_text(cleaning.turnaround)}, {after}."
        )
    places = "" if cleaning.places is None else f" at {counted(cleaning.places, 'place')}"
    return f"The wearer wipes the kit down{places}{wipe}, {after}."


def _supply_words(settings: Settings) -> Iterator[str]:
    shelf = settings.supplies
    said = [
        f"{counted(one.spare, name)}{_orders(one)}"
        for name, one in (
            ("hood", shelf.hoods),
            ("tube", shelf.tubes),
            ("prefilter", shelf.prefilters),
            ("HE filter", shelf.he_filters),
            ("large hood", shelf.large_hoods),
        )
        if one is not None
    ]
    if said:
        yield (
            f"Spare parts on the shelf: {'; '.join(said)}. Unlisted items are assumed unlimited."
        )


def _orders(supply: Supply) -> str:
    if supply.reorder_point is None:
        return " (never ordered)"
    return (
        f" (reorder point {supply.reorder_point}, quantity {supply.order_quantity}, lead time "
        f"{duration_text(supply.lead_time)})"
    )


def choices_in_short(settings: Settings) -> str:
    """Say in a line which rules are played that may change the stock by a twentieth or more."""
    failures, reissue = settings.failures, settings.charging.partial_charge_at_reissue
    below, large = settings.charging.charge_below, settings.kit.large_hood_share
    failing = [
        name
        for name, rate in (
            ("blowers", failures.blower_run_between_failures),
            ("batteries", failures.battery_run_between_failures),
            ("chargers", failures.charger_time_between_failures),
        )
        if rate is not None
    ]
    rounds = any((role.rooms_per_round or 1) > 1 for role in settings.roles.values())
    said = [
        f"battery {settings.batteries.issued}{', partly charged too' if reissue else ', full'}",
        f"{settings.batteries.end_of_charge} end of charge",
        *([] if below >= 1 else [f"charged below {share_text(below)}"]),
        f"failures of {listed(failing)}" if failing else "no failures",
        f"kit {settings.policy.kit}",
        "rounds" if rounds else "no rounds",
        f"late by {settings.target.late_by}",
        *([] if not large else [f"large hoods for {share_text(large)} of wearers"]),
    ]
    return "; ".join(said)
