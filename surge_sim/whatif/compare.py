"""Compare alternatives: play them over the same surges and say how far they differ.

compared = compare(scenario, {"kit per shift": {"policy.kit": "held for a shift"}})
compared.table          # one row an alternative
compared.differences    # one row an alternative and measure, with limits that hold together
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

import pandas as pd

from surge_sim.equipment.average_load import all_warnings
from surge_sim.errors import whole_number
from surge_sim.statistics.intervals import CONFIDENCE, ENOUGH_SURGES
from surge_sim.whatif.costs import Cost, cost_of
from surge_sim.whatif.design import Alternative, Design, alternative_of, design_of
from surge_sim.whatif.differences import MEASURES, Difference, differences, level
from surge_sim.whatif.parts import Parts
from surge_sim.whatif.play import Played, play_design
from surge_sim.whatif.relaxed import relaxed

if TYPE_CHECKING:
    from surge_sim.demand.replay import Replay
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.schema import Settings


@dataclass(frozen=True, eq=False, repr=False)
class Comparison:
    """What a comparison found; the tables are pandas DataFrames of their own.

    Plays of a recorded period have no limits: they would get as narrow as there are plays, and
    say nothing of any other period.
    """

    played: Played
    confidence: float = CONFIDENCE
    #: usual alternatives that were not tried, and why
    not_tried: tuple[tuple[str, str], ...] = ()
    #: by alternative, what a sizing of it came to, where one was asked for
    sized: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    def __repr__(self) -> str:
        """Return what was compared and where to look on."""
        names = ", ".join(one.name for one in self.others)
        return (
            f"Comparison of {self.design.base.scenario.name} with {names}; {self.surges:,} surges, "
            f"seed {self.design.seed}.\nTables: table, differences, by_surge."
        )

    @property
    def design(self) -> Design:
        """What was played."""
        return self.played.design

    @property
    def replay(self) -> Replay | None:
        """The recorded log that some of them play; None where all draw surges."""
        return self.design.replay

    @property
    def base(self) -> Alternative:
        """What the others are compared with."""
        return self.design.base

    @property
    def others(self) -> tuple[Alternative, ...]:
        """The alternatives."""
        return self.design.alternatives[1:]

    @property
    def surges(self) -> int:
        """Number of surges."""
        return int(self.played.rows.shape[1])

    @cached_property
    def found(self) -> dict[str, list[Difference]]:
        """Differences from the base by alternative, in the order of `MEASURES`."""
        same = {one.name for one in self.design.equal_to_base()}
        # an alternative that changes nothing is none, and widens no limit
        asked = [one.name for one in self.others if one.name not in same]
        rows = self.played.rows[0]
        limited = self.replay is None
        others = [self.played.of(name) for name in asked]
        told = differences(rows, others, self.confidence, limited=limited)
        alike = {name: differences(rows, [rows], limited=False)[0] for name in same}
        return alike | dict(zip(asked, told, strict=True))

    @cached_property
    def same_on_every_surge(self) -> tuple[str, ...]:
        """Names of the alternatives that come to the same as the base on each of these surges."""
        base = self.played.rows[0].tobytes()
        return tuple(one.name for one in self.others if self.played.of(one.name).tobytes() == base)

    @cached_property
    def costs(self) -> dict[str, Cost]:
        """What each alternative costs beyond the base, by its name."""
        return {one.name: cost_of(self.base, one) for one in self.others}

    @cached_property
    def assumed_times(self) -> dict[str, tuple[str, ...]]:
        """Times of cleaning, checks and wear that an alternative takes otherwise, by its name."""
        base = self.base.scenario.settings
        named = {one.name: other_times(base, one.scenario.settings) for one in self.others}
        return {name: times for name, times in named.items() if times}

    @cached_property
    def relaxes(self) -> dict[str, str]:
        """What those relax that need permission, by name; see :func:`relaxed.relaxed`."""
        base = self.base.scenario.settings
        named = {one.name: relaxed(base, one.scenario.settings) for one in self.others}
        return {name: "; ".join(said) for name, said in named.items() if said}

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row per alternative, the base first: measures over all surges, and the cost."""
        rows = []
        for one, mine in zip(self.design.alternatives, self.played.rows, strict=True):
            cost = self.costs.get(one.name, Cost())
            rows.append(
                {
                    "alternative": one.name,
                    "kind": one.sort,
                    **{measure.name: level(measure, mine) for measure in MEASURES},
                    "surges": len(mine),
                    "surges_on_target": int((mine["missed"] == 0).sum()),
                    "purchase": cost.purchase,
                    "paid_per_surge": cost.per_surge,
                    "without_a_price": "; ".join(cost.unpriced),
                    "relaxes": self.relaxes.get(one.name, ""),
                    "assumes": one.assumes,
                    "changes": changes_text(one),
                }
            )
        return pd.DataFrame(rows)

    @cached_property
    def differences(self) -> pd.DataFrame:
        """One row per alternative and measure: alternative less base, with its limits."""
        rows = [
            {
                "alternative": name,
                "measure": one.measure.name,
                "base": one.base,
                "value": one.value,
                "difference": one.by.estimate,
                "low": one.by.low,
                "high": one.by.high,
                "surges_that_differ": one.surges,
                "finding": one.finding if self.replay is None else "",
            }
            for name in (one.name for one in self.others)
            for one in self.found[name]
        ]
        numbers = ("base", "value", "difference", "low", "high")
        return pd.DataFrame(rows).astype(dict.fromkeys(numbers, float))

    @cached_property
    def by_surge(self) -> pd.DataFrame:
        """One row per alternative and surge, as `outcome.ROW` has them; times in hours."""
        parts = []
        for one, mine in zip(self.design.alternatives, self.played.rows, strict=True):
            columns: dict[str, Any] = {name: mine[name] for name in mine.dtype.names or ()}
            del columns["stage"]  # no ladder is climbed here
            columns["on_target"] = columns.pop("missed") == 0
            columns["hours_waited"] = columns.pop("wait_s") / 3_600
            parts.append(pd.DataFrame(columns).assign(alternative=one.name))
        table = pd.concat(parts, ignore_index=True)
        return table[["alternative", *(name for name in table if name != "alternative")]]

    @cached_property
    def notes(self) -> tuple[str, ...]:
        """What a careful reader should know about these numbers."""
        said = list(all_warnings(self.base.scenario, self.base.in_hand.kits))
        known = set(said)
        for one in self.others:
            more = all_warnings(one.scenario, one.in_hand.kits, one.in_hand.batteries)
            # warnings of a changed scenario name no line; nothing is searched here
            said += [
                f"{one.name}: {text}"
                for text in more
                if not _is_known(text, known) and " limits." not in text
            ]
            said += [f"{one.name}: {text}" for text in _not_alike(self.base, one)]
        if self.replay is None and 1 < self.surges < ENOUGH_SURGES:
            said.append(
                f"With {self.surges} surges, fewer than {ENOUGH_SURGES}, limits are somewhat too "
                "narrow where a few surges carry a difference."
            )
        return tuple(said)


