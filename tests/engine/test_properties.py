"""What holds on every small random surge, in the reference engine looked into second by second.

Conservation of kits and batteries stands in test_agreement.py.
"""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings

from surge_sim.engine.log import Count, Outcome, RunLog
from surge_sim.engine.play import first_sizes, play
from surge_sim.engine.reference import charging
from surge_sim.engine.reference.play import finish, set_up
from surge_sim.engine.reference.ward import Ward
from surge_sim.equipment.numbers import numbers_of
from surge_sim.equipment.order import SUPPLIES
from surge_sim.equipment.stock import Stock
from surge_sim.equipment.supplies import HE_FILTERS, HOODS, LARGE_HOODS, PREFILTERS, TUBES
from surge_sim.scenario.schema import AgeFade, Recheck
from surge_sim.scenario.timeline import DefectiveFilters, ExtraPatients, PowerOutage
from tests.engine.random_play import plays
from tests.engine.test_agreement import SHORT
from tests.engine.tiny import HandMade, settings

FEW: dict[str, Any] = SHORT | {"max_examples": 40}
Case = tuple[HandMade, Stock]


def ward_of(case: Case) -> Ward:
    """A ward at second 0 with more draws than any of these plays needs."""
    trace, stock = case
    numbers = numbers_of(*trace.parts(stock))
    sizes = first_sizes(trace, numbers.counts.kits, numbers.counts.batteries)
    sizes = sizes._replace(generations=400, new_needs=400_000)
    played = trace.situation(stock)
    return set_up(played.demand, numbers, sizes.arrays(played.unit), 10**9)


def play_out(ward: Ward, watch: Any = lambda: False) -> None:
    """Play to the close, with a look at each second."""
    ward.clock.play_until(ward.numbers.closing_s, watch)
    finish(ward)


@pytest.mark.slow
@given(plays())
@hypothesis_settings(**FEW)
def test_nobody_is_served_out_of_order_within_a_class(case: Case):
    """In each line need by need, and whoever was passed by gets no kit before those in front.

    After every second the lines are in the order of the needs, and of those who left a line with
    a kit in that second nobody stood behind one of the same line who still waits.
    """
    ward = ward_of(case)
    before: list[list[Any]] = [[], [], []]

    def watch() -> bool:
        lines = [list(line) for line in ward.lines]
        for had, has in zip(before, lines, strict=True):
            order = [(need.need_s, need.row) for need in has]
            assert order == sorted(order)
            waits = [need in has for need in had]
            for place, need in enumerate(had):
                gone = not waits[place] and need.outcome != Outcome.RENEGED
                assert not gone or not any(waits[:place]), "served before one in front"
        before[:] = lines
        return False

    play_out(ward, watch)


@pytest.mark.slow
@given(plays())
@hypothesis_settings(**FEW)
def test_run_hours_are_those_of_the_visits(case: Case):
    """Blower by blower: the run time on its filters and between its faults is that of its rows.

    A check before a visit runs no hours; each check during wear is part of the wear: donning, room
    time, checks during wear and doffing are the time worn where no alarm cut the visit short.
    """
    ward = ward_of(case)
    filters_s = [0] * len(ward.kits)
    faults_s = [0] * len(ward.kits)
    state = [(kit.he_run_s, kit.failure_run_s) for kit in ward.kits]

    def watch() -> bool:
        for number, kit in enumerate(ward.kits):
            main_s, failure_s = state[number]
            filters_s[number] += max(kit.he_run_s - main_s, 0)
            faults_s[number] += max(kit.failure_run_s - failure_s, 0)
            state[number] = (kit.he_run_s, kit.failure_run_s)
        return False

    play_out(ward, watch)
    n = ward.numbers
    done = [need for need in ward.needs if 0 <= need.end_s <= n.closing_s]
    for number in range(len(ward.kits)):
        run_s = sum(need.worn_s for need in done if need.blower == number)
        assert filters_s[number] == (run_s if n.has_filters else 0)
        assert faults_s[number] == (run_s if n.has_failures else 0)
    rechecks = 0
    for need in ward.needs:
        if need.outcome != Outcome.SERVED:
            continue
        planned_s = need.don_s + need.room_s
        checks = 0
        if n.recheck_first_s and planned_s > n.recheck_first_s:
            checks = 1 + (planned_s - n.recheck_first_s - 1) // n.recheck_every_s
        whole_s = planned_s + checks * n.check_s + need.doff_s
        if need.alarm:
            assert need.worn_s < whole_s
            since_s, every_s = need.worn_s - need.doff_s, n.recheck_every_s + n.check_s
            ends = [n.recheck_first_s + one * every_s + n.check_s for one in range(checks)]
            checks = sum(end_s <= since_s for end_s in ends)
        else:
            assert need.worn_s == whole_s
        rechecks += checks
        assert need.end_s == need.in_hand_s + need.worn_s
    assert ward.counts[Count.RECHECKS] == rechecks


