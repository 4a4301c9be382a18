"""Patients: classes, stays, rooms, clusters, terminal cleans, an outbreak that was recorded."""

import numpy as np
import pytest

from surge_sim.demand.rooms import BOARDED, DIVERTED, give_rooms
from tests.demand.chance import share_agrees
from tests.demand.ward import draw

DAY_S, HOUR_S, MIN_S = 86_400, 3_600, 60

NOBODY_VISITS = {"ward": {"length_of_isolation": "1 d", "entries": {"nurse": "0 per day"}}}

# Probable cases of SARS by day, Canada, 23 February to 12 June 2003: Health Canada, as tabulated in
# de Vries, Hillen, Lewis, Mueller, Schoenfisch, A Course in Mathematical Biology, SIAM, 2006
SARS_2003 = [
    1, 0, 0, 1, 0, 1, 0, 0, 1, 0, 1, 0, 1, 0, 1, 1, 0, 2, 3, 0, 2, 2, 5, 7, 9, 7, 3, 4, 1, 4, 5, 7,
    7, 7, 7, 3, 3, 5, 3, 5, 7, 4, 4, 2, 3, 1, 1, 1, 0, 0, 2, 1, 3, 2, 0, 1, 0, 0, 1, 0, 0, 1, 0, 0,
    0, 1, 1, 1, 0, 1, 0, 0, 0, 1, 0, 2, 0, 3, 2, 2, 1, 2, 3, 4, 5, 5, 4, 6, 6, 4, 8, 5, 6, 7, 5, 9,
    1, 2, 3, 1, 1, 2, 0, 0, 0, 2, 0, 0, 0, 1,
]  # fmt: skip


def census(patients, at_s):
    return int(((patients.arrive_s <= at_s) & (patients.leave_s > at_s)).sum())


