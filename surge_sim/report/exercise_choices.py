"""What a choice changes, in words for a group: from when, for how long, and at which price."""

from __future__ import annotations

from surge_sim.report import sizing_words
from surge_sim.report.exercise_rules import condition_words
from surge_sim.report.exercise_words import when
from surge_sim.report.phrases import change_named
from surge_sim.report.rounding import counted
from surge_sim.scenario.exercise import Choices, Exercise
from surge_sim.scenario.exercise_file import Choice
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.timeline import (
    BatteriesOnLoan,
    CareBundled,
    Change,
    ExtraCleaners,
    KitPolicy,
    KitsOnLoan,
    PartialCharge,
    Reserve,
)
from surge_sim.units import DAY_S, clock_text, duration_text, share_text


def choice_words(exercise: Exercise, choice: Choice) -> str:
    """Say what a choice changes, from when, for how long and for how much."""
    if choice.does is None:
        return "Nothing changes."
    done = _done_words(exercise.scenario.settings, choice.does)
    lasts = "for good" if choice.does.lasts is None else f"for {duration_text(choice.does.lasts)}"
    said = f"From {when(exercise, choice.does.at)}, {lasts}: {done}."
    if choice.price:
        return f"{said} It costs {money(exercise, choice.price)}."
    return f"{said} No price."


def choice_sentences(exercise: Exercise, choice: Choice) -> str:
    """Say what a choice changes; its condition first."""
    return f"{condition_words(choice)} {choice_words(exercise, choice)}".strip()


def money(exercise: Exercise, amount: float) -> str:
    """Write an amount with its currency."""
    return f"{sizing_words.money(amount)} {exercise.scenario.settings.prices.currency}"


def price_of(exercise: Exercise, choices: Choices) -> float:
    """Add up what choices cost."""
    pairs = zip(exercise.moments, choices, strict=True)
    return sum(moment.choices[chosen].price for moment, chosen in pairs)


def _done_words(settings: Settings, change: Change) -> str:
    """Say what is done, for a group that knows no names of a scenario file."""
    match change:
        case KitPolicy():
            return _kept_words(settings, change)
        case PartialCharge():
            return (
                "in the model, batteries that are not full are issued again"
                if change.allowed
                else "in the model, batteries are issued only when they are full"
            )
        case CareBundled():
            return f"{share_text(change.dropped)} of routine entries are made within other visits"
        case KitsOnLoan():
            more = counted(change.kits, "kit")
            return f"{more} on loan, each with a full battery and a hood"
        case BatteriesOnLoan():
            return f"{counted(change.batteries, 'full battery', 'full batteries')} on loan"
        case ExtraCleaners():
            hours = ""
            if change.lasts is None or change.lasts > DAY_S:
                hours = ", day and night"
            for shift in settings.cleaning.crew:
                # 24:00 is 00:00 of the next day
                if change.shift is not None and (shift.start - change.shift) % DAY_S == 0:
                    hours = f", from {clock_text(shift.start)} to {clock_text(shift.end)}"
            return f"{counted(change.cleaners, 'more cleaner')} on duty{hours}"
        case Reserve():
            return f"{counted(change.kits, 'clean kit')} on the shelf kept for urgent entries"
    return change_named(change)


def _kept_words(settings: Settings, change: KitPolicy) -> str:
    """Say how long a kit is kept, and what is done with it between two visits."""
    if change.kit == "per entry":
        return "each entry takes a clean kit and hands it in afterwards"
    how_long = "shift" if change.kit == "held for a shift" else "rooms of a round"
    cleaning, wipe_s = settings.cleaning, settings.policy.wipe_between_visits
    wet_s = cleaning.contact_time + cleaning.drying_time
    wet = f"the {duration_text(wet_s)} of contact and drying time"
    enough = (
        f"with {wet}"
        if wipe_s >= wet_s
        else f"shorter than {wet} of a wipe-down, which stay: strike this choice out unless the "
        "manufacturer's instructions say how a kit is cleaned between two patients"
    )
    return (
        f"each nurse or other named wearer keeps one kit for the {how_long} and wipes it down "
        f"after every visit ({duration_text(wipe_s)}, {enough}); the wearer is not free meanwhile"
    )
