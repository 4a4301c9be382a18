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


def test_rounds_have_as_many_rooms_as_the_role_says_and_no_patient_twice():
    demand = draw(**WARD, roles=roles(3))
    kept = (demand.wearer >= 0) & (demand.due_s < demand.patients.leave_s[demand.patient])
    rounds: dict[tuple[int, int], list[int]] = {}
    for row in np.flatnonzero(kept).tolist():
        rounds.setdefault((demand.wearer[row], demand.due_s[row]), []).append(demand.patient[row])
    sizes = [len(one) for one in rounds.values()]
    assert all(len(set(one)) == len(one) for one in rounds.values())
    assert max(sizes) == 3
    assert sizes.count(3) > len(sizes) / 2


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
