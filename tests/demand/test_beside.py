"""One scenario drawn beside another: what they share stays, and the rest is as its own says."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from surge_sim.demand.draw import draw
from surge_sim.demand.plan import beside, plan_of
from surge_sim.demand.table import Demand
from surge_sim.randomness import Streams
from tests.demand.chance import count_agrees, counts_agree
from tests.demand.ward import changed, scenario, settings

HOUR_S, DAY_S = 3_600, 86_400


def drawn(base: dict[str, Any], changes: dict[str, Any]) -> tuple[Demand, Demand]:
    """The demand of a ward, and that of the changed ward drawn beside it."""
    plan, other = plan_of(settings(**base)), plan_of(settings(**changed(base, changes)))
    # where nobody comes, nothing is divided by nothing
    with np.errstate(all="raise"):
        other = beside(other, plan)
    return draw(plan, Streams(3, 0, 0)), draw(other, Streams(3, 0, 0))


def by_itself(base: dict[str, Any], changes: dict[str, Any]) -> Demand:
    """The demand of the changed ward, drawn beside nothing."""
    return draw(plan_of(settings(**changed(base, changes))), Streams(3, 0, 0))


def arrivals(demand: Demand | None) -> list[int]:
    """When patients come."""
    assert demand is not None
    return [int(one) for one in demand.patients.arrive_s]


def visits(demand: Demand, role: int = 0) -> list[tuple[int, ...]]:
    """Visits of a role: when, how long, and the stay of the patient."""
    rows = (demand.role == role) & ~demand.urgent
    table, whose = demand.patients, demand.patient[rows]
    columns = (demand.due_s[rows], demand.room_s[rows], table.arrive_s[whose], table.leave_s[whose])
    return sorted(zip(*(column.tolist() for column in columns), strict=True))


#: four rooms for some eight patients; each is shut for 1,382 s of clearance and 3 h behind one
CROWDED: dict[str, Any] = {
    "horizon": "40 d",
    "arrivals": {"baseline": "4 per day"},
    "classes": {"ward": {"length_of_isolation": {"shape": "gamma", "mean": "2 d", "cv": "60 %"}}},
    "rooms": {
        "count": 4,
        "air_changes": "12 per h",
        "terminal_clean": {"role": "nurse", "when": "after clearance", "room_time": "3 h"},
    },
}
SHUT_S = 1_382 + 3 * HOUR_S


@pytest.mark.parametrize("per_day", [4, 3, 6])
def test_whoever_comes_lies_in_the_lowest_room_that_is_open(per_day: float) -> None:
    """Whether some of the base's patients are left out, or all of them and others come."""
    table = drawn(CROWDED, {"arrivals": {"baseline": f"{per_day} per day"}})[1].patients
    opens_s, expected = [0] * 4, []
    for arrive_s, leave_s in zip(table.arrive_s.tolist(), table.leave_s.tolist(), strict=True):
        open_now = [room for room in range(4) if opens_s[room] <= arrive_s]
        expected.append(open_now[0] if open_now else -1)
        if open_now:
            opens_s[open_now[0]] = leave_s + SHUT_S
    assert table.room.tolist() == expected
    assert set(expected) == {-1, 0, 1, 2, 3}


def test_whoever_is_left_out_takes_his_entries_with_him() -> None:
    """Those who come have their visits, in the order of the demand, and under their own numbers."""
    usual, fewer = drawn(CROWDED, {"arrivals": {"baseline": "3 per day"}})

    def by_stay(demand: Demand) -> dict[tuple[int, int], list[int]]:
        table = demand.patients
        stays = zip(table.arrive_s.tolist(), table.leave_s.tolist(), strict=True)
        return {
            stay: demand.due_s[demand.patient == number].tolist()
            for number, stay in enumerate(stays)
        }

    all_visits, some = by_stay(usual), by_stay(fewer)
    assert 0 < len(some) < len(all_visits) == len(usual.patients.arrive_s)
    assert some.items() <= all_visits.items()
    assert (np.diff(fewer.due_s) >= 0).all() and any(some.values())


#: 40 patients an hour on 20 days, who stay for an hour
MANY: dict[str, Any] = {
    "horizon": "20 d",
    "arrivals": {"baseline": "960 per day"},
    "classes": {"ward": {"length_of_isolation": "1 h", "entries": {"nurse": "1 per day"}}},
}
MORNING, AFTERNOON = [1] * 12 + [0] * 12, [0] * 12 + [1] * 12