@given(plays())
@hypothesis_settings(**FEW)
def test_parts_and_filters_are_conserved_at_every_second(case: Case):
    """Owned at first + delivered = on the shelf, in kits, away, and thrown away or fitted."""
    ward = ward_of(case)
    n = ward.numbers
    first = list(ward.spares)
    delivered, reordered = [0] * SUPPLIES, [0] * SUPPLIES

    def used(supply: int) -> int:
        return ward.counts[Count.HOODS_USED + supply]

    def watch() -> bool:
        large = sum(k.has_hood and k.large_hood for k in ward.kits)
        in_kits = {
            HOODS: sum(k.has_hood for k in ward.kits) - large,
            TUBES: sum(k.has_tube for k in ward.kits),
            LARGE_HOODS: large,
        }
        there = {
            HOODS: ward.ready_hoods + ward.hoods_away,
            TUBES: ward.ready_tubes + ward.tubes_away,
            LARGE_HOODS: ward.ready_large_hoods,
        }
        for supply in (HOODS, TUBES, PREFILTERS, HE_FILTERS, LARGE_HOODS):
            if n.endless[supply]:
                if supply in there:
                    assert there[supply] + in_kits[supply] == first[supply]
                continue
            # owned falls by what is used and rises by what comes, whole lots at a time
            delivered[supply] = ward.spares[supply] - first[supply] + used(supply)
            assert delivered[supply] >= 0
            assert delivered[supply] % n.lot[supply] == 0
            ordered = delivered[supply] + ward.on_order[supply]
            assert ordered >= reordered[supply], "an order was lost"
            reordered[supply] = ordered
            if supply in there:
                assert there[supply] + in_kits[supply] == ward.spares[supply]
            if n.reorder_point[supply] >= 0 and used(supply):
                own = n.kits if supply in (HOODS, TUBES) else 0
                position = ward.spares[supply] - own + ward.on_order[supply]
                assert position > n.reorder_point[supply]
        return False

    play_out(ward, watch)
    fitted = sum(kit.prefilter_no for kit in ward.kits)
    being_fitted = used(PREFILTERS) - fitted
    assert 0 <= being_fitted <= len(ward.kits)
    assert 0 <= used(HE_FILTERS) - sum(kit.main_no for kit in ward.kits) <= len(ward.kits)


@pytest.mark.slow
@given(plays())
@hypothesis_settings(**FEW)
def test_no_battery_is_below_zero_or_above_its_health_and_none_goes_out_too_low(case: Case):
    """Also in its bay, where the charge is worked out; what is handed out has the least run."""
    ward = ward_of(case)
    n = ward.numbers

    def watch() -> bool:
        for battery in ward.batteries:
            charge = charging.charge_now(ward, battery)
            assert 0 <= battery.charge <= charge <= n.capacity[battery.number]
        for kit in ward.kits:
            if kit.battery is not None:
                assert kit.battery.charge <= n.capacity[kit.battery.number]
        return False

    play_out(ward, watch)


# --- a feature that is set to nothing changes nothing -------------------------------------------


def same_without(case: Case, **update: Any) -> None:
    """Play with some settings changed: every column is that of the play without the change."""
    logs = []
    for trace, stock in (case, with_settings(case, **update)):
        logs.append(play(*trace.situation(stock), engine="reference"))
    before, after = logs
    for column in RunLog.COLUMNS:
        assert np.array_equal(getattr(before, column), getattr(after, column)), column


def with_settings(case: Case, **update: Any) -> Case:
    trace, stock = case
    return dataclasses.replace(trace, settings=trace.settings.model_copy(update=update)), stock


@given(plays())
@hypothesis_settings(**FEW)
def test_an_empty_timeline_is_as_none_and_as_changes_that_do_nothing(case: Case):
    """A change that begins at the close, or whose share is 100 %, is none."""
    quiet = with_settings(case, timeline=())
    assert settings(timeline=[]) == settings()
    closing_s = quiet[0].closing_s
    nothing = (
        DefectiveFilters(
            what="defective filter lot", at="1 h", lasts="9 h", life="100 %", filters="both"
        ),
        ExtraPatients(what="extra patients", at="1 h", lasts="9 h", arrivals="100 %"),
        PowerOutage(what="power outage", at=f"{closing_s // 60 + 1} min", lasts="1 h"),
    )
    same_without(quiet, timeline=nothing)


@pytest.mark.slow
@given(plays())
@hypothesis_settings(**FEW)
def test_features_at_their_neutral_values_change_nothing(case: Case):
    """No fade with age, a place for every kit, a short wipe of nobody, rechecks after the end."""
    s = case[0].settings
    plain = with_settings(
        case,
        policy=s.policy.model_copy(update={"reserved_for_urgent": 0, "kit": "per entry"}),
        batteries=s.batteries.model_copy(update={"state_of_health": (1.0,), "age": None}),
        kit=s.kit.model_copy(update={"recheck": None, "single_use_hoods": False}),
        supplies=s.supplies.model_copy(update={"hoods": None, "tubes": None}),
    )
    s = plain[0].settings
    same_without(
        plain,
        policy=s.policy.model_copy(update={"wipe_between_visits": 999}),
        batteries=s.batteries.model_copy(
            update={"age": AgeFade(ages=("300 d", "900 d"), fade_per_year="0 %")}
        ),
        kit=s.kit.model_copy(update={"recheck": Recheck(first_after="5000 h", then_every="1 h")}),
        cleaning=s.cleaning
        if s.cleaning.by != "wearer" or s.cleaning.places is not None
        else s.cleaning.model_copy(update={"places": 10_000}),
    )