def _is_known(text: str, known: set[str]) -> bool:
    """Say whether the base has the same warning: only file and line may be others."""
    return any(_without_place(text) == _without_place(one) for one in known)


def _without_place(text: str) -> str:
    """Return a warning without its file and line, ``base.yaml:3: `` or ``base.yaml, changed: ``."""
    return text.partition(": ")[2] or text


def _not_alike(base: Alternative, other: Alternative) -> list[str]:
    before, after = base.scenario.settings, other.scenario.settings
    said = []
    if before.target != after.target:
        said.append("has another target: its shares in time and on target mean something else.")
    if (before.horizon, before.start) != (after.horizon, after.start):
        said.append("is another stretch of time, so hours and counts are not of the same days.")
    return said


#: times of checks, wear and cleaning that no planner chooses: name, and how to read it
_TIMES: tuple[tuple[str, Callable[[Settings], Any]], ...] = (
    ("contact time", lambda settings: settings.cleaning.contact_time),
    ("drying time", lambda settings: settings.cleaning.drying_time),
    ("time to wipe down", lambda settings: settings.cleaning.wipe_down),
    (
        "wipe-down between visits of a kit that is held",
        lambda settings: settings.policy.wipe_between_visits,
    ),
    ("check before use", lambda settings: settings.kit.pre_use_check),
    ("checks repeated in wear", lambda settings: settings.kit.recheck),
    ("minimum flow", lambda settings: settings.kit.minimum_flow),
    ("time to put on", lambda settings: settings.kit.don),
    ("time to take off", lambda settings: settings.kit.doff),
    (
        "time of a role to put on and to take off",
        lambda settings: {
            name: (role.don, role.doff)
            for name, role in settings.roles.items()
            if role.don or role.doff
        },
    ),
    ("time of central cleaning", lambda settings: settings.cleaning.turnaround),
    ("time for a battery to cool", lambda settings: settings.charging.cool_down),
    (
        "life of filters",
        lambda settings: (
            settings.filters and (settings.filters.prefilter_life, settings.filters.he_filter_life)
        ),
    ),
    (
        "time until a room is opened again",
        lambda settings: (
            settings.rooms and (settings.rooms.clearance, settings.rooms.mixing_factor)
        ),
    ),
    ("minimum run time at issue", lambda settings: settings.batteries.minimum_run_time),
    ("low-battery alarm", lambda settings: settings.batteries.low_battery_alarm),
)


