"""Numbers that are possible and look like a slip, often of a unit or a decimal point."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from surge_sim import units
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import typical
from surge_sim.scenario.yaml_text import Path

Warned = tuple[Path, str]

#: beyond these a unit or a decimal point is likely wrong; each is a choice, no source:
#: no blower's battery runs longer; isolation is counted in days; a wave rises and falls in weeks
LONGEST_RUN_TIME_S = 24 * units.HOUR_S
SHORTEST_STAY_S = 12 * units.HOUR_S
NARROWEST_WAVE_S = 2 * units.DAY_S
#: least and most of single times [s], each a choice, no source; 0 says that there is none. Contact
#: and drying times and the check have no most: nobody shall be asked to shorten them
TIMES_S: dict[tuple[str, str], tuple[int, int]] = {
    ("batteries", "charge_time"): (30 * units.MINUTE_S, 2 * units.DAY_S),
    ("charging", "cool_down"): (0, 6 * units.HOUR_S),
    ("charging", "time_to_connect"): (0, units.HOUR_S),
    ("cleaning", "drying_time"): (units.MINUTE_S, units.LONGEST_S),
    ("carrying", "fetch"): (0, 30 * units.MINUTE_S),
    ("carrying", "bring_back"): (0, 30 * units.MINUTE_S),
    ("carrying", "to_cleaning"): (0, 30 * units.MINUTE_S),
    ("policy", "maximum_wait"): (0, 12 * units.HOUR_S),
    ("policy", "urgent_maximum_wait"): (0, 12 * units.HOUR_S),
    ("target", "wait"): (0, 2 * units.HOUR_S),
}
#: least and most of single shares, each a choice, no source
SHARES: dict[tuple[str, str], tuple[float, float]] = {
    ("failures", "hood_damage"): (0.0, 0.1),
    ("failures", "tube_damage"): (0.0, 0.1),
    ("target", "service_level"): (0.5, 1.0),
}


def doubtful(settings: Settings) -> Iterator[Warned]:
    """Numbers that are possible, and far from what units have: often a wrong unit of time."""
    look = "check the number and its unit."
    for number, level in enumerate(settings.kit.levels):
        if level.run_time > LONGEST_RUN_TIME_S:
            hours = units.number_text(round(level.run_time / units.HOUR_S, 3))
            path = ("kit", "levels", number, "run_time")
            yield path, f"is {hours} h, longer than a day: {look}"
    for name, one in settings.classes.items():
        mean_s = typical(one.length_of_isolation)
        if mean_s < SHORTEST_STAY_S:
            said = (
                f"is about {units.duration_text(round(mean_s))}, less than half a day: isolation "
            )
            yield ("classes", name, "length_of_isolation"), f"{said}mostly lasts days; {look}"
    wave = None if settings.arrivals is None else settings.arrivals.wave
    if wave is not None and wave.width < NARROWEST_WAVE_S:
        said = f"is {units.duration_text(wave.width)}, so most of the wave comes within "
        said += f"{units.duration_text(4 * wave.width)}: {look}"
        yield ("arrivals", "wave", "width"), said


def far_from_usual(settings: Settings) -> Iterator[Warned]:
    """Single times and shares that are possible, and far from what units have."""
    kinds: tuple[tuple[dict[tuple[str, str], Any], Callable[[Any], str]], ...] = (
        (TIMES_S, units.duration_text), (SHARES, units.share_text),
    )  # fmt: skip
    for bounds, written in kinds:
        for (section, field), (least, most) in bounds.items():
            given = getattr(getattr(settings, section), field)
            if not given or least <= given <= most:
                continue
            bound = f"less than {written(least)}" if given < least else f"more than {written(most)}"
            yield (section, field), f"is {written(given)}, {bound}: check the number and its unit."
