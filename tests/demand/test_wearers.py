"""Named wearers by hand."""

from datetime import datetime

import numpy as np
import pytest

from surge_sim.demand.trace import PatientTable
from surge_sim.demand.wearers import _numbered, name_wearers, patient_groups
from surge_sim.scenario.care import Role
from tests.demand.ward import draw

HOUR_S, DAY_S = 3_600, 86_400


def table(room):
    none = np.zeros(len(room), dtype=np.int64)
    return PatientTable(none, none, none, np.array(room, dtype=np.int64))


def shifts(*clock):
    return Role.model_validate({"room_time": "5 min", "shifts": list(clock)})


def named(role, due_h, group, start=datetime(2031, 3, 3)):
    due_s = np.array([int(h * HOUR_S) for h in due_h], dtype=np.int64)
    wearer, end_s = name_wearers(role, start, due_s, np.array(group, dtype=np.int64))
    return wearer.tolist(), (end_s / HOUR_S).tolist()


def test_rooms_are_grouped_by_number_and_boarded_patients_apart():
    """Two to a wearer: rooms 0-1, 2-3, 4; boarded patients 3 and 5 by their number."""
    group = patient_groups(table([0, 1, 2, -1, 3, -1, 4]), 2).tolist()
    assert group[0] == group[1] and group[2] == group[4]
    assert len({group[0], group[2], group[6], group[3], group[5]}) == 5


def test_a_group_keeps_its_rooms_whoever_lies_in_them():
    assert patient_groups(table([0, 0, 1, 0]), 1).tolist() == [0, 0, 1, 0]


def test_wearer_changes_with_the_shift():
    """Shifts from 7 and 19: nights belong to the shift that began the evening before."""
    day_and_night = shifts("07:00", "19:00")
    wearer, end_h = named(day_and_night, [0, 6.99, 7, 18.99, 19, 26, 31], [0] * 7)
    assert wearer == [0, 0, 1, 1, 2, 2, 3]
    assert end_h == [7, 19, 31, 43]


def test_each_group_has_its_own_wearer_and_a_wearer_without_entries_is_not_named():
    wearer, end_h = named(shifts("07:00", "19:00"), [8, 8, 9, 20, 20], [0, 2, 0, 1, 0])
    assert wearer == [0, 1, 0, 3, 2]
    assert end_h == [19, 19, 31, 31]


def test_shifts_are_of_the_clock_when_the_surge_begins_at_noon():
    wearer, end_h = named(
        shifts("07:00", "19:00"), [0, 6.5, 7, 18.5, 19], [0] * 5, datetime(2031, 3, 3, 12)
    )
    assert wearer == [0, 0, 1, 1, 2]
    assert end_h == [7, 19, 31]


def test_one_shift_a_day_ends_a_day_later_whatever_the_order_they_are_given_in():
    assert named(shifts("08:00"), [7, 8, 31, 32], [0] * 4) == ([0, 1, 1, 2], [8, 32, 56])
    three = named(shifts("14:00", "22:00", "06:00"), [5, 6, 14, 22, 30], [0] * 5)
    assert three == ([0, 1, 2, 3, 4], [6, 14, 22, 30, 38])


def test_numbering_by_table_and_by_sorting_agree():
    keys = np.random.default_rng(1).integers(0, 5_000, 2_000)
    by_table, by_sorting = _numbered(keys, 5_000), _numbered(keys, 10**9)
    for one, other in zip(by_table, by_sorting, strict=True):
        assert one.tolist() == other.tolist()


@pytest.mark.parametrize("per_wearer", [1, 4])
def test_wearers_of_a_ward_look_after_their_rooms_in_their_shift(per_wearer):
    roles = {
        "nurse": {"room_time": "6 min", "patients_per_wearer": per_wearer},
        "physician": {"room_time": "6 min", "patients_per_wearer": 6, "shifts": ["08:00"]},
        "other": {"room_time": "6 min"},
    }
    entries = {"nurse": "20 per day", "physician": "5 per day", "other": "5 per day"}
    trace = draw(
        seed=8,
        roles=roles,
        classes={"ward": {"entries": entries}},
        rooms={"count": 9, "air_changes": "12 per h"},
        arrivals={"baseline": "6 per day"},
    )
    room = trace.patients.room[trace.patient]
    assert (room < 0).any()
    assert set(trace.wearer[trace.role == 2].tolist()) == {-1}
    assert sorted(set(trace.wearer.tolist())) == list(range(-1, len(trace.shift_end_s)))
    for wearer, end_s in enumerate(trace.shift_end_s.tolist()):
        theirs = trace.wearer == wearer
        (role,) = set(trace.role[theirs].tolist())
        length_s = (12 if role == 0 else 24) * HOUR_S
        assert trace.due_s[theirs].max() < end_s
        assert trace.due_s[theirs].min() >= end_s - length_s
        size = per_wearer if role == 0 else 6
        if (room[theirs] >= 0).all():
            assert len(set((room[theirs] // size).tolist())) == 1
        else:
            assert (room[theirs] < 0).all()
            assert len(set(trace.patient[theirs].tolist())) <= size


def test_the_nurse_who_visits_also_does_the_terminal_clean():
    clean = {"role": "nurse", "when": "with a kit", "room_time": "15 min"}
    trace = draw(
        arrivals={"baseline": None, "present_at_start": 1},
        classes={"ward": {"isolation": "10 h", "entries": {"nurse": "100 per day"}}},
        roles={"nurse": {"room_time": "6 min", "patients_per_wearer": 4}},
        rooms={"count": 2, "air_changes": "12 per h", "terminal_clean": clean},
    )
    assert trace.due_s[-1] == 10 * HOUR_S and trace.room_s[-1] == 900
    assert trace.wearer[-1] == trace.wearer[-2] == 1
    assert trace.shift_end_s.tolist() == [7 * HOUR_S, 19 * HOUR_S]
