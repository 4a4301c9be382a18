"""Named wearers by hand."""

import numpy as np
import pytest

from surge_sim.demand.entries import name_wearers, patient_groups
from surge_sim.demand.patients import Patients
from surge_sim.demand.plan import plan_of
from surge_sim.demand.rooms import BOARDED, DIVERTED, places_of
from tests.demand.ward import MONDAY, draw, settings

HOUR_S, DAY_S = 3_600, 86_400
DAY_AND_NIGHT = ["07:00", "19:00"]


def whole(values):
    return np.array(values, dtype=np.int64)


def named(roles, room, due_h, patient, start=MONDAY, role=None, urgent=()):
    """Name the wearers of the entries of patients in these rooms, by the scenario's roles.

    Without ``role`` all entries are of the first one; ``urgent``: numbers of the urgent entries.
    """
    plan = plan_of(settings(start=start, horizon="5 d", roles=roles, classes=NO_VISITS))
    entries = {
        "due_s": whole([int(h * HOUR_S) for h in due_h]),
        "role": whole(role or [0] * len(due_h)),
        "patient": whole(patient),
        "urgent": np.isin(np.arange(len(due_h)), urgent),
    }
    found = name_wearers(plan, whole(room), entries)
    return found.wearer.tolist(), (found.shift_end_s / HOUR_S).tolist()


NO_VISITS = {"ward": {"entries": {"nurse": "0 per day"}}}


def nurses(*shifts, patients=1):
    return {
        "nurse": {
            "room_time": "5 min", "patients_per_wearer": patients, "shifts": list(shifts),
        }
    }  # fmt: skip


def groups(room, per_wearer):
    return patient_groups(whole(room), per_wearer).tolist()


def test_rooms_are_grouped_by_number_and_so_are_the_places_of_boarded_patients():
    """Two to a wearer: rooms 0-1, 2-3, 4; the first two boarded patients, and the third."""
    assert groups([0, 1, 2, -1, 3, -2, 4, -3], 2) == [0, 0, 1, -1, 1, -1, 2, -2]


def test_boarded_patients_take_the_lowest_place_that_is_free():
    """One room. Patients 1, 2 and 3 are boarded; when 1 leaves at 5 its place is free for 4."""
    arrive, leave = whole([0, 1, 2, 3, 5]), whole([9, 5, 9, 9, 9])
    patients = Patients(arrive, leave, whole([0] * 5), whole([0] * 5), np.arange(5))
    room = whole([0, BOARDED, BOARDED, BOARDED, BOARDED])
    assert places_of(room, patients).tolist() == [0, -1, -2, -3, -1]
    diverted = whole([0, DIVERTED, DIVERTED, DIVERTED, DIVERTED])
    assert places_of(diverted, patients).tolist() == diverted.tolist()


def test_boarded_patients_are_shared_out_among_as_few_wearers_as_those_in_rooms():
    """One room and ten who stay on: of nine boarded, three wearers have four, four and one."""
    trace = draw(
        arrivals={"baseline": None, "initial_census": 10, "initial_stay": "full"},
        classes={"ward": {"length_of_isolation": "10 d", "entries": {"nurse": "24 per day"}}},
        roles={"nurse": {"room_time": "6 min", "patients_per_wearer": 4, "shifts": ["00:00"]}},
        rooms={"count": 1, "air_changes": "12 per h"},
    )
    first = trace.due_s < 18 * HOUR_S
    whose = {
        wearer: len(set(trace.patient[first & (trace.wearer == wearer)].tolist()))
        for wearer in set(trace.wearer[first].tolist())
    }
    assert sorted(whose.values()) == [1, 1, 4, 4]


def test_a_group_keeps_its_rooms_whoever_lies_in_them():
    assert groups([0, 0, 1, 0], 1) == [0, 0, 1, 0]


def test_wearer_changes_with_the_shift():
    """Shifts from 7 and 19: nights belong to the shift that began the evening before."""
    due_h = [0, 6.99, 7, 18.99, 19, 26, 31]
    wearer, end_h = named(nurses(*DAY_AND_NIGHT), [0], due_h, [0] * 7)
    assert wearer == [0, 0, 1, 1, 2, 2, 3]
    assert end_h == [7, 19, 31, 43]


