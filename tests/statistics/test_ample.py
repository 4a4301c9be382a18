"""Delays beyond ample stock, worked out by hand. Times in minutes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from surge_sim.engine.log import RunLog
from surge_sim.engine.play import Engine, play
from surge_sim.equipment.stock import Stock
from surge_sim.sizing.player import ScenarioSurge, Seen
from surge_sim.statistics.target import as_judged, delays, in_hand_with_ample_stock, late_entries
from tests.engine.tiny import MINUTE, HandMade, settings, tiny_trace

#: the only kit is out until 40; the wearer's visits are due at 10, 20 and 100
KEPT = tiny_trace(
    settings(), need=[0, 10, 20, 100], room=[40, 5, 5, 5], wearer=[-1, 0, 0, 0]
)  # fmt: skip


def played(trace: HandMade, kits: int = 1) -> tuple[tuple, RunLog]:
    case = trace.situation(Stock(kits, 9, 9))
    return case, play(*case)


def test_a_wearer_kept_by_a_wait_is_delayed_at_the_next_door_where_nothing_is_waited():
    """Waits 30 for the visit at 10, ends it at 45, and begins the one due at 20 then: 25 late."""
    case, log = played(KEPT)
    assert (log.wait_s / MINUTE).tolist() == [0, 30, 0, 0]
    assert (delays(case, log) / MINUTE).tolist() == [0, 30, 25, 0]


def test_a_visit_that_is_due_while_its_wearer_is_in_another_room_is_no_delay():
    """The visit due at 20 begins at 50 with any stock."""
    trace = tiny_trace(settings(), need=[10, 20], room=[40, 5], wearer=[0, 0])
    case, log = played(trace)
    assert (log.need_s / MINUTE).tolist() == [10, 50]
    assert delays(case, log).tolist() == [0, 0]


def test_without_named_wearers_a_delay_is_a_wait():
    trace = tiny_trace(settings(), need=[0, 10, 20], room=20)
    case, log = played(trace)
    assert delays(case, log).tolist() == log.wait_s.tolist()


def test_a_target_that_judges_by_delays_counts_them_as_late_and_one_by_waits_does_not():
    """Of waits of 0, 30, 0, 0 and delays of 0, 30, 25, 0, those above 5 are late."""
    case, log = played(KEPT)
    target = settings().target
    late = {}
    for late_by in ("wait", "delay"):
        judged = as_judged(case, log, target.model_copy(update={"late_by": late_by}))
        late[late_by] = late_entries(judged, 4, target.wait).tolist()
    assert late["wait"] == [False, True, False, False]
    assert late["delay"] == [False, True, True, False]


@pytest.mark.parametrize("entries", [3, 300])
def test_with_ample_stock_nobody_waits_for_any(entries: int):
    """So many come together; 64 kits, then 256, then 1,024 are tried."""
    trace = tiny_trace(settings(), need=[0] * entries, room=20)
    case = trace.situation(Stock(1, 1, 1))
    assert in_hand_with_ample_stock(case, "compiled").tolist() == [0] * entries


def test_ample_stock_is_not_delayed_beyond_itself_and_both_engines_say_the_same():
    """One kit: it is out until 40, then with the entry of 20 until 45, then with that of 10.

    Wearer 0 is in a room until 40 with any stock, so the visit due at 10 is delayed by 5 only.
    """
    trace = replace(KEPT, wearer=np.array([0, 0, 1, 1]), shift_end_s=np.array([90_000, 90_000]))
    case = trace.situation(Stock(64, 128, 64))
    log = play(*case)
    assert delays(case, log).tolist() == log.wait_s.tolist() == [0] * 4
    for engine in ("reference", "compiled"):
        few = trace.situation(Stock(1, 9, 9))
        assert (delays(few, play(*few), engine) / MINUTE).tolist() == [0, 5, 20, 0]


@pytest.mark.parametrize(("late_by", "late"), [("wait", 1), ("delay", 2)])
def test_a_sizing_judges_a_stock_as_the_target_says(late_by: str, late: int):
    """Of four entries one waits too long and two are delayed; three of four must be in time."""
    target = settings().target.model_copy(update={"late_by": late_by, "service_level": 0.75})
    surge = ScenarioSurge(KEPT.situation(Stock(0, 0, 0)), target, "compiled")
    few, ample = Stock(1, 9, 9), Stock(4, 9, 9)
    assert surge.row(few)[Seen.LATE] == late
    assert surge.kept(few) == (late == 1)
    assert (surge.missed(few) == 0) == (late == 1)
    assert surge.kept(ample)
    assert surge.row(ample)[Seen.LATE] == 0


def arrays_of(log: RunLog) -> dict[str, np.ndarray]:
    return {name: one for name, one in vars(log).items() if isinstance(one, np.ndarray)}


@pytest.mark.parametrize("engine", ["compiled", "reference"])
def test_what_a_play_found_cannot_be_changed_by_who_counts_it(engine: Engine) -> None:
    """Nor what is worked out of it: the same log is counted in several ways."""
    case = KEPT.situation(Stock(1, 9, 9))
    log = play(*case, engine=engine, events=True)
    target = settings().target.model_copy(update={"late_by": "delay"})
    judged = arrays_of(as_judged(case, log, target, engine))
    assert set(judged) == {*RunLog.COLUMNS, "delay_s", "events"}
    assert [name for name, one in judged.items() if one.flags.writeable] == []
