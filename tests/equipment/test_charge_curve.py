"""The charging curve: against its closed form, and exact in itself; numbers are invented.

With a constant current i until the knee at time u (of a charge time 1) and charge k, the current
falls as i exp(-f x), where x goes from 0 to 1 over the time 1 - u that is left. So
q(x) = k + (1 - k) (1 - exp(-f x)) / (1 - exp(-f)), and that the current has no jump at the knee
means k / u = (1 - k) / (1 - u) f / (1 - exp(-f)).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from surge_sim.equipment.average_load import expected_load
from surge_sim.equipment.charge_curve import (
    FULL,
    STEPS,
    charge_in_bay,
    charge_on_curve,
    exponential_end,
    logarithm_of_fall,
    second_on_curve,
    seconds_to_charge,
)
from surge_sim.scenario.load import scenario_from_text
from surge_sim.units import HOUR_S
from tests.engine.tiny import settings
from tests.scenario.base import changed

NONE = np.zeros(0, dtype=np.int64)
STRAIGHT, EXPONENTIAL = "straight", "exponential"


def curve(
    charge_s: int = 4 * HOUR_S, knee: float = 0.8, time: float = 0.6, end: str = EXPONENTIAL
) -> tuple[int, int, int, int, np.ndarray]:
    """A battery of full health that is full after so many seconds."""
    table = exponential_end(knee, time) if end == EXPONENTIAL else NONE
    return FULL, round(knee * FULL), round(time * charge_s), charge_s, table


@pytest.mark.parametrize(("knee", "time"), [(0.8, 0.6), (0.7, 0.5), (0.5, 0.45), (0.95, 0.6)])
def test_the_current_has_no_jump_at_the_knee(knee: float, time: float):
    fall = logarithm_of_fall(knee, time)
    after = (1 - knee) / (1 - time) * fall / (1 - math.exp(-fall))
    assert after == pytest.approx(knee / time, rel=1e-12)


def test_the_current_falls_to_a_tenth_for_80_per_cent_in_60_per_cent_of_the_time():
    assert math.exp(-logarithm_of_fall(0.8, 0.6)) == pytest.approx(0.0878, abs=5e-5)
    assert logarithm_of_fall(0.8, 0.8) == 0


def test_a_current_that_falls_at_once_leaves_a_curve():
    """A constant current for 1e-9 or 1e-320 of the time: all is in after the first step."""
    for time in (1e-9, 1e-320):
        assert exponential_end(0.8, time).tolist() == [0, *[FULL] * STEPS]
        known = curve(10_000, 0.8, time)
        assert [charge_on_curve(second, *known) for second in (0, 10)] == [8 * FULL // 10, FULL]


@pytest.mark.parametrize(("knee", "time"), [(0.8, 0.6), (0.7, 0.5), (0.6, 0.3)])
def test_the_charge_is_that_of_the_closed_form_at_every_second(knee: float, time: float):
    """Off by no more than a hundred-thousandth of the rated charge."""
    charge_s = 4 * HOUR_S
    known = curve(charge_s, knee, time)
    fall, cc_s = logarithm_of_fall(knee, time), round(time * charge_s)
    for second in range(0, charge_s + 1, 7):
        x = (second - cc_s) / (charge_s - cc_s)
        q = knee + (1 - knee) * math.expm1(-fall * x) / math.expm1(-fall)
        exact = knee * second / cc_s if second < cc_s else q
        assert charge_on_curve(second, *known) / FULL == pytest.approx(exact, abs=1e-5)


def test_the_last_4_per_cent_take_two_and_a_third_times_as_long_as_in_a_straight_line():
    """Of a charge of 7.25 h: 0.04 / 0.2 of the 2.9 h after the knee are 0.58 h.

    At constant voltage (exp(-f x) - c) / (1 - c) = 0.2 with c = exp(-f) = 0.08782, so exp(-f x) is
    0.27025 and x is 0.53792: 0.46208 of 2.9 h are 1.34 h.
    """
    full_s = round(7.25 * HOUR_S)
    took = [
        seconds_to_charge(96 * FULL // 100, FULL, *curve(full_s, end=end)) / HOUR_S
        for end in (STRAIGHT, EXPONENTIAL)
    ]
    assert took == [pytest.approx(0.58, abs=0.001), pytest.approx(1.34, abs=0.001)]


def test_where_the_charge_keeps_up_with_the_time_the_end_is_straight():
    known = curve(1_000, 0.5, 0.5)
    assert [charge_on_curve(s, *known) for s in (0, 250, 500, 750, 1_000)] == [
        0, FULL // 4, FULL // 2, 3 * FULL // 4, FULL,
    ]  # fmt: skip


@given(
    charge_s=st.integers(0, 40_000), knee=st.sampled_from([0.5, 0.8, 0.99]),
    time=st.sampled_from([0.05, 0.4, 0.5]), share=st.floats(0, 1), health=st.floats(0.01, 1),
    end=st.sampled_from([STRAIGHT, EXPONENTIAL]),
)  # fmt: skip
@hypothesis_settings(max_examples=400, deadline=None)
def test_a_second_is_the_first_at_which_the_curve_holds_a_charge(
    charge_s: int, knee: float, time: float, share: float, health: float, end: str
):
    capacity = round(health * FULL)
    _, _, cc_s, _, table = curve(charge_s, knee, time, end)
    known = capacity, max(round(knee * capacity), 1), cc_s, charge_s, table
    charge = round(share * capacity)
    second = second_on_curve(charge, *known)
    assert 0 <= second <= charge_s
    assert charge_on_curve(second, *known) >= charge
    # the last unit of charge counts as in when the charge time is over
    full = charge == capacity
    assert full or second == 0 or charge_on_curve(second - 1, *known) < charge
    # what is in goes on from there, and is never less than before
    assert charge_in_bay(charge, 60, *known) == max(charge, charge_on_curve(second + 60, *known))
    plain = (*known[:4], table.tolist())
    assert second_on_curve(charge, *plain) == second  # type: ignore[arg-type]


@pytest.mark.parametrize("step", [0, 1, 511, STEPS - 2, STEPS - 1])
def test_a_second_is_the_first_in_the_first_and_the_last_steps_of_the_end_too(step: int):
    """A charge of 116 days, in which a step of the table takes an hour."""
    known = curve(10**7)
    missing = FULL - known[1]
    for part in (0.0, 0.3, 0.7, 1.0):
        share = (1 - part) * known[4][step] + part * known[4][step + 1]
        charge = known[1] + round(missing * share / FULL)
        second = second_on_curve(charge, *known)
        assert charge_on_curve(second, *known) >= charge
        assert charge == FULL or charge_on_curve(second - 1, *known) < charge


def test_the_table_of_an_end_cannot_be_written_to():
    """It is worked out once for all batteries of the same chargers."""
    assert not exponential_end(0.8, 0.6).flags.writeable


@pytest.mark.parametrize("time", [0.6, 1e-9, 1e-320])
def test_the_average_workload_charges_along_the_same_curve(time: float):
    """Batteries come back with 90 %: bays are busy for as much longer as the curve says.

    Also where the current is constant for so short a time that it falls to nothing at once.
    """
    base = ("nurse: {room_time: 5 min}", "nurse: {room_time: 44 min}")  # worn 48 of 480 min
    busy = {}
    for end in (STRAIGHT, EXPONENTIAL):
        told = f"end_of_charge: {end}, constant_current_time: {100 * time:.330f} %"
        text = changed(base, ("charge_time: 3 h", f"charge_time: 3 h, {told}"))
        busy[end] = expected_load(scenario_from_text(text).settings).bays_busy_at_peak
    took = {
        end: seconds_to_charge(9 * FULL // 10, FULL, *curve(3 * HOUR_S, time=time, end=end))
        for end in busy
    }
    ratio = took[EXPONENTIAL] / took[STRAIGHT]
    assert busy[EXPONENTIAL] / busy[STRAIGHT] == pytest.approx(ratio, rel=1e-3)


def test_a_scenario_says_how_the_end_of_a_charge_goes():
    from surge_sim.equipment.numbers import rules_of

    assert len(rules_of(settings()).end_of_charge) == 0
    rules = rules_of(settings(batteries={"end_of_charge": EXPONENTIAL}))
    assert rules.end_of_charge.tolist() == exponential_end(0.8, 0.6).tolist()
