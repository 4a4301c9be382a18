"""Plays that would never end: which visit is never completed, why, and what to change."""

from __future__ import annotations

from surge_sim.demand.table import Demand
from surge_sim.engine.draws import NoEnd
from surge_sim.engine.log import ALARM_WORDS, Alarm
from surge_sim.equipment.batteries import run_left
from surge_sim.equipment.kits import LITTLE_S, MOST_IN_VAIN
from surge_sim.equipment.numbers import Numbers
from surge_sim.equipment.stock import Stock
from surge_sim.errors import Fault, ScenarioError
from surge_sim.units import DAY_S, duration_text


def without_end(trace: Demand, stock: Stock, numbers: Numbers, found: NoEnd) -> ScenarioError:
    """Tell of a visit that alarms interrupt again and again before it gets anywhere."""
    alarm, don_s = Alarm(found.alarm), int(trace.don_s[found.entry])
    day, second = divmod(found.at_s, DAY_S)
    clock = f"{second // 3_600:02d}:{second // 60 % 60:02d}"
    story = (
        f"entry {found.entry} is never completed: {MOST_IN_VAIN} alarms in a row "
        f"({ALARM_WORDS[alarm]} at the last one) each left less than {duration_text(LITTLE_S)} of "
        "it done in the room. "
        f"The last one was on day {day + 1}, {clock} after the day began, with kit {found.kit} and "
        f"battery {found.battery} of {stock.kits} kits and {stock.batteries} batteries. "
        f"Donning takes this wearer {_time(don_s)}."
    )
    return _at(trace, story, _right(alarm, numbers, found))


def _right(alarm: Alarm, numbers: Numbers, found: NoEnd) -> str:
    """Say which numbers of the scenario make it impossible."""
    if alarm == Alarm.FAULT:
        return "Look at `faults.blower_run_between_faults`: it leaves no time for a visit."
    if alarm == Alarm.FLOW:
        return (
            "Look at `filters.prefilter_life` and `filters.main_filter_life` (and at defective "
            "lots in `timeline`): they leave no time for a visit."
        )
    rules = numbers.rules
    full_s = max(
        run_left(int(numbers.counts.cells[found.battery, 0]), int(run_s))
        for run_s in rules.run_time_s
    )
    return (
        f"This battery runs {_time(full_s)} when it is full; the alarm sounds "
        f"{_time(rules.reserve_s)} before it is empty.\n  Look at `batteries.least_run`, which "
        "must last through donning and above `batteries.alarm_reserve`, at `kit.don` and at "
        "`batteries.health`."
    )


def _at(trace: Demand, found: str, right: str) -> ScenarioError:
    return ScenarioError([Fault(f"surge {trace.surge} of seed {trace.seed}", 0, found, right)])


def _time(seconds: int) -> str:
    return duration_text(seconds) if seconds else "no time"
