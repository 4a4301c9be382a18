"""What each stage would be worth at another target: counted from the same plays."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from surge_sim.engine.log import Outcome
from surge_sim.purchase.by_wait import ByWait, late_row, waits_of
from surge_sim.purchase.case import PurchaseCase, purchase_case
from surge_sim.purchase.course import THINGS
from surge_sim.purchase.play import PlayStocks, in_rooms, play_stages
from surge_sim.purchase.sized import read_sized
from surge_sim.scenario.schema import Target, UrgentTarget
from surge_sim.statistics.target import late_allowed
from surge_sim.units import DAY_S
from tests.purchase.test_case import sized_folder
from tests.sizing.test_size_command import UNIT

START = datetime(2031, 1, 6, 7, 0)
TARGET = Target(wait="5 min", service_level="90 %", share_of_surges="80 %")


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> PurchaseCase:
    return purchase_case(read_sized(sized_folder(tmp_path_factory.mktemp("by_wait"))), processes=1)


def kept(by_wait: ByWait, wait_s: int, level: float) -> list[int]:
    """Surges in which each stage keeps a target."""
    at = by_wait.waits_s.index(wait_s)
    allowed = np.array([late_allowed(int(one), level) for one in by_wait.entries])
    return [int(one) for one in (by_wait.late[:, :, at] <= allowed).sum(axis=1)]


def small_play(waits: list[int], outcomes: list[int], entry: list[int]) -> tuple[Any, Any]:
    demand = SimpleNamespace(
        entries=4, urgent=np.array([False, True, False, False]),
        due_s=np.array([0, 3_600, 86_400, 90_000]), start=START, horizon_s=2 * DAY_S,
    )  # fmt: skip
    log = SimpleNamespace(
        entry=np.array(entry), wait_s=np.array(waits), outcome=np.array(outcomes), delay_s=None,
        counts=np.zeros(21, dtype=np.int64),
    )  # fmt: skip
    return cast(Any, demand), cast(Any, log)


def test_an_entry_is_late_at_every_wait_below_its_longest() -> None:
    """Entries wait 0, 2, 1 and (unserved) 0 min; a later need of the first waits 5 min.

    Day 1 holds the first two, day 2 the others. At 0 min all but none of day 2's served one are
    late; at 1 min the entry of 1 min is in time, and day 1 is the worst with 2 of 2.
    """
    served, left = int(Outcome.SERVED), int(Outcome.WAITING_AT_END)
    play = small_play([0, 120, 60, 0, 300], [served, served, served, left, served], [0, 1, 2, 3, 0])
    row = late_row(*play, TARGET, (0, 60, 120, 300, 301))
    assert row.late.tolist() == [4, 3, 2, 1, 1]
    assert row.urgent_late.tolist() == [1, 1, 0, 0, 0]
    assert row.worst_day.tolist() == [1.0, 1.0, 0.5, 0.5, 0.5]
    assert (row.entries, row.urgent_entries, row.wait_s, row.other_missed) == (4, 1, 480, False)


def test_parts_that_no_choice_moves_are_judged_as_they_stand() -> None:
    served = int(Outcome.SERVED)
    play = small_play([0, 120, 0, 0], [served] * 4, [0, 1, 2, 3])
    strict = TARGET.model_copy(update={"urgent": UrgentTarget(wait="1 min", service_level="100 %")})
    assert late_row(*play, strict, waits_of(strict)).other_missed
    assert not late_row(*play, TARGET, waits_of(TARGET)).other_missed


def test_a_surge_without_entries_has_nobody_late() -> None:
    demand = SimpleNamespace(
        entries=0, urgent=np.zeros(0, bool), due_s=np.zeros(0, np.int64), start=START,
        horizon_s=DAY_S,
    )  # fmt: skip
    none = np.zeros(0, np.int64)
    log = SimpleNamespace(
        entry=none, wait_s=none, outcome=none, delay_s=None, counts=np.zeros(21, dtype=np.int64)
    )
    row = late_row(cast(Any, demand), cast(Any, log), TARGET, (0, 60))
    assert row.late.tolist() == row.urgent_late.tolist() == row.worst_day.tolist() == [0, 0]


def test_the_waits_hold_those_of_the_target() -> None:
    target = TARGET.model_copy(update={"wait": 77})
    assert 77 in waits_of(target) and list(waits_of(target)) == sorted(waits_of(target))


def test_at_the_target_the_stages_are_those_of_the_sizing(case: PurchaseCase) -> None:
    stages, by_wait = case.sized.tables["stages"], case.by_wait
    at = by_wait.waits_s.index(case.target.wait)
    met = kept(by_wait, case.target.wait, case.target.service_level)
    assert met == stages["same_surges_on_target"].tolist()
    assert by_wait.late[:, :, at].mean(axis=1) == pytest.approx(stages["late"].to_numpy(), rel=5e-6)
    worst = by_wait.worst_day[:, :, at].mean(axis=1)
    assert worst == pytest.approx(stages["worst_day_share_late"].to_numpy(), rel=5e-6)
    hours = by_wait.wait_s.mean(axis=1) / 3600
    assert hours == pytest.approx(stages["hours_waited"].to_numpy(), rel=5e-6)
    assert len(case.by_wait.table) == by_wait.late.size


@pytest.mark.slow
def test_at_another_target_the_stages_are_those_of_a_sizing_for_it(
    case: PurchaseCase, tmp_path: Path
) -> None:
    """The surges are the same: what chooses them is seed and number, not the target."""
    other = read_sized(sized_folder(tmp_path, UNIT, "--target", "wait=10min,service_level=95%"))
    target = other.scenario.settings.target
    assert (target.wait, target.service_level, target.share_of_surges) == (600, 0.95, 0.8)
    here = dict(zip(case.sized.stages, kept(case.by_wait, 600, 0.95), strict=True))
    there = dict(zip(other.stages, other.tables["stages"]["same_surges_on_target"], strict=True))
    both = here.keys() & there.keys()
    assert len(both) >= 2
    assert {one: here[one] for one in both} == {one: there[one] for one in both}


@pytest.mark.slow
def test_a_target_of_delays_is_counted_as_the_sizing_counts_it(tmp_path: Path) -> None:
    text = UNIT.replace("service_level: 90 %", "late_by: delay, service_level: 90 %").replace(
        "cv: 60 %}}", "cv: 60 %}, patients_per_wearer: 1}"
    )
    case = purchase_case(read_sized(sized_folder(tmp_path, text)), processes=1)
    met = kept(case.by_wait, case.target.wait, case.target.service_level)
    assert met == case.sized.tables["stages"]["same_surges_on_target"].tolist()
    assert case.nothing("late", "in_hand").value == pytest.approx(case.stage(0, "late").value)


def test_the_course_holds_all_kits_and_batteries_at_any_time(case: PurchaseCase) -> None:
    course = case.course
    for stock, counts in (("in_hand", case.sized.in_hand), ("proposed", case.sized.proposed)):
        for thing, number in (("kits", counts.kits), ("batteries", counts.batteries)):
            mine = course[(course["stock"] == stock) & (course["thing"] == thing)]
            assert mine.groupby("hour")["mean"].sum().to_numpy() == pytest.approx(number, rel=1e-4)
            assert len(mine) == 48 * len(THINGS[thing][0])
        people = course[(course["stock"] == stock) & (course["thing"] == "people")]
        # of people at the door all that wait within the horizon is in the hours waited
        hours = case.nothing("hours_waited", stock).value or 0.0
        assert 0 < people["mean"].sum() <= hours * 1.001
    assert (course["p10"] <= course["p90"]).all()


def test_rooms_are_counted_at_the_middle_of_each_hour(case: PurchaseCase) -> None:
    """Of patients: in a room from 0:10 to 1:40, boarded, and in a room from 1:30 on."""
    patients = SimpleNamespace(
        arrive_s=np.array([600, 700, 5_400]), leave_s=np.array([6_000, 99_999, 99_999]),
        room=np.array([0, -1, 1]),
    )  # fmt: skip
    demand = cast(Any, SimpleNamespace(patients=patients, horizon_s=3 * 3_600))
    assert in_rooms(demand).tolist() == [1, 2, 1]


def test_causes_add_up_to_the_hours_waited(case: PurchaseCase) -> None:
    for stock in ("in_hand", "proposed"):
        hours = case.waiting[f"hours_per_surge_{stock}"].sum()
        assert hours == pytest.approx(case.nothing("hours_waited", stock).value, rel=1e-4)
    told = case.sized.tables["cause_of_waiting_in_hand"].set_index("cause_of_waiting")[
        "hours_per_surge"
    ]
    here = case.waiting.set_index("cause_of_waiting")["hours_per_surge_in_hand"]
    assert here[told.index].to_numpy() == pytest.approx(told.to_numpy(), rel=1e-5)


@pytest.mark.slow
def test_any_number_of_processes_plays_the_same(case: PurchaseCase) -> None:
    sized = case.sized
    again = play_stages(sized.scenario, sized.stages, sized.place, 4, sized.seed, processes=2)
    assert again.by_wait.late.tolist() == case.by_wait.late[:, :4].tolist()
    task = PlayStocks(sized.scenario, sized.stages, (0, sized.place), sized.seed)
    assert (
        replace(task, seed=sized.seed + 1)(0).rows[0].late.tolist() != task(0).rows[0].late.tolist()
    )


@pytest.mark.slow
def test_a_case_tells_of_the_target_and_the_prices_that_were_asked_for(tmp_path: Path) -> None:
    options = ("--target", "wait=10min", "--prices", "kit=1000")
    case = purchase_case(read_sized(sized_folder(tmp_path, UNIT, *options)), processes=1)
    stages = case.sized.tables["stages"]
    assert case.target.wait == 600 and case.scenario.settings.prices.kit == 1000
    assert kept(case.by_wait, 600, 0.9) == stages["same_surges_on_target"].tolist()
    missed = case.nothing("missed_target", "in_hand").value
    assert missed == pytest.approx(
        1 - stages["same_surges_on_target"].iloc[0] / len(case.same_surges)
    )
