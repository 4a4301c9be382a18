"""The ordinary days before a surge: drawn apart from it, and put in front of it for a play."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from surge_sim.demand.table import Demand
from surge_sim.engine.run_in import wearers_in_play, with_run_in
from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import load_scenario
from tests.conftest import ROOT
from tests.demand.ward import draw

DAY_S, HOUR_S = 86_400, 3_600
ROLES = {"nurse": {"room_time": "6 min", "patients_per_wearer": 4}}
WARD = {
    "arrivals": {"baseline": "3 per day", "initial_census": 6},
    "classes": {"ward": {"length_of_isolation": "4 d", "entries": {"nurse": "12 per day"}}},
    "roles": ROLES,
    "rooms": {"count": 5, "air_changes": "12 per h"},
}


def same(one: Demand, other: Demand) -> bool:
    """Whether two demands have equal columns."""
    columns = [name for name, value in vars(one).items() if isinstance(value, np.ndarray)]
    return all(np.array_equal(getattr(one, name), getattr(other, name)) for name in columns)


def test_a_run_in_changes_nothing_of_the_surge():
    plain, with_days = draw(**WARD), draw(**WARD, run_in="5 d")
    assert plain.before is None and plain.run_in_s == 0
    assert same(plain, with_days)


def test_the_run_in_has_ordinary_demand_on_the_days_before_the_surge():
    """Neither the wave nor the cluster nor the timeline; other draws than the surge's own."""
    wave = {"extra_at_peak": "50 per day", "peak": "1 d", "width": "2 d"}
    cluster = {"patients": "30", "at": "1 h"}
    surge = WARD | {
        "arrivals": WARD["arrivals"] | {"wave": wave, "clusters": [cluster]},
        "timeline": [{"what": "care bundled", "dropped": "100 %", "at": "0 h"}],
    }
    before = draw(**surge, run_in="5 d").before
    ordinary = draw(**WARD, run_in="5 d").before
    assert before is not None and ordinary is not None
    assert same(before, ordinary) and before.entries > 0
    assert before.horizon_s == before.closing_s == 5 * DAY_S
    assert before.start == draw(**WARD).start - timedelta(days=5)
    assert not same(before, draw(**WARD))


def test_a_play_meets_the_run_in_first_and_then_the_surge_so_much_later():
    demand = draw(**WARD, run_in="2 d")
    before, together = demand.before, with_run_in(demand)
    assert before is not None
    assert together.entries == before.entries + demand.entries
    assert (np.diff(together.due_s) >= 0).all()
    assert together.due_s[: before.entries].tolist() == before.due_s.tolist()
    assert (together.due_s[before.entries :] - 2 * DAY_S).tolist() == demand.due_s.tolist()
    assert together.room_s[before.entries :].tolist() == demand.room_s.tolist()
    assert together.horizon_s == demand.horizon_s + 2 * DAY_S
    assert together.closing_s == demand.closing_s + 2 * DAY_S
    assert with_run_in(draw(**WARD)).before is None


def test_wearers_of_the_shift_at_the_border_are_the_same_and_all_others_are_not():
    """The surge begins at midnight, in the shift from 19 to 7: each group has one wearer in it."""
    demand = draw(**WARD, run_in="2 d")
    before, together, number = demand.before, with_run_in(demand), wearers_in_play(demand)
    assert before is not None and before.wearers is not None and demand.wearers is not None
    assert len(set(number.tolist())) == len(number)
    groups = set(map(tuple, before.wearers[before.shift_end_s == 2 * DAY_S + 7 * HOUR_S].tolist()))
    assert groups
    for wearer, in_play in enumerate(number.tolist()):
        first = demand.shift_end_s[wearer] == 7 * HOUR_S
        known = first and tuple(demand.wearers[wearer].tolist()) in groups
        assert (in_play < len(before.shift_end_s)) == known
        assert together.shift_end_s[in_play] == demand.shift_end_s[wearer] + 2 * DAY_S
    rows = slice(before.entries, None)
    assert together.wearer[rows].tolist() == number[demand.wearer].tolist()


@pytest.mark.parametrize(
    ("run_in", "arrivals", "said"),
    [
        ("36 h", {}, "not a whole number of days"),
        ("7 d", {"baseline": "0 per day", "initial_census": "0"}, "neither `baseline` nor"),
    ],
)
def test_a_run_in_without_whole_days_or_ordinary_demand_is_refused(run_in, arrivals, said):
    scenario = load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")
    changes = {f"arrivals.{name}": value for name, value in arrivals.items()}
    with pytest.raises(ScenarioError, match=said):
        scenario.changed({"run_in": run_in} | changes)
