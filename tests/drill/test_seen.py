"""What staff see, counted a second time from what the engine keeps of use over time."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from surge_sim.drill.branches import Surges
from surge_sim.drill.seen import _USES, seen
from surge_sim.engine.log import Count, Kind, Use
from surge_sim.engine.play import play
from surge_sim.equipment.kits import Missing
from surge_sim.equipment.stock import Stock
from surge_sim.scenario.exercise import load_exercise
from surge_sim.units import HOUR_S
from tests.drill.small import SCENARIO, SHIPPED, loaded, small
from tests.engine.tiny import settings, tiny_trace


@pytest.mark.parametrize("choices", [(0, 0), (1, 2), (2, 1)])
def test_seconds_in_each_state_add_up_to_the_use_that_the_engine_keeps(tmp_path, choices):
    """At every second of ten hours; the engine adds up its own way. Kits that come later on loan
    are away in its use and are not seen.
    """
    exercise = loaded(tmp_path)
    case = Surges(exercise).surge(3).situation(choices)
    log = play(*case, events=True)
    everything = seen(case, log, range(1, 10 * HOUR_S + 1))
    names = dict(_USES) | {"at_door": Use.ENTRIES_WAITING}
    for name, use in names.items():
        column = getattr(everything, name)
        if name == "kits_ready":  # the engine asks for no hood
            column = column + everything.kits_without_hood + everything.kits_without_tube
        if (column == -1).all():  # cannot be in this ward
            assert not log.use_area[use].any()
            continue
        column = column.reshape(10, HOUR_S).sum(axis=1)
        assert_array_equal(column, log.use_area[use, :10], err_msg=name)


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_kits_and_batteries_are_never_lost(path):
    exercise = load_exercise(path)
    surge = Surges(exercise).surge(2)
    case = surge.situation(exercise.paths[0])
    log = play(*case, events=True)
    everything = seen(case, log, range(0, exercise.file.length, 600))
    batteries = sum(
        np.maximum(getattr(everything, one), 0) for one in _USES if one.startswith("batteries")
    )
    assert (batteries <= case.stock.batteries).all()
    assert batteries[0] == case.stock.batteries


def test_parts_at_the_end_are_those_owned_and_delivered_less_those_used(tmp_path):
    """Four kits and 60 spare hoods; at the end no kit has one on: each is thrown away after use."""
    exercise = loaded(tmp_path)
    case = Surges(exercise).surge(3).situation((0, 0))
    log = play(*case, events=True)
    last = seen(case, log, [case.demand.closing_s])
    delivered = 60 * ((log.events[:, 1] == Kind.DELIVERED) & (log.events[:, 5] == 0)).sum()
    assert last.kits_in_use.tolist() == [0]
    assert last.hoods[0] == 64 + delivered - log.counts[Count.HOODS_USED]
    assert last.tubes.tolist() == [-1]


@pytest.mark.parametrize("choices", [(0, 0), (1, 2), (2, 2)])
def test_no_hood_is_seen_whenever_the_first_in_line_lacks_one(tmp_path, choices):
    """And there is one whenever the first in line lacks something else alone. None is reserved."""
    few = SCENARIO.replace(
        "spare: 60, reorder_point: 40, order_quantity: 60",
        "spare: 8, reorder_point: 2, order_quantity: 9",
    )
    exercise = load_exercise(small(tmp_path, scenario=few))
    case = Surges(exercise).surge(3).situation(choices)
    log = play(*case, events=True)
    told = log.events[log.events[:, 1] == Kind.FIRST_IN_LINE]
    hoods = seen(case, log, told[:, 0] + 1).hoods
    lacks = (told[:, 5] & Missing.HOOD) > 0
    assert lacks.sum() > 2
    assert (hoods[lacks] == 0).all()
    assert (~lacks).any()
    assert (hoods[~lacks] > 0).all()


def test_the_line_by_hand():
    """One kit. A is in from 0 to 30 min, B comes at 10 and C at 20; B takes the kit at 30 and is
    done at 60.
    """
    trace = tiny_trace(settings(), need=[0, 10, 20], room=30)
    case = trace.situation(Stock(kits=1, batteries=3, bays=1))
    log = play(*case, events=True)
    minutes = [5, 10, 15, 25, 30, 31, 60, 61]
    found = seen(case, log, [60 * one for one in minutes])
    # what happens in the second of a moment is not seen yet
    assert found.at_door.tolist() == [0, 0, 1, 2, 2, 1, 1, 0]
    assert (found.longest_wait_s / 60).tolist() == [0, 0, 5, 15, 20, 11, 40, 0]
    assert found.kits_in_use.tolist() == [1] * 8
    assert found.kits_ready.tolist() == [0] * 8
    assert found.at(2)["at_door"] == 1


def test_hoods_of_each_size_are_seen_apart():
    """Two kits, each with its hood, and two large hoods. From 1 to 31 one is on a kit whose own
    hood is on the shelf, and torn then; from 5 to 35 the other kit has its own hood on.
    """
    supplies = {"hoods": {"spare": "0"}, "large_hoods": {"spare": "2"}}
    changed = settings(supplies=supplies)
    trace = tiny_trace(changed, need=[1, 5], room=30, large_hood=[0], hood_torn=[0])
    case = trace.situation(Stock(kits=2, batteries=3, bays=1))
    found = seen(case, play(*case, events=True), [0, 61, 600, 1_900, 9_000])
    assert found.hoods.tolist() == [2, 2, 1, 1, 2]
    assert found.large_hoods.tolist() == [2, 1, 1, 1, 1]


def test_at_the_start_all_is_in_its_place():
    trace = tiny_trace(settings(), need=[10], room=30)
    case = trace.situation(Stock(kits=2, batteries=3, bays=1))
    found = seen(case, play(*case, events=True), [0])
    assert found.kits_ready.tolist() == [2]
    assert found.batteries_on_shelf.tolist() == [3]
    assert found.kits_in_use.tolist() == [0]


def test_patients_are_counted_in_rooms_and_elsewhere(tmp_path):
    exercise = loaded(tmp_path)
    surge = Surges(exercise).surge(3)
    case = surge.situation((0, 0))
    found = seen(case, play(*case, events=True), [1, 5 * HOUR_S])
    patients = surge.demand.patients
    assert found.in_rooms[0] == 4
    there = (patients.arrive_s < 5 * HOUR_S) & (patients.leave_s >= 5 * HOUR_S)
    assert found.in_rooms[1] + found.boarded[1] == np.count_nonzero(there)


def test_staff_on_duty_and_bays_with_power_are_seen(tmp_path):
    """The cleaner is away from 09:00 to 11:00, and there is no power from 11:30 to 13:00."""
    exercise = loaded(tmp_path)
    case = Surges(exercise).surge(3).situation((0, 0))
    minutes = [0, 120, 121, 240, 241, 270, 271, 360, 361]
    found = seen(case, play(*case, events=True), [60 * one for one in minutes])
    # what happens in the second of a moment is not seen yet
    assert found.cleaners.tolist() == [1, 1, 0, 0, 1, 1, 1, 1, 1]
    assert found.bays_charging.tolist() == [3, 3, 3, 3, 3, 3, 0, 0, 3]


@pytest.mark.parametrize(("choice", "lent"), [(0, 0), (1, 2)])
def test_kits_that_are_recalled_are_seen(tmp_path, choice, lent):
    """Two of four from 09:00 to 11:00; two on loan from 09:30 to 15:30, if they were asked for."""
    recall = ("{what: cleaning crew absent, lasts: 2 h}", "{what: kits recalled, kits: 2, "
              "lasts: 2 h}")  # fmt: skip
    exercise = loaded(tmp_path, recall)
    case = Surges(exercise).surge(3).situation((choice, 0))
    moments = range(0, 8 * HOUR_S, 60)
    found = seen(case, play(*case, events=True), moments)
    kits = sum(getattr(found, one) for one in _USES if one.startswith("kits"))
    kits = kits + found.kits_without_hood
    here = np.where(np.array(moments) > 150 * 60, lent, 0)
    assert_array_equal(kits + found.kits_recalled, 4 + here)
    assert found.kits_recalled.max() == 2
    assert not found.kits_recalled[:121].any() and not found.kits_recalled[241:].any()


def test_a_clean_kit_is_ready_only_with_a_hood_for_it(tmp_path):
    """Few hoods: clean kits are ready as far as hoods go, and the others are shown without one."""
    few = SCENARIO.replace(
        "spare: 60, reorder_point: 40, order_quantity: 60",
        "spare: 8, reorder_point: 2, order_quantity: 9",
    )
    exercise = load_exercise(small(tmp_path, scenario=few))
    case = Surges(exercise).surge(3).situation((0, 0))
    found = seen(case, play(*case, events=True), range(0, 10 * HOUR_S, 60))
    lacks = found.kits_without_hood > 0
    assert lacks.any() and not lacks.all()
    assert_array_equal(found.kits_ready[lacks], found.hoods[lacks])
    assert (found.kits_ready[~lacks] <= found.hoods[~lacks]).all()
    assert not found.kits_without_tube.any()


def test_kits_that_a_reserve_keeps_are_seen_among_those_on_the_shelf(tmp_path):
    """One kit is kept from 11:30 on, if it is on the shelf."""
    exercise = loaded(tmp_path)
    case = Surges(exercise).surge(3).situation((0, 1))
    moments = range(60, 10 * HOUR_S, 60)
    found = seen(case, play(*case, events=True), moments)
    later = np.array(moments) > 270 * 60
    assert not found.kits_reserved[~later].any()
    assert_array_equal(found.kits_reserved[later], np.minimum(found.kits_ready[later], 1))
    assert found.kits_reserved.any()