def test_recorded_outbreak_with_stays_of_24_days_peaks_at_114_patients_on_8_april(tmp_path):
    """All 250 cases on their days, exactly, and every stay 24 d; day 44 is 8 April."""
    rows = "\n".join(f"{day},{count}" for day, count in enumerate(SARS_2003, 1))
    (tmp_path / "cases.csv").write_text(f"day,patients\n{rows}\n")
    assert len(SARS_2003) == 110 and sum(SARS_2003) == 250
    patients = draw(
        folder=tmp_path,
        start="2003-02-23T00:00",
        horizon="140 d",
        arrivals={"baseline": None, "daily_counts": {"file": "cases.csv", "exact": "yes"}},
        classes={"ward": {"length_of_isolation": "24 d", "entries": {"nurse": "0 per day"}}},
    ).patients
    counts = np.bincount(patients.arrive_s // DAY_S, minlength=110)
    assert counts.tolist() == SARS_2003
    # patients of the day and of the 23 days before it
    by_day = [int(counts[max(0, day - 23) : day + 1].sum()) for day in range(110)]
    assert max(by_day) == 114 and by_day.index(114) == 44
    # at the end of that day all of them are in: those of 24 days ago have left
    assert census(patients, 45 * DAY_S - 1) == 114
    assert max(census(patients, (day + 1) * DAY_S - 1) for day in range(110)) == 114


def test_rooms_are_given_first_come_first_served_the_lowest_number_first():
    """Two rooms, 10 min shut: the third boards, the room of the first opens at 60 + 10."""
    given = give_rooms([0, 10, 20, 69, 70, 71], [60, 200, 300, 300, 300, 300], [10] * 6, 2, BOARDED)
    assert given == [0, 1, BOARDED, BOARDED, 0, BOARDED]


def test_boarded_patient_stays_boarded_though_a_room_opens():
    assert give_rooms([0, 5, 20], [10, 100, 30], [0] * 3, 1, BOARDED) == [0, BOARDED, 0]


def test_no_limit_means_a_room_for_everybody():
    assert give_rooms([0, 1, 2, 12], [10, 20, 20, 20], [0] * 4, None, BOARDED) == [0, 1, 2, 0]


def test_no_room_at_all_boards_everybody():
    assert give_rooms([0, 1], [5, 6], [0, 0], 0, DIVERTED) == [DIVERTED] * 2


def test_boarded_patients_are_visited_and_diverted_ones_are_not():
    crowd = dict(
        arrivals={"baseline": None, "clusters": [{"patients": 12, "at": "1 h"}]},
        classes={"ward": {"length_of_isolation": "5 d", "entries": {"nurse": "48 per day"}}},
    )
    rooms = {"count": 4, "air_changes": "12 per h"}
    board = draw(rooms=rooms | {"when_full": "board"}, **crowd)
    divert = draw(rooms=rooms | {"when_full": "divert"}, **crowd)
    assert (board.patients.room == BOARDED).sum() == 8
    # as the table of a surge's patients says
    assert set(board.patients.room.tolist()) == {0, 1, 2, 3, -1}
    assert set(divert.patients.room.tolist()) == {0, 1, 2, 3, -2}
    assert set(board.patient.tolist()) == set(range(12))
    assert (divert.patients.room == DIVERTED).sum() == 8
    assert set(divert.patient.tolist()) == set(np.flatnonzero(divert.patients.room >= 0).tolist())


def test_room_opens_when_its_air_is_cleared():
    """12 air changes, 99 %: 1,382 s. One room; stays of 1 h; arrivals at 0 h and 1 h +- 1 s."""
    cleared_s = 1_382
    for second_s, room in ((HOUR_S + cleared_s - 1, BOARDED), (HOUR_S + cleared_s, 0)):
        patients = two_patients(second_s, rooms={"count": 1, "air_changes": "12 per h"})
        assert patients.room.tolist() == [0, room]


def test_without_a_limit_of_rooms_a_room_is_free_in_the_second_in_which_its_patient_leaves():
    for second_s, room in ((HOUR_S - 1, 1), (HOUR_S, 0)):
        assert two_patients(second_s).room.tolist() == [0, room]


@pytest.mark.parametrize(
    ("clean", "shut_s"),
    [
        # begins at once and outlasts the clearance
        ({"when": "with a kit", "room_time": "30 min"}, 30 * MIN_S),
        # ends inside the clearance time
        ({"when": "with a kit", "room_time": "5 min", "delay": "5 min"}, 1_382),
        ({"when": "with a kit", "room_time": "20 min", "delay": "10 min"}, 30 * MIN_S),
        # the air is cleared before it begins: no kit needed
        ({"when": "with a kit", "room_time": "20 min", "delay": "40 min"}, 60 * MIN_S),
        ({"when": "after clearance", "room_time": "20 min"}, 1_382 + 20 * MIN_S),
        ({"when": "after clearance", "room_time": "0 min"}, 1_382),
        ({"when": "after clearance", "room_time": "20 min", "delay": "40 min"}, 60 * MIN_S),
    ],
)
def test_room_opens_after_its_terminal_clean(clean, shut_s):
    rooms = {"count": 1, "air_changes": "12 per h", "terminal_clean": clean | {"role": "nurse"}}
    for late_s, room in ((-1, BOARDED), (0, 0)):
        patients = two_patients(HOUR_S + shut_s + late_s, rooms=rooms)
        assert patients.room.tolist() == [0, room]


def two_patients(second_s, **changes):
    return draw(
        arrivals={
            "baseline": None,
            "initial_census": 1,
            "initial_stay": "full",
            "clusters": [{"patients": 1, "at": f"{second_s} s"}],
        },
        classes={"ward": {"length_of_isolation": "1 h", "entries": {"nurse": "0 per day"}}},
        **changes,
    ).patients


def test_clean_with_a_kit_is_an_entry_for_each_patient_who_leaves_a_room():
    """Three patients, two rooms: two cleans, 10 min after a stay of a day; no third."""
    clean = {"role": "cleaner", "when": "with a kit", "room_time": "15 min", "delay": "10 min"}
    changes = dict(
        arrivals={"baseline": None, "initial_census": 3, "initial_stay": "full"},
        classes=NOBODY_VISITS,
        roles={"cleaner": {"room_time": "6 min", "kit_share": "50 %"}},
    )
    rooms = {"count": 2, "air_changes": "12 per h", "terminal_clean": clean}
    trace = draw(rooms=rooms, **changes)
    assert trace.due_s.tolist() == [DAY_S + 600] * 2
    assert trace.room_s.tolist() == [900] * 2
    assert trace.patient.tolist() == [0, 1]
    assert [trace.role_names[number] for number in trace.role] == ["cleaner"] * 2
    # a clean that begins in cleared air needs no kit, nor one after the horizon
    for other in ({"delay": "1382 s"}, {"delay": "24 min"}, {"when": "after clearance"}):
        assert draw(rooms=rooms | {"terminal_clean": clean | other}, **changes).entries == 0
    last = draw(rooms=rooms | {"terminal_clean": clean | {"delay": "1381 s"}}, **changes)
    assert last.due_s.tolist() == [DAY_S + 1_381] * 2
    for horizon, cleans in (("1 d", 0), ("87000 s", 0), ("87001 s", 2)):
        assert draw(rooms=rooms, horizon=horizon, **changes).entries == cleans


def test_those_present_at_the_start_come_first_and_stay_in_full_where_the_scenario_says_so():
    trace = draw(
        arrivals={"initial_census": 3, "initial_stay": "full"},
        rooms={"count": 3, "air_changes": "6 per h"},
    )
    patients = trace.patients
    assert patients.arrive_s[:3].tolist() == [0, 0, 0]
    assert patients.room[:3].tolist() == [0, 1, 2]
    assert (patients.leave_s[:3] == 3 * DAY_S).all()
    assert (np.diff(patients.arrive_s) >= 0).all()


def test_cluster_comes_in_its_hours_and_of_its_class():
    classes = {
        "ward": {"share": "100 %", "length_of_isolation": "1 d", "entries": {"nurse": "1 per day"}},
        "exposed": {
            "share": "0 %",
            "length_of_isolation": "2 d",
            "entries": {"nurse": "1 per day"},
        },
    }
    cluster = {"patients": 200, "at": "30 h", "within": "6 h", "patient_class": "exposed"}
    patients = draw(
        arrivals={"baseline": "4 per day", "clusters": [cluster]}, classes=classes
    ).patients
    theirs = patients.arrive_s[patients.patient_class == 1]
    assert len(theirs) == 200
    assert theirs.min() >= 30 * HOUR_S and theirs.max() <= 36 * HOUR_S
    assert (patients.leave_s - patients.arrive_s)[patients.patient_class == 1].tolist() == [
        2 * DAY_S
    ] * 200
    # what would come after the horizon does not come
    late = {"patients": 5, "at": "239 h", "within": "600 h"}
    assert len(draw(arrivals={"baseline": None, "clusters": [late]}).patients.room) < 5


def test_each_cluster_is_of_the_class_that_it_names():
    """Seven of one, five of the other and three of a third; nobody else comes."""
    names = ("ward", "exposed", "guarded")
    classes = {
        name: {"share": share, "length_of_isolation": "1 d", "entries": {"nurse": "1 per day"}}
        for name, share in zip(names, ("100 %", "0 %", "0 %"), strict=True)
    }
    clusters = [
        {"patients": count, "at": f"{day} d", "within": "6 h", "patient_class": name}
        for day, (name, count) in enumerate((("guarded", 7), ("exposed", 5), ("ward", 3)))
    ]
    patients = draw(arrivals={"baseline": None, "clusters": clusters}, classes=classes).patients
    for day, (number, count) in enumerate(((2, 7), (1, 5), (0, 3))):
        came_s = patients.arrive_s[patients.patient_class == number]
        assert len(came_s) == count
        assert came_s.min() >= day * DAY_S and came_s.max() <= day * DAY_S + 6 * HOUR_S


def test_classes_come_in_their_shares():
    """Three binomial counts; false alarm 1 in a million each."""
    classes = {
        name: {
            "share": f"{share} %",
            "length_of_isolation": "1 h",
            "entries": {"nurse": "0 per day"},
        }
        for name, share in {"ward": 50, "b": 30, "c": 20}.items()
    }
    trace = draw(seed=21, arrivals={"baseline": "800 per day"}, classes=classes)
    counts = np.bincount(trace.patients.patient_class, minlength=3)
    assert trace.class_names == ("ward", "b", "c")
    for count, share in zip(counts, (0.5, 0.3, 0.2), strict=True):
        assert share_agrees(int(count), int(counts.sum()), share)


def test_stays_are_drawn_from_their_distribution():
    """Share of stays beyond the stated quantiles; false alarm 1 in a million each."""
    stay = {"shape": "lognormal", "median": "2 d", "p90": "5 d"}
    classes = {"ward": {"length_of_isolation": stay, "entries": {"nurse": "0 per day"}}}
    patients = draw(seed=22, arrivals={"baseline": "500 per day"}, classes=classes).patients
    stay_s = patients.leave_s - patients.arrive_s
    assert share_agrees(int((stay_s <= 2 * DAY_S).sum()), len(stay_s), 0.5)
    assert share_agrees(int((stay_s <= 5 * DAY_S).sum()), len(stay_s), 0.9)


def test_the_class_says_nothing_of_the_luck_of_the_stay():
    """Two classes of one distribution: half of the stays of each pass the median; false alarm 1
    in a million each.
    """
    stay = {"shape": "exponential", "mean": "2 d"}
    classes = {
        name: {"share": "50 %", "length_of_isolation": stay, "entries": {"nurse": "0 per day"}}
        for name in ("ward", "b")
    }
    patients = draw(seed=23, arrivals={"baseline": "500 per day"}, classes=classes).patients
    longer = patients.leave_s - patients.arrive_s > 2 * DAY_S * np.log(2)
    for number in (0, 1):
        mine = longer[patients.patient_class == number]
        assert share_agrees(int(mine.sum()), len(mine), 0.5)


def test_added_cluster_moves_no_other_patient():
    cluster = {"patients": 7, "at": "3 d", "within": "1 d"}
    stay = {"shape": "gamma", "mean": "3 d", "cv": "80 %"}
    classes = {"ward": {"length_of_isolation": stay}}
    before, after = (
        draw(seed=3, arrivals={"clusters": clusters}, classes=classes)
        for clusters in ([], [cluster])
    )
    stays = [
        set(zip(t.patients.arrive_s, t.patients.leave_s, strict=True)) for t in (before, after)
    ]
    assert stays[0] < stays[1] and len(stays[1]) == len(stays[0]) + 7
    # nor their visits
    visits = [set(zip(t.due_s, t.room_s, strict=True)) for t in (before, after)]
    assert visits[0] < visits[1]
