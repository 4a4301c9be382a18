"""Settings that must collapse to something simple: ample, none, one, all at once, twice as much."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import surge_sim
from surge_sim.engine.log import Outcome, Use
from tests.validation.catalogue.tool_lines import late
from tests.validation.check import FALSE_ALARM as EACH
from tests.validation.formulas.queues import ConstantService, erlang_c
from tests.validation.formulas.stocks import backorders
from tests.validation.scenes import (
    DAY,
    HOUR,
    MINUTE,
    IntArray,
    batch_mean,
    demand,
    line,
    plain_pool,
    played,
    poisson_log,
    services,
)

MANY = 3000
USE_S = 30 * MINUTE

#: chance that this file fails although the program is right: two comparisons with theory of pooled
#: lines, one with a pipeline, and three with bounds that lie far beyond
FALSE_ALARM = 6 * EACH


def arrivals(load: float) -> IntArray:
    """Entries of a log, `load` in an hour."""
    return poisson_log(round(3000 + 100 * load), load, HOUR, MANY)


def cycle(kits: int, batteries: int, bays: int, wipe: str, charge: str) -> dict[str, Any]:
    """Kits with a wipe-down and batteries that are charged in so long after 30 min of use."""
    return plain_pool(
        kits, 100 * DAY,
        kit={"levels": [{"run_time": "8 h"}]},
        # 30 min of 8 h are a sixteenth, on a straight curve
        batteries={"charge_time": charge, "constant_current_to": "50 %",
                   "constant_current_time": "50 %", "end_of_charge": "straight",
                   "minimum_run_time": "8 h"},
        charging={"partial_charge_at_reissue": "no"},
        cleaning={"wipe_down": wipe},
        stock={"kits": kits, "batteries": batteries, "bays": bays},
    )  # fmt: skip


def waits(scene: dict[str, Any], due_s: IntArray) -> IntArray:
    """Waits of visits of 30 min."""
    return played(scene, due_s=due_s, room_s=np.full(len(due_s), USE_S)).wait_s


def test_kits_with_a_wipe_down_and_batteries_with_a_charge_are_the_same_line() -> None:
    """(a) and (b): 7 things of which each is away for 60 min, whether they are the kits (ample
    batteries) or the batteries (ample kits, ample bays): the same waits, entry by entry.
    """
    due_s = arrivals(6.3)
    kits = waits(cycle(7, 200, 200, "30 min", "0 s"), due_s)
    batteries = waits(cycle(200, 7, 200, "0 s", "8 h"), due_s)
    server = line(7, due_s, np.full(MANY, HOUR)).wait_s
    assert (server > 0).mean() > 0.2
    np.testing.assert_array_equal(kits, server)
    np.testing.assert_array_equal(batteries, server)


def test_bays_that_bind_let_through_no_more_than_they_charge() -> None:
    """(d): 2 bays of 30 min let 4 an hour through; 6 an hour come, so waits grow in a line."""
    due_s = np.arange(MANY, dtype=np.int64) * (10 * MINUTE)
    grown = waits(cycle(50, 10, 2, "0 s", "8 h"), due_s)
    # every 15 min one more is served, every 10 min one comes: 5 min of wait more with each
    np.testing.assert_array_equal(np.diff(grown[100:].reshape(-1, 2)[:, 0]), 2 * 5 * MINUTE)
    enough = waits(cycle(50, 10, 3, "0 s", "8 h"), due_s)
    assert enough.max() == 0


def test_batteries_that_charge_in_no_time_never_bind() -> None:
    """(e) and (j): as many batteries as kits and a charge of no length: ample batteries."""
    due_s = arrivals(6.3)
    one_each = waits(cycle(7, 7, 1, "25 min", "0 s"), due_s)
    ample = waits(cycle(7, 300, 300, "25 min", "0 s"), due_s)
    assert (ample > 0).mean() > 0.05
    np.testing.assert_array_equal(one_each, ample)


def test_without_cleaning_and_faults_a_kit_is_a_server() -> None:
    """(c) and (f): an empty list of faults and no wipe-down change nothing at all."""
    due_s, room_s = arrivals(3.4), services(3, "exponential", HOUR, MANY)
    bare = line(4, due_s, room_s)
    named = line(
        4, due_s, room_s, failures={"hood_damage": "0 %", "tube_damage": "0 %"}, timeline=[]
    )
    np.testing.assert_array_equal(bare.wait_s, named.wait_s)


def test_one_entry_waits_for_nothing() -> None:
    """(g): a kit is there, so the wait is none and the use is the visit."""
    one = line(1, np.array([600]), np.array([900]))
    assert one.wait_s.tolist() == [0]
    assert one.log.end_s.tolist() == [1500]


@pytest.mark.parametrize("missing", ["kits", "batteries"])
def test_with_no_stock_everyone_is_left_waiting(missing: str) -> None:
    """(h): it ends, nobody is served, and each wait lasts until the play closes."""
    stock = {"kits": 3, "batteries": 3, "bays": 3, missing: 0}
    scene = plain_pool(3, DAY, run_out="1 d", stock=stock)
    log = played(scene, due_s=np.array([0, 60, 7200]), room_s=np.full(3, 300)).log
    assert set(log.outcome.tolist()) == {Outcome.WAITING_AT_END}
    assert log.wait_s.tolist() == [2 * DAY, 2 * DAY - 60, 2 * DAY - 7200]


def test_with_no_bay_each_battery_serves_until_it_is_spent() -> None:
    """(h): 2 batteries of 8 h and visits of 8 h: two are served, the third waits for ever."""
    scene = cycle(9, 2, 0, "0 s", "8 h")
    log = played(scene, due_s=np.zeros(3, np.int64), room_s=np.full(3, 8 * HOUR)).log
    assert log.outcome.tolist() == [Outcome.SERVED, Outcome.SERVED, Outcome.WAITING_AT_END]


def test_all_at_once_are_served_in_their_order() -> None:
    """(i): 10 come in one second to 3 kits, visits of 20 min: three by three."""
    log = line(3, np.zeros(10, np.int64), np.full(10, 20 * MINUTE)).log
    assert (log.wait_s // MINUTE).tolist() == [0, 0, 0, 20, 20, 20, 40, 40, 40, 60]


@pytest.mark.slow
def test_twice_the_entries_and_twice_the_kits_wait_less() -> None:
    """(k): pooling (Smith & Whitt 1981): share waiting .554 with 5 kits, .409 with 10 at the
    same load per kit. False alarm: that of the catalogue for each of the two, and they lie far
    apart.
    """
    small, large = late(5, 4.0), late(10, 8.0)
    assert abs(small.value - erlang_c(5, 4.0)) <= small.margin
    assert abs(large.value - erlang_c(10, 8.0)) <= large.margin
    assert small.value - small.margin > large.value + large.margin


@pytest.mark.slow
def test_palm_is_a_lower_bound_and_only_that() -> None:
    """A kit's cycle begins when the entry starts, not when it is wanted: with 2 kits and a
    pipeline of 1 (wipe-down included) more wait than Palm's .1036 (Sherbrooke 1968, from
    memory): as many as in an M/D/2 line. With many kits the two agree on nobody waiting.
    False alarm: that of the catalogue for each of the two.
    """
    due_s = poisson_log(4711, 1.0, HOUR, 70_000)
    scene = plain_pool(2, int(due_s[-1]) + 1, cleaning={"wipe_down": "30 min"})
    log = played(scene, due_s=due_s, room_s=np.full(len(due_s), USE_S)).log
    waiting = batch_mean(log.use_area[Use.ENTRIES_WAITING] / HOUR)
    assert waiting.value - waiting.margin > backorders(2, 1.0)
    expected = ConstantService(1.0, 2).mean_wait
    assert abs(waiting.value - expected) <= waiting.margin
    many = line(30, due_s, np.full(len(due_s), HOUR)).wait_s
    assert many.max() == 0


def test_waiting_entries_are_rate_times_wait() -> None:
    """Little's law (1961) holds on every path: area of waiting = sum of waits, to the second."""
    due_s, room_s = arrivals(3.6), services(8, "exponential", HOUR, MANY)
    scene = plain_pool(4, int(due_s[-1]) + 30 * DAY)
    log = played(scene, due_s=due_s, room_s=room_s).log
    assert log.wait_s.sum() > 0
    assert log.use_area[Use.ENTRIES_WAITING].sum() == log.wait_s.sum()
    assert log.use_area[Use.KITS_IN_USE].sum() == room_s.sum()


def test_more_of_everything_never_delays_an_entry() -> None:
    """Uses all alike, first come first served: one kit, battery or bay more delays nobody."""
    due_s = arrivals(6.3)
    case = demand(cycle(6, 9, 4, "20 min", "10 h"), due_s=due_s, room_s=np.full(MANY, USE_S))
    stock = surge_sim.Stock(kits=6, batteries=9, bays=4)
    base = surge_sim.play(*case._replace(stock=stock)).wait_s
    assert base.max() > 0
    for more in ((7, 9, 4), (6, 10, 4), (6, 9, 5)):
        log = surge_sim.play(*case._replace(stock=surge_sim.Stock(*more)))
        assert (log.wait_s <= base).all(), more