def test_patients_are_left_out_or_added_hour_by_hour() -> None:
    """By even hours, beside whom nobody comes in the morning and twice as many afterwards.

    All of the morning's stay away, all of the afternoon's stay, and as many others come. False
    alarm 1 in a million.
    """
    usual, late = drawn(MANY, {"arrivals": {"hours_of_day": AFTERNOON}})
    same = Counter(at_s for at_s in arrivals(usual) if at_s % DAY_S >= 12 * HOUR_S)
    assert min(at_s % DAY_S for at_s in arrivals(late)) >= 12 * HOUR_S
    assert same <= Counter(arrivals(late))
    others = np.array([*(Counter(arrivals(late)) - same).elements()])
    hours = np.bincount(others // HOUR_S % 24, minlength=24)[12:]
    assert counts_agree(hours, [20 * 40] * 12)


def test_of_hours_in_which_the_base_has_nobody_all_patients_are_others() -> None:
    """The other way round: half of the afternoon's stay, and the morning's 9,600 come anew.

    False alarm 1 in a million.
    """
    base = changed(MANY, {"arrivals": {"hours_of_day": AFTERNOON}})
    usual, even = drawn(base, {"arrivals": {"hours_of_day": [1] * 24}})
    kept = set(arrivals(usual)) & set(arrivals(even))
    early = sum(at_s % DAY_S < 12 * HOUR_S for at_s in arrivals(even))
    late = [at_s for at_s in arrivals(even) if at_s % DAY_S >= 12 * HOUR_S]
    assert set(late) == kept
    assert counts_agree([early, len(late)], [20 * 480] * 2)


def test_extra_patients_come_beside_a_scenario_that_has_none() -> None:
    """On day 3 half as many more, whatever the rate besides; false alarm 1 in a million."""
    event = {"what": "extra patients", "at": "2 d", "lasts": "1 d", "arrivals": "150 %"}
    counts, expected = [], []
    for rate in (960, 1_200, 480):
        changes = {"arrivals": {"baseline": f"{rate} per day"}, "timeline": [event]}
        arrive_s = drawn(MANY, changes)[1].patients.arrive_s
        counts.append(np.bincount(arrive_s // DAY_S, minlength=20))
        expected.append([rate * 1.5 if day == 2 else rate for day in range(20)])
    assert counts_agree(counts, expected)


def test_where_both_have_extra_patients_each_has_its_own() -> None:
    """Of one event the same patients; of another one those of the scenario by itself."""
    event = {"what": "extra patients", "at": "2 d", "lasts": "1 d", "arrivals": "150 %"}
    base = MANY | {"timeline": [event]}
    for arrivals_of_event in ("150 %", "200 %"):
        changes = {"timeline": [event | {"arrivals": arrivals_of_event}]}
        assert arrivals(drawn(base, changes)[1]) == arrivals(by_itself(base, changes))


def test_exact_counts_that_differ_are_drawn_anew(tmp_path: Path) -> None:
    """Numbers of a file are as they are, beside whatever other ones."""
    plans = []
    for name, counts in (("one", (5, 7)), ("other", (6, 3))):
        rows = "".join(f"{day},{count}\n" for day, count in enumerate(counts, 1))
        (tmp_path / f"{name}.csv").write_text("day,patients\n" + rows)
        exact = {"baseline": None, "daily_counts": {"file": f"{name}.csv", "exact": "yes"}}
        plans.append(plan_of(scenario(tmp_path, horizon="2 d", arrivals=exact).settings))
    found = draw(beside(plans[1], plans[0]), Streams(1, 0, 0)).patients.arrive_s
    assert np.bincount(found // DAY_S).tolist() == [6, 3]


#: ten patients for 40 days, whom nurses and aides visit, half of the nurses' visits in a kit
VISITED: dict[str, Any] = {
    "horizon": "40 d",
    "arrivals": {"baseline": None, "initial_census": 10, "initial_stay": "full"},
    "classes": {
        "ward": {
            "length_of_isolation": "400 d",
            "entries": {"nurse": "20 per day", "aide": "10 per day"},
        }
    },
    "roles": {
        "nurse": {
            "room_time": {"shape": "lognormal", "mean": "6 min", "cv": "80 %"},
            "kit_share": "50 %",
        },
        "aide": {"room_time": {"shape": "lognormal", "mean": "9 min", "cv": "80 %"}},
    },
}


def rates(nurse: str, aide: str) -> dict[str, Any]:
    return {"classes": {"ward": {"entries": {"nurse": nurse, "aide": aide}}}}


def test_of_fewer_visits_some_are_the_same_and_of_more_all_are_drawn_anew() -> None:
    """Nurses 12 instead of 20 a day, half of them in a kit; aides 15 instead of 10.

    False alarm 1 in a million.
    """
    changes = rates("12 per day", "15 per day")
    usual, other = drawn(VISITED, changes)
    assert set(visits(other)) < set(visits(usual))
    assert count_agrees(len(visits(other)), 10 * 40 * 12 / 2)
    assert visits(other, 1) == visits(by_itself(VISITED, changes), 1)


def test_visits_that_never_come_leave_nobody_and_those_that_never_came_are_drawn_anew() -> None:
    usual, none = drawn(VISITED, rates("0 per day", "10 per day"))
    assert not visits(none) and visits(none, 1) == visits(usual, 1)
    base = changed(VISITED, rates("0 per day", "10 per day"))
    changes = rates("20 per day", "10 per day")
    usual, some = drawn(base, changes)
    assert not visits(usual) and visits(some, 1) == visits(usual, 1)
    assert visits(some) == visits(by_itself(base, changes))


def test_visits_at_other_hours_are_drawn_anew() -> None:
    """Fewer of them, in the morning alone; those of the other role stay."""
    changes = rates("12 per day", "10 per day") | {"roles": {"nurse": {"hours_of_day": MORNING}}}
    usual, other = drawn(VISITED, changes)
    assert max(due_s % DAY_S for due_s, *_ in visits(other)) < 12 * HOUR_S
    assert visits(other) == visits(by_itself(VISITED, changes))
    assert visits(other, 1) == visits(usual, 1)


def test_with_classes_of_another_number_visits_are_drawn_anew() -> None:
    """A second class, of which nobody is, whose patients would have as many visits."""
    second = {"b": VISITED["classes"]["ward"] | {"share": "0 %"}}
    usual, other = drawn(VISITED, {"classes": second})
    assert visits(other) == visits(usual)
    half = {"classes": {"b": second["b"], **rates("10 per day", "10 per day")["classes"]}}
    assert visits(drawn(VISITED, half)[1]) == visits(by_itself(VISITED, half))


def test_classes_of_which_one_has_fewer_visits_and_the_other_more_are_drawn_anew() -> None:
    """30 visits a day instead of 20 to the one, 10 to the other."""
    two = changed(VISITED, {"classes": {"ward": {"share": "50 %"}}})
    two["classes"]["b"] = two["classes"]["ward"]
    new = {
        "classes": {
            "ward": {"entries": {"nurse": "30 per day"}},
            "b": {"entries": {"nurse": "10 per day"}},
        }
    }
    assert visits(drawn(two, new)[1]) == visits(by_itself(two, new))


def test_of_a_class_with_as_many_visits_all_stay_and_of_one_with_fewer_some() -> None:
    """10 visits a day instead of 20 to the one; the nurses of the other are all the same."""
    two = changed(VISITED, {"classes": {"ward": {"share": "50 %"}}})
    two["classes"]["b"] = two["classes"]["ward"]
    usual, other = drawn(two, {"classes": {"b": {"entries": {"nurse": "10 per day"}}}})
    assert set(visits(other)) < set(visits(usual))
    left_out = usual.entries - other.entries
    theirs = [int((one.patient_class[one.role == 0] == 0).sum()) for one in (usual, other)]
    assert theirs[0] == theirs[1] > 0 and left_out > 0


def test_the_run_in_is_drawn_beside_the_other_s_too() -> None:
    """Where fewer patients come, those of the days before are some of the same, too."""
    ward = MANY | {"horizon": "2 d", "run_in": "10 d"}
    usual, fewer = drawn(ward, {"arrivals": {"baseline": "720 per day"}})
    assert usual.before is not None and fewer.before is not None
    assert set(arrivals(fewer.before)) < set(arrivals(usual.before))
    assert arrivals(fewer.before)
    # beside one without a run-in it has its own
    plan, base = (plan_of(settings(**MANY | {"horizon": "2 d"} | more)) for more in (
        {"run_in": "10 d"}, {},
    ))  # fmt: skip
    assert arrivals(draw(beside(plan, base), Streams(3, 0, 0)).before) == arrivals(usual.before)
    assert draw(beside(base, plan), Streams(3, 0, 0)).before is None


def test_beside_a_log_or_other_roles_a_scenario_is_drawn_as_by_itself(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("requested,room_minutes,role\n5,6,nurse\n")
    log = plan_of(
        scenario(tmp_path, entries={"from": "log.csv"}, arrivals=None, classes=None).settings
    )
    ward = plan_of(settings())
    assert beside(ward, log) is ward and beside(log, ward) is log
    aides = plan_of(settings(roles={"aide": {"room_time": "6 min"}}))
    assert beside(aides, ward) is aides
