"""Rounds of routine entries, by hand and on a ward that is drawn."""

from __future__ import annotations

import numpy as np
import pytest

from surge_sim.demand.rounds import moments_of_rounds
from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import load_scenario
from tests.conftest import ROOT
from tests.demand.ward import draw

HOUR_S = 3_600


def test_a_round_takes_the_next_visit_of_other_patients_along():
    """Threes. At 1: patients a, b, c, whose visits would be at 1, 3 and 7; a again at 2 and 8.

    At 2: a, and b and c for the second time; at 8: a alone.
    """
    due_s, patient = [1, 2, 3, 4, 7, 8, 9], list("aabbcac")
    moments = moments_of_rounds(due_s, patient, [0] * 7, 3)
    assert moments == [1, 2, 1, 2, 1, 8, 2]


def test_nobody_is_visited_before_he_has_come():
    """Patient b comes at 2: the round at 1 leaves it out, that at 3 takes it."""
    assert moments_of_rounds([1, 3, 4, 5], list("acbb"), [0, 0, 2, 2], 2) == [1, 1, 4, 5]
    assert moments_of_rounds([1, 3, 4], list("aab"), [0, 0, 2], 2) == [1, 3, 3]


def test_two_rounds_never_begin_in_one_second():
    assert moments_of_rounds([1, 1, 1, 5], list("aaab"), [0] * 4, 2) == [1, 2, 3, 1]


def test_a_round_may_begin_in_the_first_second_of_all_and_takes_no_visit_that_has_been_made():
    """At 0: a, with b's visit of 3; then a again at 5, or at 1 without b, who has been seen."""
    assert moments_of_rounds([0, 3, 5], list("aba"), [0] * 3, 2) == [0, 0, 5]
    assert moments_of_rounds([0, 1, 3], list("aab"), [0] * 3, 2) == [0, 1, 0]


def test_a_patient_who_comes_in_the_second_of_a_round_is_visited_in_it():
    assert moments_of_rounds([1, 3], list("ab"), [1, 1], 2) == [1, 1]


def by_looking_at_every_visit(due_s, patient, arrive_s, rooms):
    """A round takes the next visit of other patients who are there, one after the other."""
    moments, begin = [-1] * len(due_s), -1
    for first, at in enumerate(due_s):
        if moments[first] < 0:
            begin, seen = max(at, begin + 1), set()
            for place in range(first, len(due_s)):
                free = moments[place] < 0 and arrive_s[place] <= begin
                if free and patient[place] not in seen and len(seen) < rooms:
                    moments[place] = begin
                    seen.add(patient[place])
    return moments


def test_rounds_are_those_that_a_look_at_every_visit_gives():
    """300 random wearers of up to 5 patients, who come one after the other."""
    rng = np.random.default_rng(1)
    for _ in range(300):
        arrive = np.sort(rng.integers(0, 30, rng.integers(1, 6)))
        whose = rng.integers(0, len(arrive), rng.integers(1, 40))
        due = arrive[whose] + rng.integers(0, 40, len(whose))
        order = due.argsort(kind="stable")
        visits = due[order].tolist(), whose[order].tolist(), arrive[whose[order]].tolist()
        rooms = int(rng.integers(2, 5))
        assert moments_of_rounds(*visits, rooms) == by_looking_at_every_visit(*visits, rooms)


def test_a_wearer_with_one_patient_left_does_not_look_at_all_visits_for_another():
    """200,000 visits of one patient in rounds of two: each by itself, in a moment."""
    due_s = list(range(200_000))
    assert moments_of_rounds(due_s, [1] * 200_000, [0] * 200_000, 2) == due_s


WARD = {
    "arrivals": {"baseline": "3 per day", "initial_census": 8},
    "classes": {
        "ward": {
            "length_of_isolation": "3 d",
            "entries": {"nurse": "20 per day", "other": "5 per day"},
            "urgent": {"per_patient": "0.5 per day", "team": 3, "role": "nurse"},
        }
    },
    "rooms": {
        "count": 12,
        "air_changes": "12 per h",
        "terminal_clean": {"role": "nurse", "when": "with a kit", "room_time": "10 min"},
    },
}


def roles(rooms_per_round: int | None):
    nurse = {"room_time": "6 min", "patients_per_wearer": 4}
    if rooms_per_round is not None:
        nurse["rooms_per_round"] = rooms_per_round
    return {"nurse": nurse, "other": {"room_time": "9 min"}}


