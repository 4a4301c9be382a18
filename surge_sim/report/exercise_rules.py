"""Rules that players must know, and the condition that stands beside a choice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from surge_sim.report.phrases import target_sentence
from surge_sim.report.scenario_words import policy_words
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
from surge_sim.units import clock_text, duration_text


def without_timeline(settings: Settings) -> Settings:
    """Return the settings without what is going to happen: rules can be told without it."""
    return settings.model_copy(update={"timeline": ()})


def rules_words(settings: Settings) -> Iterator[str]:
    """Yield what players must know of target, rules, batteries and cleaning, in a line each."""
    kit, fleet, cleaning = settings.kit, settings.batteries, settings.cleaning
    yield target_sentence(settings.target, of="")
    yield from policy_words(settings)
    yield (
        "Every kit passes its pre-use check, flow check included, before every entry "
        f"({duration_text(kit.pre_use_check)})."
    )
    if kit.single_use_hoods:
        yield "A hood is for one use: it is thrown away when its kit is handed in."
    again = (
        f"It may be reissued with a run time of {duration_text(fleet.minimum_run_time)} or more."
        if settings.charging.partial_charge_at_reissue
        else "One that is due to charge must be full before it is reissued."
    )
    yield (
        f"A new, full battery runs {duration_text(kit.levels[0].run_time)}; an empty one takes "
        f"{duration_text(fleet.charge_time)} in a bay. {again}"
    )
    by = {"wearer": "by its wearer", "crew": "by a cleaner", "central": "in central rounds"}
    yield (
        f"After use a kit is wiped down {by[cleaning.by]}; "
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
    "may be kept for several visits. It passes its pre-use check, flow check included, before "
    "every entry.",
    PartialCharge: "Manufacturer's instructions and local rules decide whether it may be done. "
    "The minimum run time at issue stays, and every kit passes its pre-use check, flow check "
    "included, before every entry.",
    MaximumWait: "What happens with a visit that leaves the queue, and what is then worn, local "
    "rules decide; it is outside this model.",
    CareBundled: "Licensed staff decide which visits can be made together, so that no care is left "
    "out. The model makes the other visits no longer for it.",
    EntriesPostponed: "Licensed staff decide which visits can wait.",
}


#: whether these may be done at all is for others to say; shown wherever their results are
_NEED_PERMISSION = (KitPolicy, PartialCharge)


def permission_words(choices: Sequence[Choice]) -> tuple[str, ...]:
    """Say of each choice that needs a permission who gives it, and what stays as it is."""
    return tuple(
        f"“{one.name}”: {condition_words(one)}"
        for one in choices
        if isinstance(one.does, _NEED_PERMISSION) and condition_words(one)
    )


def condition_words(choice: Choice) -> str:
    """Say under which condition a choice stands; empty where it needs none."""
    change = choice.does
    if isinstance(change, KitPolicy) and change.kit == "per entry":
        return ""
    if isinstance(change, PartialCharge) and not change.allowed:
        return ""
    return "" if change is None else _CONDITIONS.get(type(change), "")
