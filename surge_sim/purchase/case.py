"""The case for a purchase as one value: what document, workbook, JSON and screen are made of.

Every number is a cell of a table, rounded once, here, to six digits; whatever shows it, shows that
cell, and can name it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from surge_sim.demand.replay import Replay, replay_of
from surge_sim.equipment.average_load import all_warnings
from surge_sim.purchase.assumptions import INVENTED, Assumption, assumptions_of
from surge_sim.purchase.beside import NONE_BESIDE
from surge_sim.purchase.course import course_table, waiting_table
from surge_sim.purchase.demand import demand_table, higher_demand, ready_table
from surge_sim.purchase.life import Life, check_fit, life_of
from surge_sim.purchase.play import Played, play_stages
from surge_sim.purchase.request import request_table, waiting_by_item
from surge_sim.purchase.use import MEASURES, USED, used_per_surge
from surge_sim.statistics.intervals import Interval, mean_interval, quantile_over_surges
from surge_sim.statistics.warnings import no_entries

if TYPE_CHECKING:
    from surge_sim.purchase.beside import AllBeside, Beside
    from surge_sim.purchase.by_wait import ByWait
    from surge_sim.purchase.demand import ForMore
    from surge_sim.purchase.sized import Sized
    from surge_sim.scenario.life_file import LifeInputs
    from surge_sim.scenario.load import Scenario
    from surge_sim.scenario.schema import Target


#: sections of a scenario without which there is no price and no need
_DECISIVE = ("arrivals", "entries", "prices", "stock")


class Cell(NamedTuple):
    """A number, and where it stands: the row as a spreadsheet counts, the header being row 1."""

    value: float | None
    file: str
    row: int
    column: str


@dataclass(frozen=True, eq=False)
class PurchaseCase:
    """All that the case for a purchase says."""

    sized: Sized
    #: calendar of plays: a recorded period, or None for simulated surges
    replay: Replay | None
    #: one row per surge that present and proposed stock were both played on
    same_surges: pd.DataFrame = field(repr=False)
    #: one row per measure: what doing nothing leaves as it is, and what the proposal changes
    doing_nothing: pd.DataFrame = field(repr=False)
    #: one row per surge: what is used with the proposed stock
    used_by_surge: pd.DataFrame = field(repr=False)
    #: the same with the stock in hand
    used_in_hand: pd.DataFrame = field(repr=False)
    #: one row per thing that is used: mean, spread, and what is enough in most surges
    used: pd.DataFrame = field(repr=False)
    #: every stage on these surges, counted at other target waits
    by_wait: ByWait = field(repr=False)
    #: how many are in each state over the days of a surge
    course: pd.DataFrame = field(repr=False)
    #: one row per cause of waiting, with the stock in hand and with the proposed one
    waiting: pd.DataFrame = field(repr=False)
    #: present and proposed stock with more patients; without rows for a log of entries
    demand: pd.DataFrame = field(repr=False)
    #: every input of the scenario, with its source
    assumptions: tuple[Assumption, ...] = field(repr=False)
    #: alternatives that were compared, and what matters, where they were given
    comparison: Beside | None = None
    study: Beside | None = None
    #: a sizing with more patients, where one was given
    more: ForMore | None = None
    #: what it costs to own the stocks over some years, where a file says how long things last
    life: Life | None = None
    #: what a careful reader should know
    notes: tuple[str, ...] = ()

    @property
    def scenario(self) -> Scenario:
        """The scenario that was sized."""
        return self.sized.scenario

    @property
    def target(self) -> Target:
        """The service target."""
        return self.scenario.settings.target

    @property
    def currency(self) -> str:
        """What money is counted in, as the scenario writes it."""
        return self.scenario.settings.prices.currency

    @property
    def money_unit(self) -> str:
        """The same without a mark that it is invented, for what says so once, at its head."""
        return self.currency.removesuffix("(invented)").strip() or self.currency

    @property
    def invented(self) -> list[str]:
        """What a decision rests on and is called invented: arrivals or entries, prices, stock."""
        told: dict[str, set[str]] = {}
        for one in self.assumptions:
            told.setdefault(one.section, set()).add(one.standing)
        if "(invented)" in self.currency:
            told["prices"] = {INVENTED}
        return [name for name in _DECISIVE if told.get(name) == {INVENTED}]

    @cached_property
    def tables(self) -> dict[str, pd.DataFrame]:
        """Tables that were made here, by name."""
        return {
            "same_surges": self.same_surges,
            "doing_nothing": self.doing_nothing,
            "used_by_surge": self.used_by_surge,
            "used": self.used,
            "by_wait": self.by_wait.table,
            "course": self.course,
            "waiting": self.waiting,
            "waiting_by_item": waiting_by_item(self.waiting),
            "request": request_table(self.sized),
            "used_in_hand": self.used_in_hand,
            **({} if self.demand.empty else {"higher_demand": self.demand}),
            **({} if self.more is None else {"ready_for_more": ready_table(self.sized, self.more)}),
            **({} if self.life is None else self.life.tables),
        }

    def stage(self, place: int, column: str) -> Cell:
        """Return a number of a stage of buying; stage 0 is the stock in hand."""
        return _cell(self.sized.tables["stages"], "sizing/tables/stages.csv", place, column)

    def tested(self, place: int, column: str) -> Cell:
        """Return a number of a stock that the sizing tested."""
        return _cell(self.sized.tables["tested"], "sizing/tables/tested.csv", place, column)

    def nothing(self, measure: str, column: str) -> Cell:
        """Return a number of the comparison with doing nothing."""
        place = list(self.doing_nothing["measure"]).index(measure)
        return _cell(self.doing_nothing, "tables/doing_nothing.csv", place, column)

    def use(self, what: str, column: str) -> Cell:
        """Return a number of what is used per surge."""
        place = list(self.used["what"]).index(what)
        return _cell(self.used, "tables/used.csv", place, column)

    def waited_for(self, place: int, column: str) -> Cell:
        """Return a number of what people wait for with the stock in hand."""
        table = self.sized.tables["cause_of_waiting_in_hand"]
        return _cell(table, "sizing/tables/cause_of_waiting_in_hand.csv", place, column)

    def of(self, name: str, place: int, column: str) -> Cell:
        """Return a number of a table that was made here."""
        return _cell(self.tables[name], f"tables/{name}.csv", place, column)

    def beside(self, sort: str, name: str, place: int, column: str) -> Cell:
        """Return a number of a table of the comparison or of the study that was given."""
        told = self.comparison if sort == "comparison" else self.study
        assert told is not None
        return _cell(told.tables[name], f"{sort}/tables/{name}.csv", place, column)

    def life_sum(self, name: str, column: str) -> Cell:
        """Return a sum over the life of the equipment."""
        assert self.life is not None
        return self.of("life", list(self.life.totals["sum"]).index(name), column)


def _cell(table: pd.DataFrame, file: str, place: int, column: str) -> Cell:
    raw = table[column].iloc[place]
    return Cell(None if pd.isna(raw) else float(raw), file, place + 2, column)


def purchase_case(
    sized: Sized,
    processes: int | None = None,
    progress: Callable[[int], object] | None = None,
    beside: AllBeside = NONE_BESIDE,
    life: LifeInputs | None = None,
) -> PurchaseCase:
    """Play what a sizing lacks: doing nothing beside the proposal, and what is used up.

    All stages meet the surges that the sizing's table of stages tells of, so the numbers that are
    in both are the same.

    Parameters
    ----------
    sized : Sized
        From :func:`surge_sim.purchase.sized.read_sized`.
    processes : int, optional
        Processes to share the work; the answer does not depend on it.
    progress : callable, optional
        Called with 1 each time that a surge is done.
    beside : AllBeside
        From :func:`surge_sim.purchase.beside.read_beside`.
    life : LifeInputs, optional
        From :func:`surge_sim.scenario.life_file.load_life`.
    """
    more = higher_demand(sized.scenario)
    if life is not None:
        check_fit(sized, life)
    played = play_stages(
        sized.scenario,
        sized.stages,
        sized.place,
        sized.same_surges,
        sized.seed,
        processes,
        progress,
        more,
    )
    replay = replay_of(sized.scenario)
    now, then = played.now, played.then
    same = _same_surges(now, then)
    by_surge = used_per_surge(then.summary, sized.scenario, sized.seed)
    used_now = used_per_surge(now.summary, sized.scenario, sized.seed)
    waited = tuple(same[f"{name}_hours_waited"] for name in ("in_hand", "proposed"))
    notes = [
        *no_entries(same["entries"].to_numpy(), replay),
        *all_warnings(sized.scenario, sized.proposed.kits, sized.proposed.batteries),
    ]
    # of an empty store the case says so at its head
    if not sized.new and not sized.as_in_scenario:
        notes.insert(0, "The stock in hand of the sizing is not that of the scenario.")
    return PurchaseCase(
        sized=sized,
        replay=replay,
        same_surges=same,
        doing_nothing=_doing_nothing(same, replay),
        used_by_surge=by_surge,
        used_in_hand=used_now,
        used=_used(
            by_surge,
            used_now,
            sized.scenario.settings.target,
            sized.scenario.settings.prices.currency,
            replay,
        ),
        by_wait=played.by_wait,
        course=course_table(played, sized.scenario.settings.horizon),
        waiting=waiting_table(played, sized.scenario.settings.cleaning.by == "crew"),
        demand=demand_table(played.more) if len(played.more) else pd.DataFrame(),
        life=None if life is None else life_of(sized, life, (used_now, by_surge), waited),
        assumptions=assumptions_of(sized.scenario),
        comparison=beside.comparison,
        study=beside.study,
        more=beside.more,
        notes=tuple(notes),
    )


def _same_surges(now: Played, then: Played) -> pd.DataFrame:
    table = pd.DataFrame({"surge": now.surges["surge"], "entries": now.surges["entries"]})
    for stock, result in (("in_hand", now), ("proposed", then)):
        for measure in MEASURES.values():
            table[f"{stock}_{measure.name}"] = _six(measure.of(result.surges))
    return table


def _doing_nothing(same: pd.DataFrame, replay: Replay | None) -> pd.DataFrame:
    rows = []
    for name, measure in MEASURES.items():
        now, then = same[f"in_hand_{name}"], same[f"proposed_{name}"]
        kinds = {"in_hand": now, "proposed": then, "difference": then - now}
        row: dict[str, object] = {"measure": name, "unit": measure.unit, "surges": len(same)}
        for kind, values in kinds.items():
            most = 1.0 if measure.is_share else math.inf
            least = -most if kind == "difference" else 0.0
            found = mean_interval(values.to_numpy(dtype=float), lowest=least, highest=most)
            row |= _limited(kind, found, replay)
        for kind in ("in_hand", "proposed"):
            values = kinds[kind]
            row |= {f"{kind}_median": _one(values.median()), f"{kind}_worst": _one(values.max())}
        rows.append(row)
    return pd.DataFrame(rows)


def _used(
    by_surge: pd.DataFrame,
    in_hand: pd.DataFrame,
    target: Target,
    currency: str,
    replay: Replay | None,
) -> pd.DataFrame:
    rows, share = [], target.share_of_surges
    for name, unit in USED.items():
        values = by_surge[name].to_numpy(dtype=float)
        unit = currency if name == "parts_price" else unit
        row: dict[str, object] = {"what": name, "unit": unit, "surges": len(values)}
        row |= {"in_hand_mean": _one(in_hand[name].mean())}
        row |= _limited("mean", mean_interval(values, lowest=0.0), replay)
        row |= {"least": _one(values.min()), "median": _one(np.median(values))}
        row |= {"most": _one(values.max()), "share_of_surges": share}
        row |= _limited("enough", quantile_over_surges(values, share), replay)
        rows.append(row)
    return pd.DataFrame(rows)


def _limited(name: str, found: Interval, replay: Replay | None) -> dict[str, float | None]:
    """Return an estimate and its limits as columns; plays of a recorded period have no limits."""
    low, high = (found.low, found.high) if replay is None else (None, None)
    return {name: _one(found.estimate), f"{name}_low": _one(low), f"{name}_high": _one(high)}


def _one(value: float | None) -> float | None:
    return None if value is None or np.isnan(value) else float(f"{value:.6g}")


def _six(values: pd.Series) -> pd.Series:
    return values.astype(float).map(lambda value: float(f"{value:.6g}"))