def test_rounds_move_routine_visits_of_named_wearers_and_nothing_else():
    """Each patient has as many visits of each wearer as without rounds, none of them later.

    Two wearers together make as many entries; urgent entries, terminal cleans and the other role
    stay as they are.
    """
    plain, threes = draw(**WARD, roles=roles(None)), draw(**WARD, roles=roles(3))
    left = plain.patients.leave_s[plain.patient]
    moved = (plain.wearer >= 0) & (plain.due_s < left)
    kept = (threes.wearer >= 0) & (threes.due_s < threes.patients.leave_s[threes.patient])
    assert moved.sum() == kept.sum() > 200
    rest = [
        sorted(zip(d.due_s[r].tolist(), d.patient[r].tolist(), d.room_s[r].tolist(), strict=True))
        for d, r in ((plain, ~moved), (threes, ~kept))
    ]
    assert rest[0] == rest[1]
    for one, other in ((plain.wearer[moved], threes.wearer[kept]),):
        assert np.bincount(one).tolist() == np.bincount(other).tolist()
    by_visit = [
        {
            (p, r): at
            for p, r, at in zip(
                d.patient[rows].tolist(), d.room_s[rows].tolist(), d.due_s[rows].tolist(),
                strict=True,
            )
        }
        for d, rows in ((plain, moved), (threes, kept))
    ]  # fmt: skip
    assert by_visit[0].keys() == by_visit[1].keys()
    # by a second later where two would begin at once
    assert all(by_visit[1][visit] <= at + 1 for visit, at in by_visit[0].items())
    arrive = threes.patients.arrive_s[threes.patient]
    assert (threes.due_s >= arrive).all()
    assert (np.diff(threes.due_s) >= 0).all()


def made_by_hand(visits, rooms):
    """Visits of one wearer (when due, whose, since when here, how long) as they are made.

    One after the other is taken out of the list of those that are still to make.
    """
    left, made, last_s = sorted(visits), [], -1
    while left:
        last_s = max(left[0][0], last_s + 1)
        mine = []
        for visit in left:
            known = {one[1] for one in mine}
            if len(mine) < rooms and visit[2] <= last_s and visit[1] not in known:
                mine.append(visit)
        made += [(last_s, whose, room_s) for _, whose, _, room_s in mine]
        left = [visit for visit in left if visit not in mine]
    return sorted(made)


@pytest.mark.parametrize(("horizon", "wearers"), [("5 d", None), ("6 h", 2)])
def test_each_named_wearer_makes_rounds_of_their_visits(horizon, wearers):
    """The role before it makes none. In 6 h from midnight two groups have one wearer each."""
    changes = WARD | {
        "horizon": horizon,
        "arrivals": {"baseline": "3 per day" if wearers is None else "0 per day",
                     "initial_census": 8},
        "classes": {
            "ward": {
                "length_of_isolation": {"shape": "gamma", "mean": "3 d", "cv": "60 %"},
                "entries": {"nurse": "5 per day", "aide": "30 per day"},
            }
        },
        "rooms": {"count": 12, "air_changes": "12 per h"},
    }  # fmt: skip
    stretched = {"shape": "lognormal", "mean": "6 min", "cv": "80 %"}
    aide = {"room_time": stretched, "patients_per_wearer": 4}
    plain, rounds = (
        draw(seed=5, **changes, roles={"nurse": {"room_time": "6 min"}, "aide": aide | more})
        for more in ({}, {"rooms_per_round": 3})
    )

    def theirs(demand, wearer):
        rows = np.flatnonzero(demand.wearer == wearer)
        arrive_s = demand.patients.arrive_s[demand.patient]
        columns = (demand.due_s, demand.patient, arrive_s, demand.room_s)
        return list(zip(*(column[rows].tolist() for column in columns), strict=True))

    assert wearers is None or len(plain.shift_end_s) == wearers
    for wearer in range(len(plain.shift_end_s)):
        made = [(due_s, whose, room_s) for due_s, whose, _, room_s in theirs(rounds, wearer)]
        expected = made_by_hand(theirs(plain, wearer), 3)
        assert len(expected) > 0 and sorted(made) == expected
    assert theirs(rounds, -1) == theirs(plain, -1)


@pytest.mark.parametrize("rooms", [2, 3])
def test_rounds_have_as_many_rooms_as_the_role_says_and_no_patient_twice(rooms):
    demand = draw(**WARD, roles=roles(rooms))
    kept = (demand.wearer >= 0) & (demand.due_s < demand.patients.leave_s[demand.patient])
    rounds: dict[tuple[int, int], list[int]] = {}
    for row in np.flatnonzero(kept).tolist():
        rounds.setdefault((demand.wearer[row], demand.due_s[row]), []).append(demand.patient[row])
    sizes = [len(one) for one in rounds.values()]
    assert all(len(set(one)) == len(one) for one in rounds.values())
    assert max(sizes) == rooms
    assert sizes.count(rooms) > len(sizes) / 2


def test_a_surge_without_patients_has_no_rounds():
    """0.0001 patients a week: 9,999 of 10,000 surges of a week have none."""
    nobody = {"arrivals": {"baseline": "0.0001 per week"}, "classes": WARD["classes"]}
    assert draw(**nobody, roles=roles(3)).entries == 0


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"roles.nurse.rooms_per_round": 4}, "a named wearer has 3 patients"),
        ({"roles.physician.rooms_per_round": 2}, "a named wearer has 0 patients"),
        ({"policy.kit": "per round"}, "nobody makes rounds"),
    ],
)
def test_rounds_need_a_named_wearer_with_enough_patients(changes, said):
    scenario = load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")
    with pytest.raises(ScenarioError, match=said):
        scenario.changed(changes)
