"""Words for what the reference engine tells: how full, how long, what is missing."""

from __future__ import annotations

from surge_sim.engine.log import Missing
from surge_sim.engine.reference.things import Battery
from surge_sim.engine.reference.world import World
from surge_sim.units import duration_text

_MISSING_WORDS = {
    Missing.BLOWER: "a clean blower",
    Missing.HOOD: "a hood",
    Missing.TUBE: "a tube",
    Missing.BATTERY: "a charged battery",
}


def length(seconds: int) -> str:
    """Say a length of time."""
    return duration_text(seconds) if seconds else "no time"


def charged(ward: World, battery: Battery) -> str:
    """Say how full a battery is, of what it can hold; called only where somebody listens."""
    whole = ward.numbers.capacity[battery.number]
    return f"{100 * battery.charge // whole if whole else 0} % charged"


def level(ward: World, number: int) -> str:
    """Say at which flow level a kit runs; nothing where there is only one."""
    levels = len(ward.numbers.life_ppm)
    return f" at flow level {number + 1} of {levels}" if levels > 1 else ""


def lacked(mask: int) -> str:
    """Say what is missing on the shelf."""
    said = [words for bit, words in _MISSING_WORDS.items() if mask & bit]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


def times(number: int, one: str) -> str:
    """Say how many of something."""
    return f"{number} {one}" if number == 1 else f"{number} {one}s"
