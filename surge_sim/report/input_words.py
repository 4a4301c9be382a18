"""Uncertain inputs in plain words; their names in the scenario file stand in the tables."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from surge_sim.report.scenario_words import quantile_words

if TYPE_CHECKING:
    from surge_sim.scenario.ranges import Range
    from surge_sim.whatif.matters import Effect

#: behind the name of a time that no planner chooses, and of an input that shows nothing
NOT_A_CHOICE, UNDECIDED = "not a choice", "undecided"

_WORDS = {
    "cv": "spread",
    "don": "donning",
    "doff": "doffing",
    "pre_use_check": "check before use",
    "recheck": "check in wear",
    "wipe_down": "wipe-down",
    "per_patient": "per patient",
    "he_filters": "HE filters",
}
#: inputs whose name in the file says little, by their path
_WHOLE: dict[tuple[str, ...], str] = {
    ("arrivals", "baseline"): "rate of new patients",
    ("arrivals", "wave", "extra_at_peak"): "extra patients at the wave's peak",
    ("arrivals", "wave", "peak"): "moment of the wave's peak",
    ("arrivals", "wave", "width"): "width of the wave",
    ("arrivals", "daily_counts", "share"): "share of the daily counts",
}
#: times of cleaning, checks and wear, and limits, which instructions set or people need
_SET = {
    "cleaning": ("contact_time", "drying_time", "wipe_down", "turnaround"),
    "kit": ("pre_use_check", "recheck", "minimum_flow", "don", "doff"),
    "policy": ("wipe_between_visits",),
    "batteries": ("minimum_run_time", "low_battery_alarm"),
    # a role or a class has a name in between
    "roles": ("don", "doff"),
}
#: sections of which a unit has one, so that a time of theirs is known without them
_OF_ALL = ("cleaning", "kit", "policy", "batteries")


def input_words(one: Range) -> str:
    """Name an input: ``charge time (batteries)``, ``entries: nurse (very ill)``."""
    return path_words(one.path)


def path_words(path: Sequence[str | int]) -> str:
    """Name the input at a path: ``("batteries", "charge_time")`` is ``charge time (batteries)``."""
    section, *inside = path
    whole = _WHOLE.get(tuple(str(step) for step in path))
    if section in ("classes", "roles") and len(inside) > 1:
        section, *inside = inside
    steps = [_step(step) for step in inside]
    return f"{whole or ': '.join(steps) or section} ({section})"


def short_words(one: Range) -> str:
    """Name an input without the section that its name does without: ``drying time``."""
    words = input_words(one)
    return words.rpartition(" (")[0] if is_set(one) and str(one.path[0]) in _OF_ALL else words


def table_words(one: Range) -> str:
    """Name an input in a table, with what keeps it from being read as advice."""
    return f"{short_words(one)}, {NOT_A_CHOICE}" if is_set(one) else short_words(one)


def figure_words(effect: Effect, replayed: bool) -> str:
    """Name an input beside its bar; what is not to be read from the bar stands below the name."""
    marks = [NOT_A_CHOICE] if is_set(effect.input) else []
    marks += [UNDECIDED] if not replayed and not effect.is_shown else []
    return "\n".join([input_words(effect.input), *([", ".join(marks)] if marks else [])])


def is_set(one: Range) -> bool:
    """Say whether an input is a time or a limit that is not chosen to serve better."""
    return is_set_at(one.path)


def is_set_at(path: Sequence[str | int]) -> bool:
    """Say the same of the input at a path."""
    section, *inside = path
    return any(step in _SET.get(str(section), ()) for step in inside)


def _step(step: str | int) -> str:
    if isinstance(step, int):
        return str(step + 1)
    quantile = re.fullmatch(r"p(\d+(?:\.\d+)?)", step)
    if quantile:
        return quantile_words(float(quantile[1]) / 100)
    return _WORDS.get(step, step.replace("_", " "))
