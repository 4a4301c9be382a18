"""Times as people give them: a date and clock time, or a day of the surge and a clock time.

Day 1 begins with the surge, and each day lasts 24 hours, as in every table by day: in a surge that
begins at 07:00, `day 3, 18:00` is 59 hours after the start, and `day 3, 06:00` is an hour before
day 4 begins.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import Any

from surge_sim import units
from surge_sim.errors import Fault, echo
from surge_sim.scenario.quantities import UNKNOWN
from surge_sim.scenario.yaml_text import Path, Tree

_DATE = re.compile(r"(\d{4}-\d{1,2}-\d{1,2})(?:[ T]+(\d{1,2}:\d{2}))?")
_DAY = re.compile(r"[Dd]ay +(\d{1,4})(?:(?:,| at)? *(\d{1,2}:\d{2}))?")
#: what begins so is meant as a date or day, and what follows must be right
_MEANT = re.compile(r"\d{4}-|[Dd]ay\b|\d{1,2}[./]\d{1,2}[./]\d{2,4}\b")
_WAYS = (
    "Write `day 6, 18:00`, a date like `2031-01-11 18:00`, or a time after the start like `5 d`."
)


def with_times_after_start(tree: Tree) -> tuple[dict[str, Any], list[Fault]]:
    """Return the root with every `at:` as a time after the start; UNKNOWN where one is faulty.

    Parameters
    ----------
    tree : Tree
        The scenario file as it was read.
    """
    root = tree.root
    first = _read(units.parse_moment, root.get("start"))
    horizon_s = _read(units.parse_duration, root.get("horizon"))
    return times_in(tree, ("arrivals", "timeline"), first, horizon_s)


def times_in(
    tree: Tree, sections: Sequence[str], first: datetime | None, horizon_s: int | None
) -> tuple[dict[str, Any], list[Fault]]:
    """Do the same for some sections of a surge that begins and lasts so; None: not known."""
    root, faults = tree.root, list[Fault]()

    def read(raw: str, path: Path) -> Any:
        if first is None:
            return UNKNOWN  # a fault of the start, told elsewhere
        at_s = seconds_after(raw.strip(), first)
        if at_s is None:
            found = f"is '{echo(raw)}'"
            right = f"It must be a day of the surge, from 1, or a date, year-month-day.\n  {_WAYS}"
        elif at_s < 0:
            found = f"is '{echo(raw)}', before the surge begins"
            right = f"The surge begins on {units.moment_text(first)}, with day 1.\n  {_WAYS}"
        elif horizon_s is not None and at_s >= horizon_s:
            end = first + timedelta(seconds=horizon_s)
            found = f"is '{echo(raw)}', after the surge ends"
            right = f"The surge ends on {units.moment_text(end)}: write an earlier time."
        else:
            return units.duration_text(at_s)
        faults.append(tree.fault(path, found, right))
        return UNKNOWN

    def look(raw: Any, path: Path) -> Any:
        if isinstance(raw, dict):
            return {key: look(one, (*path, key)) for key, one in raw.items()}
        if isinstance(raw, list):
            return [look(one, (*path, number)) for number, one in enumerate(raw)]
        meant = "at" in path and isinstance(raw, str) and _MEANT.match(raw.strip())
        return read(raw, path) if meant else raw

    timed: dict[str, Any] = {key: look(root[key], (key,)) for key in sections if key in root}
    return {**root, **timed}, faults


def _read(parse: Callable[[Any], Any], raw: Any) -> Any:
    """Read a value; None where it is faulty, which is told elsewhere."""
    try:
        return parse(raw)
    except units.QuantityError:
        return None


def seconds_after(text: str, start: datetime) -> int | None:
    """Return how long after the start a day or date is [s], below 0 before it; None if none."""
    date, day = _DATE.fullmatch(text), _DAY.fullmatch(text)
    try:
        if date is not None:
            midnight = datetime.strptime(date[1], "%Y-%m-%d")
            clock_s = units.parse_clock(date[2] or "00:00")
            return round((midnight - start).total_seconds()) + clock_s
        if day is None or day[1].strip("0") == "":
            return None
        begins_s = (int(day[1]) - 1) * units.DAY_S
        if day[2] is None:
            return begins_s
        start_s = start.hour * units.HOUR_S + start.minute * units.MINUTE_S + start.second
        return begins_s + (units.parse_clock(day[2]) - start_s) % units.DAY_S
    except (units.QuantityError, ValueError):
        return None
