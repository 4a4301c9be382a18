"""Rules that players must know, and the condition that stands beside a choice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from surge_sim.equipment.average_load import expected_load
from surge_sim.report.phrases import target_words
from surge_sim.report.scenario_words import policy_words, spread_words
from surge_sim.scenario.exercise_file import Choice
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.timeline import (
    BatteriesOnLoan,
    CareBundled,
    Change,
    ChargersOnLoan,
    EntriesPostponed,
    KitPolicy,
    KitsOnLoan,
    MaximumWait,
    PartialCharge,
)
from surge_sim.units import clock_text, duration_text, share_text


def without_timeline(settings: Settings) -> Settings:
    """Return the settings without what is going to happen: rules can be told without it."""
    return settings.model_copy(update={"timeline": ()})


def rules_words(settings: Settings) -> Iterator[str]:
    """Yield what players must know of target, rules, batteries and cleaning, in a line each."""
    kit = settings.kit
    yield f"Service target: {target_words(settings.target, of='')}."
    yield from _patient_words(settings)
    yield from _bound_words(settings)
    yield from policy_words(settings)
    yield (
        "In line, urgent entries go first, then those who need only another battery, then routine "
        "ones; each in the order of their requests. Waiting for a person who is busy elsewhere is "
        "not counted as waiting for a kit."
    )
    yield (
        "Every kit passes its pre-use check, flow check included, before every entry "
        f"({duration_text(kit.pre_use_check)})."
    )
    if kit.single_use_hoods:
        yield "A hood is for one use: it is thrown away when its kit is handed in."
    yield from _supply_words(settings)
    yield from _battery_words(settings)
    yield from _cleaning_words(settings)


def _bound_words(settings: Settings) -> Iterator[str]:
    """Say for how long an entry takes a kit away, at average rates."""
    load = expected_load(settings)
    if not load.entries_per_day_peak:
        return
    bound_min = 60 * load.kit_hours_per_day_peak / load.entries_per_day_peak
    yield (
        f"An entry takes a kit away for about {bound_min:.0f} min, until it is clean again: check, "
        "putting on, room, taking off, wipe-down, contact and drying time. Waiting comes on top."
    )


def _patient_words(settings: Settings) -> Iterator[str]:
    """Say how many entries a patient needs, and where those are who find no room."""
    for name, one in settings.classes.items():
        roles = {role: settings.roles[role].kit_share for role in settings.roles}
        daily = sum(rate * roles.get(role, 1.0) for role, rate in one.entries.items())
        share = f", {share_text(one.share)} of patients" if len(settings.classes) > 1 else ""
        yield (
            f"Patients of the class “{name}”{share}: about {daily:.0f} routine entries with a "
            "kit per patient and day."
        )
    if settings.rooms is not None:
        yield (
            "Patients who find no isolation room free are boarded elsewhere; entries to them take "
            "kits of this unit, too."
            if settings.rooms.when_full == "board"
            else "Patients who find no isolation room free go elsewhere and take no kit of this "
            "unit."
        )


def _supply_words(settings: Settings) -> Iterator[str]:
    """Say of each part that can run out how many are spare and when more are ordered."""
    shelf = settings.supplies
    for name, supply in (
        ("hoods", shelf.hoods),
        ("large hoods", shelf.large_hoods),
        ("tubes", shelf.tubes),
        ("prefilters", shelf.prefilters),
        ("HE filters", shelf.he_filters),
    ):
        if supply is None:
            continue
        orders = (
            "none are ordered."
            if supply.reorder_point is None
            else f"when {supply.reorder_point} are left, {supply.order_quantity} are ordered, "
            f"which take {duration_text(supply.lead_time)} to come."
        )
        yield f"Spare {name} beside those on kits: {supply.spare} at the start; {orders}"


def _battery_words(settings: Settings) -> Iterator[str]:
    kit, fleet, charging = settings.kit, settings.batteries, settings.charging
    below = charging.charge_below
    due = (
        "after every use" if below == 1 else f"when less than {share_text(below)} of it is charged"
    )
    again = (
        "it may be reissued before it is full."
        if charging.partial_charge_at_reissue
        else "by the rule of this unit it stays in its bay until it is full, which accountable "
        "staff may change where the manufacturer's instructions allow it."
    )
    yield (
        f"A new, full battery runs {duration_text(kit.levels[0].run_time)}; an empty one takes "
        f"{duration_text(fleet.charge_time)} in a bay. The minimum run time at issue is "
        f"{duration_text(fleet.minimum_run_time)}. A battery is due to charge {due}; {again}"
    )


def _cleaning_words(settings: Settings) -> Iterator[str]:
    cleaning = settings.cleaning
    by = {"wearer": "by its wearer", "crew": "by a cleaner", "central": "in central rounds"}
    work = (
        f", {spread_words(cleaning.wipe_down)} of work for each kit" if cleaning.wipe_down else ""
    )
    yield (
        f"After use a kit is wiped down {by[cleaning.by]}{work}; "
        f"{duration_text(cleaning.contact_time + cleaning.drying_time)} of contact and drying "
        "time follow."
    )
    for shift in cleaning.crew:
        until = f"{clock_text(shift.start)} to {clock_text(shift.end)}"
        yield f"Cleaners from {until}: {shift.cleaners}."


#: what is said beside a choice of each sort: who allows it, and what it leaves as it is
_CONDITIONS: dict[type[Change], str] = {
    KitsOnLoan: "Only kits that your respiratory protection program accepts; each passes its "
    "pre-use check, flow check included, before every entry.",
    BatteriesOnLoan: "Only batteries that the manufacturer of your kits names for them.",
    ChargersOnLoan: "Only chargers that the manufacturer of your batteries names for them.",
    KitPolicy: "Manufacturer's instructions and local rules decide whether a kit, and its hood, "
    "may be kept for several visits. Infection prevention decides how it is cleaned between two "
    "patients; contact and drying time stay. It passes its pre-use check, flow "
    "check included, before every entry.",
    PartialCharge: "Manufacturer's instructions and local rules decide whether it may be done. "
    "The minimum run time at issue stays, and every kit passes its pre-use check, flow check "
    "included, before every entry.",
    MaximumWait: "Whether and how a visit that leaves the queue is then made, local rules decide; "
    "it is outside this model.",
    CareBundled: "Licensed staff decide which visits can be made together, so that no care is left "
    "out. In the model the remaining visits take no more time.",
    EntriesPostponed: "Licensed staff decide which visits can wait.",
}


#: what these do to a patient's care, or to a kit, is for others to allow; said beside the results
_WITH_RESULTS = (KitPolicy, PartialCharge, CareBundled, EntriesPostponed)


def result_words(choice: Choice) -> str:
    """Say under which condition a choice stands, beside its result; empty where it needs none."""
    return condition_words(choice) if isinstance(choice.does, _WITH_RESULTS) else ""


def conditions_words(choices: Sequence[Choice]) -> tuple[str, ...]:
    """Say of each choice, beside its result, who allows it and what stays as it is."""
    said = ((one.name, result_words(one)) for one in choices)
    return tuple(f"“{name}”: {words}" for name, words in said if words)


def condition_words(choice: Choice) -> str:
    """Say under which condition a choice stands; empty where it needs none."""
    change = choice.does
    if isinstance(change, KitPolicy | PartialCharge) and not choice.needs_permission:
        return ""
    return "" if change is None else _CONDITIONS.get(type(change), "")