def test_each_group_has_its_own_wearer_and_a_wearer_without_entries_is_not_named():
    rooms, patients = [0, 1, 2], [0, 2, 0, 1, 0]
    wearer, end_h = named(nurses(*DAY_AND_NIGHT), rooms, [8, 8, 9, 20, 20], patients)
    assert wearer == [0, 1, 0, 3, 2]
    assert end_h == [19, 19, 31, 31]


def test_shifts_are_of_the_clock_when_the_surge_begins_at_noon():
    due_h = [0, 6.5, 7, 18.5, 19]
    wearer, end_h = named(nurses(*DAY_AND_NIGHT), [0], due_h, [0] * 5, "2031-03-03T12:00")
    assert wearer == [0, 0, 1, 1, 2]
    assert end_h == [7, 19, 31]


def test_one_shift_a_day_ends_a_day_later_and_three_follow_each_other():
    one = named(nurses("08:00"), [0], [7, 8, 31, 32], [0] * 4)
    assert one == ([0, 1, 1, 2], [8, 32, 56])
    three = named(nurses("06:00", "14:00", "22:00"), [0], [5, 6, 14, 22, 30], [0] * 5)
    assert three == ([0, 1, 2, 3, 4], [6, 14, 22, 30, 38])


def test_wearers_are_numbered_role_by_role():
    """Nurses have a room each and shifts from 7 and 19; the others all patients from 8 to 8.

    Nurses of room 0 and of the boarded patient 1 by day (wearers 0, 1) and of the boarded one by
    night (2); one of the others until 8 of the next day (3); porters and urgent entries have no
    named wearer.
    """
    roles = nurses(*DAY_AND_NIGHT) | {
        "porter": {"room_time": "5 min"},
        "other": nurses("08:00", patients=9)["nurse"],
    }
    wearer, end_h = named(
        roles, [0, -1], [8, 9, 10, 11, 20, 21, 22], [0, 1, 0, 1, 1, 1, 0],
        role=[0, 0, 2, 1, 0, 2, 0], urgent=[6],
    )  # fmt: skip
    # two groups of the others: rooms and boarded patients are grouped apart
    assert wearer == [0, 1, 3, -1, 2, 4, -1]
    assert end_h == [19, 19, 31, 32, 32]


def test_of_each_wearer_the_role_and_the_group_of_patients_are_known():
    """Three rooms in twos: groups 0 and 1; the boarded patients 3 to 5 are groups -1 and -2.

    By night the nurse of group -2 alone; aides have a patient each.
    """
    roles = nurses(*DAY_AND_NIGHT, patients=2) | {"aide": nurses("07:00")["nurse"]}
    plan = plan_of(settings(roles=roles, classes=NO_VISITS, horizon="2 d"))
    entries = {
        "due_s": whole([8, 8, 9, 9, 10, 20]) * HOUR_S,
        "role": whole([0, 0, 0, 0, 1, 0]),
        "patient": whole([5, 2, 0, 3, 4, 5]),
        "urgent": np.zeros(6, dtype=bool),
    }
    found = name_wearers(plan, whole([0, 1, 2, -1, -2, -3]), entries)
    assert found.wearers.tolist() == [[0, 0], [0, 1], [0, -1], [0, -2], [0, -2], [1, -2]]
    assert found.wearer.tolist() == [3, 1, 0, 2, 5, 4]
    assert (found.shift_end_s / HOUR_S).tolist() == [19, 19, 19, 19, 31, 31]
    assert not found.wearers.flags.writeable


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
            # side by side: no more than their places at any time
            boarded = set(trace.patient[theirs].tolist())
            stays = [(trace.patients.arrive_s[one], trace.patients.leave_s[one]) for one in boarded]
            together = [sum(a <= at < b for a, b in stays) for at, _ in stays]
            assert max(together) <= size


def test_the_nurse_who_visits_also_does_the_terminal_clean():
    clean = {"role": "nurse", "when": "with a kit", "room_time": "15 min"}
    trace = draw(
        arrivals={"baseline": None, "initial_census": 1, "initial_stay": "full"},
        classes={"ward": {"length_of_isolation": "10 h", "entries": {"nurse": "100 per day"}}},
        roles={"nurse": {"room_time": "6 min", "patients_per_wearer": 4}},
        rooms={"count": 2, "air_changes": "12 per h", "terminal_clean": clean},
    )
    assert trace.due_s[-1] == 10 * HOUR_S and trace.room_s[-1] == 900
    assert trace.wearer[-1] == trace.wearer[-2] == 1
    assert trace.shift_end_s.tolist() == [7 * HOUR_S, 19 * HOUR_S]
