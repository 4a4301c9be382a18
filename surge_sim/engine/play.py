"""Play a surge with either engine, with as many draws as it needs.

A play that runs out of draws is played again with more; one that would never end is told of.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, NamedTuple

from surge_sim.demand.table import Demand
from surge_sim.engine.log import ALARM_WORDS, Alarm, Exhausted, NoEnd, RunLog, Score
from surge_sim.engine.run_in import end_of_surge, log_of_surge, score_of_surge, with_run_in
from surge_sim.equipment.batteries import run_left
from surge_sim.equipment.chance import BLOCK, USUAL_LIVES, WorkArrays, usual_wipes
from surge_sim.equipment.kits import LITTLE_S, MOST_IN_VAIN
from surge_sim.equipment.numbers import Numbers, Rules, numbers_of
from surge_sim.equipment.situation import Unit
from surge_sim.equipment.stock import Start, Stock
from surge_sim.equipment.timeline import NOTHING_CHANGES, Timeline
from surge_sim.errors import Fault, ScenarioError
from surge_sim.scenario.limits import MOST_IN_REFERENCE, MOST_LIVES, MOST_REQUESTS
from surge_sim.units import DAY_S, duration_text, length_text

Engine = Literal["compiled", "reference"]
ALL_READY = Start()


def play(
    demand: Demand,
    unit: Unit,
    stock: Stock,
    start: Start = ALL_READY,
    timeline: Timeline = NOTHING_CHANGES,
    engine: Engine = "compiled",
    events: bool = False,
) -> RunLog:
    """Play one surge and keep the whole log.

    Parameters
    ----------
    demand : Demand
        Who comes.
    unit : Unit
        Equipment numbers and rules, with the chance that belongs to things.
    stock : Stock
        How much equipment there is.
    start : Start
        How things stand at second 0.
    timeline : Timeline
        What changes at which second.
    engine : {"compiled", "reference"}
        Both give the same log to the last bit.
    events : bool
        Keep all that happens, too; see :mod:`surge_sim.engine.log`.

    Returns
    -------
    RunLog
    """
    log, _ = log_and_score(demand, unit, stock, start, timeline, engine, True, None, events)
    assert log is not None
    return log


def score(
    demand: Demand,
    unit: Unit,
    stock: Stock,
    start: Start = ALL_READY,
    timeline: Timeline = NOTHING_CHANGES,
    late_limit: int | None = None,
    engine: Engine = "compiled",
) -> Score:
    """Play one surge and count what a search needs to know.

    Parameters
    ----------
    demand, unit, stock, start, timeline, engine
        As in `play`.
    late_limit : int, optional
        The play is given up when more entries than this are late.

    Returns
    -------
    Score
        Entries, late ones (an entry is late unless each of its needs was served within the
        target's wait), alarms, stock-outs.
    """
    return log_and_score(demand, unit, stock, start, timeline, engine, False, late_limit)[1]


def log_and_score(
    demand: Demand,
    unit: Unit,
    stock: Stock,
    start: Start,
    timeline: Timeline,
    engine: Engine,
    record: bool = True,
    late_limit: int | None = None,
    events: bool = False,
) -> tuple[RunLog | None, Score]:
    """Play with the run-in, again with more draws as long as they did not suffice.

    Parameters
    ----------
    demand, unit, stock, start, timeline, engine, late_limit, events
        As in `play` and `score`.
    record : bool
        Whether the log is kept.

    Returns
    -------
    RunLog or None, Score
    """
    played = with_run_in(demand)
    if engine == "reference" and played.entries > MOST_IN_REFERENCE:
        raise _too_slow(played)
    bay_failures = unit.bay_failures(stock.bays, played.closing_s)
    numbers = numbers_of(unit.rules, stock, start, timeline, played, bay_failures)
    sizes = first_sizes(played, numbers.counts.kits, numbers.counts.batteries)
    while True:
        try:
            log, score = _engine(engine)(
                played, numbers, sizes.arrays(unit), sizes.new_needs, late_limit, record, events
            )
        except Exhausted:
            larger = sizes.grown()
            if larger == sizes:
                raise _too_many(demand, unit.rules) from None
            sizes = larger
        except NoEnd as found:
            raise _without_end(demand, stock, numbers, end_of_surge(found, demand)) from None
        else:
            log = None if log is None else log_of_surge(log, demand)
            return log, score_of_surge(score, demand)


def _engine(engine: Engine) -> Callable[..., tuple[RunLog | None, Score]]:
    """Return what plays a surge through."""
    if engine == "reference":
        from surge_sim.engine.reference.play import play_reference

        return play_reference
    from surge_sim.engine.compiled.play import play_compiled

    return play_compiled


class Sizes(NamedTuple):
    """How many draws a play gets; growing them changes no draw that it had before."""

    entries: int
    blowers: int
    batteries: int
    #: lives of each blower and battery, and rows for needs that arise in the play
    generations: int
    new_needs: int

    def grown(self) -> Sizes:
        """Return larger sizes; the same when a surge may have no more."""
        generations = min(4 * self.generations, MOST_LIVES // max(self.blowers, self.batteries))
        new_needs = min(4 * self.new_needs, MOST_REQUESTS - self.entries)
        return self._replace(
            generations=max(generations, self.generations),
            new_needs=max(new_needs, self.new_needs),
        )

    def arrays(self, unit: Unit) -> WorkArrays:
        """Draw so much: a wipe-down for each need."""
        wipes = self.entries + self.new_needs
        return unit.draws(wipes, self.blowers, self.generations, self.batteries)


def first_sizes(demand: Demand, kits: int, batteries: int) -> Sizes:
    """Sizes that nearly always suffice."""
    blowers, packs = (-(-max(count, 1) // BLOCK) * BLOCK for count in (kits, batteries))
    new_needs = usual_wipes(demand.entries) - demand.entries
    return Sizes(demand.entries, blowers, packs, USUAL_LIVES, new_needs)


def _fault(demand: Demand, found: str, right: str) -> ScenarioError:
    return ScenarioError([Fault(f"surge {demand.surge} of seed {demand.seed}", 0, found, right)])


def _too_slow(demand: Demand) -> ScenarioError:
    """Say that the reference engine would play a surge for minutes."""
    found = f"has {demand.entries:,} entries, too many for the reference engine."
    right = f"It simulates {MOST_IN_REFERENCE:,} requests at most: use a shorter horizon."
    return _fault(demand, found, right)


def _too_many(demand: Demand, rules: Rules) -> ScenarioError:
    """Say that a surge would have more requests, or lives of things, than the limits allow."""
    again = ["`kit.levels`, `batteries`"]
    if rules.postponed:
        again.insert(0, "`policy.postponed_by`, `policy.maximum_wait`")
    if rules.has_filters:
        again.append("`filters`")
    if rules.has_failures or rules.has_battery_failures:
        again.append("`failures`")
    found = (
        f"visits that are interrupted or postponed make more than {MOST_REQUESTS:,} requests, or "
        f"more than {MOST_LIVES:,} filters or failures."
    )
    right = f"Check {', '.join(again)} and at the stock: visits hardly get anywhere."
    return _fault(demand, found, right)


def _without_end(demand: Demand, stock: Stock, numbers: Numbers, found: NoEnd) -> ScenarioError:
    """Tell of a visit that alarms interrupt again and again before it gets anywhere."""
    alarm, which = Alarm(found.alarm), f"entry {found.entry}"
    if found.entry >= 0 or demand.before is None:
        don_s = int(demand.don_s[found.entry])
    else:
        which, don_s = "an entry of the run-in", int(demand.before.don_s[found.entry + 1])
    day, second = divmod(found.at_s, DAY_S)
    clock = f"{second // 3_600:02d}:{second // 60 % 60:02d}"
    story = (
        f"{which} is never completed: {MOST_IN_VAIN} alarms in a row "
        f"({ALARM_WORDS[alarm]} at the last one) each left less than {duration_text(LITTLE_S)} of "
        "it done in the room. "
        f"The last one was on day {day + 1}, {clock} after the day began, with kit {found.kit} and "
        f"battery {found.battery} of {stock.kits} kits and {stock.batteries} batteries. "
        f"Donning takes this wearer {length_text(don_s)}."
    )
    return _fault(demand, story, _impossible(alarm, numbers, found))


def _impossible(alarm: Alarm, numbers: Numbers, found: NoEnd) -> str:
    """Say which numbers of the scenario make it impossible."""
    if alarm == Alarm.BATTERY_FAILURE:
        return "Check `failures.battery_run_between_failures`: it leaves no time for a visit."
    if alarm == Alarm.FAILURE:
        return "Check `failures.blower_run_between_failures`: it leaves no time for a visit."
    if alarm == Alarm.FLOW:
        return (
            "Check `filters.prefilter_life` and `filters.he_filter_life` (and at defective "
            "lots in `timeline`): they leave no time for a visit."
        )
    rules = numbers.rules
    full_s = max(
        run_left(int(numbers.counts.cells[found.battery, 0]), int(run_s))
        for run_s in rules.run_time_s
    )
    return (
        f"This battery runs {length_text(full_s)} when it is full; the alarm sounds "
        f"{length_text(rules.reserve_s)} before it is empty.\n"
        "  Check `batteries.minimum_run_time`, which must last through donning and above "
        "`batteries.low_battery_alarm`, at `kit.don` and at `batteries.state_of_health`."
    )