def other_times(base: Settings, other: Settings) -> tuple[str, ...]:
    """Name the times of checks, wear and cleaning in which two settings differ."""
    return tuple(name for name, read in _TIMES if read(base) != read(other))


def changes_text(one: Alternative) -> str:
    """Write the changes of an alternative on one line, as they were given."""
    said = [f"{name}={_text(value)}" for name, value in one.changes]
    return "; ".join(said) or ("" if one.assumes or not one.sort else one.scenario.name)


def _text(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key}: {_text(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_text, value)) + "]"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "none" if value is None else str(value)


def alternatives_of(
    scenario: Scenario, given: Mapping[str, Mapping[str, Any] | Scenario] | Sequence[Alternative]
) -> list[Alternative]:
    """Return alternatives as they were given in Python.

    Parameters
    ----------
    scenario : Scenario
        What is changed.
    given : mapping or sequence
        By name, changes (see :func:`design.alternative_of`) or a whole scenario; or alternatives.
    """
    if not isinstance(given, Mapping):
        return list(given)
    return [
        alternative_of(scenario, name, one) if isinstance(one, Mapping) else Alternative(name, one)
        for name, one in given.items()
    ]


def compare(
    scenario: Scenario,
    alternatives: Mapping[str, Mapping[str, Any] | Scenario] | Sequence[Alternative],
    surges: int = 200,
    seed: int = 1,
    processes: int | None = None,
    engine: str = "compiled",
    progress: Callable[[int], object] | None = None,
    cluster: str | None = None,
    parts: Parts | None = None,
    not_tried: tuple[tuple[str, str], ...] = (),
) -> Comparison:
    """Play a scenario and alternatives to it over the same surges.

    Parameters
    ----------
    scenario : Scenario
        As it is; the others are compared with it.
    alternatives : mapping or sequence of Alternative
        By name, changes by dotted name as in :meth:`Scenario.changed`, or a whole scenario.
    surges : int
        Number of surges. Where all play recorded logs in which nothing is random, each is played
        once.
    seed : int
        Random seed; the numbers of the scenario as it is are those of a run with this seed.
    processes : int, optional
        Processes to share the work; the result does not depend on it.
    engine : {"compiled", "reference"}
        Both give the same result.
    progress : callable, optional
        Called with a number of plays each time that so many more are done.
    cluster : str, optional
        Address of a Dask scheduler whose workers share the work instead.
    parts : Parts, optional
        ``Parts(Path("some_folder"))``: what was played is kept there, and a call that was stopped
        goes on from it.
    not_tried : tuple of (str, str)
        Names of usual alternatives that are left out, and why; to be told.

    Returns
    -------
    Comparison
        Identical for any number of processes, stopped in between or not.

    Raises
    ------
    ScenarioError
        With every fault of the changes.
    """
    from surge_sim.engine.surges import workers

    surges, seed = whole_number("surges", surges, least=1), whole_number("seed", seed)
    design = design_of(scenario, alternatives_of(scenario, alternatives), seed, engine)
    plays = surges if design.replay is None else design.replay.plays(surges)
    with workers(processes, cluster) as place:
        played = play_design(design, plays, place, parts, progress)
    return Comparison(played, not_tried=not_tried)
