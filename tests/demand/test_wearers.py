"""Named wearers by hand."""

from datetime import datetime

import numpy as np
import pytest

from surge_sim.demand.trace import PatientTable
from surge_sim.demand.wearers import (
    WearerRule,
    _numbered,
    name_wearers,
    named_wearers,
    patient_groups,
)
from surge_sim.scenario.care import Role
from tests.demand.ward import draw

HOUR_S, DAY_S = 3_600, 86_400


def whole(values):
    return np.array(values, dtype=np.int64)


def groups(room, per_wearer):
    return patient_groups(whole(room), np.arange(len(room)), per_wearer).tolist()


def shifts(*clock):
    return Role.model_validate({"room_time": "5 min", "shifts": list(clock)}).shifts


def named(starts, due_h, group, start=datetime(2031, 3, 3)):
    """Name the wearers of one surge's entries; those of an empty surge before it are none."""
    due_s = whole([int(h * HOUR_S) for h in due_h])
    surge = np.ones(len(due_s), dtype=np.int64)
    wearer, surge_of, end_s = name_wearers(starts, start, surge, due_s, whole(group))
    assert set(surge_of.tolist()) == {1}
    return wearer.tolist(), (end_s / HOUR_S).tolist()


def test_rooms_are_grouped_by_number_and_boarded_patients_apart():
    """Two to a wearer: rooms 0-1, 2-3, 4; boarded patients 3 and 5 by their number."""
    group = groups([0, 1, 2, -1, 3, -1, 4], 2)
    assert group[0] == group[1] and group[2] == group[4]
    assert len({group[0], group[2], group[6], group[3], group[5]}) == 5


def test_a_group_keeps_its_rooms_whoever_lies_in_them():
    assert groups([0, 0, 1, 0], 1) == [0, 0, 1, 0]


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


def test_one_shift_a_day_ends_a_day_later_and_three_follow_each_other():
    assert named(shifts("08:00"), [7, 8, 31, 32], [0] * 4) == ([0, 1, 1, 2], [8, 32, 56])
    three = named(shifts("06:00", "14:00", "22:00"), [5, 6, 14, 22, 30], [0] * 5)
    assert three == ([0, 1, 2, 3, 4], [6, 14, 22, 30, 38])


def patients(*room):
    none = np.zeros(len(room), dtype=np.int64)
    return PatientTable(none, none, none, whole(room))


def test_each_surge_numbers_its_own_wearers_role_by_role():
    """Nurses have a room each and shifts from 7 and 19; the others all patients from 8 to 8.

    Surge 0: nurses of rooms 0 and 1 by day (wearers 0, 1), one of the others (2). Surge 1 has no
    patients. In surge 2 the boarded patient 1 has a nurse by night (1), and somebody of the others
    until 8 of the next day (2); urgent entries have no named wearer.
    """
    roles = (WearerRule(1, shifts("07:00", "19:00")), None, WearerRule(9, shifts("08:00")))
    surge = [0, 0, 0, 0, 2, 2, 2, 2]
    wearer, ends_s = named_wearers(
        roles,
        datetime(2031, 3, 3),
        [patients(0, 1), patients(), patients(0, -1)],
        whole(surge),
        patient=whole([0, 1, 0, 1, 2, 3, 3, 2]),
        due_s=whole([8, 9, 10, 11, 12, 20, 21, 22]) * HOUR_S,
        role=whole([0, 0, 2, 1, 0, 0, 2, 0]),
        urgent=np.array([False] * 7 + [True]),
    )
    assert wearer.tolist() == [0, 1, 2, -1, 0, 1, 2, -1]
    assert [(end_s / HOUR_S).tolist() for end_s in ends_s] == [[19, 19, 32], [], [19, 31, 32]]


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
        arrivals={"baseline": None, "present_at_start": 1, "stay_at_start": "full"},
        classes={"ward": {"isolation": "10 h", "entries": {"nurse": "100 per day"}}},
        roles={"nurse": {"room_time": "6 min", "patients_per_wearer": 4}},
        rooms={"count": 2, "air_changes": "12 per h", "terminal_clean": clean},
    )
    assert trace.due_s[-1] == 10 * HOUR_S and trace.room_s[-1] == 900
    assert trace.wearer[-1] == trace.wearer[-2] == 1
    assert trace.shift_end_s.tolist() == [7 * HOUR_S, 19 * HOUR_S]
