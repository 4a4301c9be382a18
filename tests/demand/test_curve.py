"""Expected admissions by hand, and drawn ones around them."""

from datetime import datetime

import numpy as np
import pytest
from numpy.testing import assert_allclose

from surge_sim.demand.curve import expected_curve, extra_patients, whole_counts
from surge_sim.scenario.patients import Arrivals
from surge_sim.scenario.timeline import ExtraPatients
from tests.demand.chance import count_agrees, counts_agree
from tests.demand.ward import draw, settings

DAY_S, HOUR_S = 86_400, 3_600
MONDAY = datetime(2031, 3, 3)


def curve(start=MONDAY, horizon_s=14 * DAY_S, **arrivals):
    return expected_curve(Arrivals.model_validate(arrivals), start, horizon_s)


def by_day(one):
    summed = np.concatenate(([0], np.cumsum(one.expected)))
    days = np.arange(0, one.edges_s[-1] + 1, DAY_S)
    return np.diff(np.interp(days, one.edges_s, summed))


def more(at_h, lasts_h, percent):
    return ExtraPatients.model_validate(
        {"what": "extra patients", "at": f"{at_h} h", "lasts": f"{lasts_h} h",
         "arrivals": f"{percent} %"}
    )  # fmt: skip


def test_one_in_667_minutes_and_one_in_200_minutes_are_009_and_030_an_hour():
    slow, fast = (curve(baseline=f"{1440 / minutes} per day") for minutes in (666.7, 200))
    assert slow.expected[5] == pytest.approx(0.09, abs=5e-5)
    assert fast.expected[5] == pytest.approx(0.30)


def test_wave_adds_its_exact_area_and_peaks_in_its_middle():
    wave = {"extra_at_peak": "10 per day", "peak": "20 d", "width": "3 d"}
    one = curve(horizon_s=40 * DAY_S, wave=wave)
    assert one.expected.sum() == pytest.approx(10 * 3 * np.sqrt(2 * np.pi), rel=1e-9)
    assert np.argmax(one.expected) in (479, 480)
    assert one.expected.max() * 24 == pytest.approx(10, rel=1e-4)


def test_hour_weights_share_out_the_day_and_keep_its_sum():
    weights = [0] * 8 + [1] * 4 + [3] * 4 + [0] * 8
    one = curve(baseline="4 per day", hours_of_day=weights)
    assert_allclose(one.expected[7:17], [0, *[0.25] * 4, *[0.75] * 4, 0])
    assert_allclose(by_day(one), 4)


def test_hour_weights_follow_the_clock_when_the_surge_begins_at_half_past():
    weights = [0] * 8 + [1] + [0] * 15
    one = curve(start=datetime(2031, 3, 3, 7, 30), baseline="4 per day", hours_of_day=weights)
    busy = one.expected > 0
    assert one.edges_s[:-1][busy][:2].tolist() == [1_800, 1_800 + DAY_S]
    assert one.expected[busy][0] == pytest.approx(4)


def test_day_weights_follow_the_calendar_and_keep_the_sum_of_the_week():
    one = curve(baseline="7 per day", days_of_week={"saturday": 0, "sunday": 0})
    assert_allclose(by_day(one)[:8], [9.8] * 5 + [0, 0] + [9.8])
    sunday = curve(start=datetime(2031, 3, 2), baseline="7 per day", days_of_week={"sunday": 0})
    assert_allclose(by_day(sunday)[:8], [0] + [49 / 6] * 6 + [0])


def test_daily_counts_are_shared_and_weighted_and_end_with_the_list():
    counts = {"file": "x.csv", "counts": (10, 0, 20), "share": "150 %"}
    one = curve(daily_counts=counts, days_of_week={"monday": 2, "wednesday": 0})
    assert_allclose(by_day(one)[:5], [30, 0, 0, 0, 0])
    assert_allclose(by_day(curve(daily_counts=counts))[:5], [15, 0, 30, 0, 0])


def test_shares_of_exact_counts_lose_nobody_by_rounding():
    counts = {"file": "x.csv", "counts": (1,) * 10, "share": "50 %", "exact": "yes"}
    whole = whole_counts(Arrivals.model_validate({"daily_counts": counts}))
    assert whole.sum() == 5
    assert set(whole.tolist()) == {0, 1}


def test_of_shares_of_exact_counts_more_than_half_a_patient_is_one_and_half_a_one_is_not_yet():
    """Summed 0.3, 0.6, 0.9, 1.2, 1.5, 1.8, 2.1, 2.4: rounded 0, 1, 1, 1, 1, 2, 2, 2."""
    counts = {"file": "x.csv", "counts": (1,) * 8, "share": "30 %", "exact": "yes"}
    whole = whole_counts(Arrivals.model_validate({"daily_counts": counts}))
    assert whole.tolist() == [0, 1, 0, 0, 0, 1, 0, 0]


def test_daily_counts_are_of_days_of_24_hours_also_when_the_surge_begins_at_half_past():
    """Slots are cut at full hours of the clock, and at the ends of these days."""
    for more in ({}, {"exact": "yes"}):
        counts = {"file": "x.csv", "counts": (10, 0, 20), **more}
        one = curve(start=datetime(2031, 3, 3, 7, 30), daily_counts=counts)
        assert_allclose(by_day(one)[:4], [10, 0, 20, 0])


def test_nothing_of_a_curve_can_be_written_to():
    """It is worked out once for all surges of the same arrivals."""
    for array in curve(baseline="2 per day"):
        assert not array.flags.writeable


def test_parts_of_the_curve_add_up():
    counts = {"file": "x.csv", "counts": (10,) * 14}
    wave = {"extra_at_peak": "10 per day", "peak": "7 d", "width": "1 d"}
    epidemic = {
        "population": 10_000, "reproduction_number": 3, "latent": "1 d", "infectious": "2 d",
        "admitted": "5 %", "first_cases": 10,
    }  # fmt: skip
    alone = [curve(baseline="2 per day"), curve(wave=wave), curve(epidemic=epidemic)]
    alone.append(curve(daily_counts=counts))
    together = curve(baseline="2 per day", wave=wave, epidemic=epidemic, daily_counts=counts)
    assert_allclose(together.expected, sum(one.expected for one in alone))


def test_extra_patients_multiply_the_rate_for_their_time_only():
    """One an hour otherwise: 2 more an hour, 3.5 more where both events are, then 0.5 more."""
    events = (more(10.5, 2, 300), more(12, 1, 150))
    usual = curve(baseline="24 per day")
    edges_s, extra = extra_patients(usual, events)
    rate = extra / np.diff(edges_s) * HOUR_S
    at_s = edges_s[:-1] / HOUR_S
    assert_allclose(rate[(at_s >= 10.5) & (at_s < 12)], 2)
    assert_allclose(rate[(at_s >= 12) & (at_s < 12.5)], 3.5)
    assert_allclose(rate[(at_s >= 12.5) & (at_s < 13)], 0.5)
    assert_allclose(rate[(at_s < 10.5) | (at_s >= 13)], 0)
    assert extra_patients(usual, ()) is extra_patients(usual, (more(5, 9, 100),)) is None


@pytest.mark.parametrize("lasts_h", [1.75, 2.75, 9])
def test_extra_patients_are_those_of_the_hours_in_which_they_come(lasts_h):
    """From 0 to 4 h come 1, 2, 3 and 4 an hour; from 1.5 h on, for some time, thrice as many."""
    weights = [1, 2, 3, 4, *[0] * 20]
    usual = curve(horizon_s=4 * HOUR_S, baseline="10 per day", hours_of_day=weights)
    edges_s, extra = extra_patients(usual, (more(1.5, lasts_h, 300),))
    assert (edges_s[0], edges_s[-1]) == (0, 4 * HOUR_S)
    quarters = np.arange(17) * 900
    found = np.diff(np.interp(quarters, edges_s, np.cumsum([0, *extra])))
    ends = min(1.5 + lasts_h, 4)
    expected = [
        2 * weights[quarter // 4] / 4 if 1.5 <= quarter / 4 < ends else 0 for quarter in range(16)
    ]
    assert_allclose(found, expected, atol=1e-9)


def test_horizon_shorter_than_an_hour_has_one_slot():
    one = curve(horizon_s=1_200, baseline="72 per day")
    assert one.edges_s.tolist() == [0, 1_200]
    assert one.expected.tolist() == [pytest.approx(1)]


def test_drawn_arrivals_follow_the_curve_by_hour_of_the_day_and_by_weekday():
    """Poisson counts in 24 + 7 bins; false alarm 1 in a million each family."""
    weights = [1] * 8 + [4] * 10 + [2] * 6
    changes = dict(
        horizon="70 d",
        arrivals={"baseline": "200 per day", "hours_of_day": weights,
                  "days_of_week": {"sunday": 0.4}},
        classes={"ward": {"length_of_isolation": "1 h", "entries": {"nurse": "0 per day"}}},
    )  # fmt: skip
    arrive_s = draw(seed=11, **changes).patients.arrive_s
    one = settings(**changes)
    expected = expected_curve(one.arrivals, one.start, one.horizon).expected.reshape(70, 24)
    hours = np.bincount(arrive_s // HOUR_S % 24, minlength=24)
    days = np.bincount(arrive_s // DAY_S % 7, minlength=7)
    assert counts_agree(hours, expected.sum(axis=0))
    assert counts_agree(days, expected.sum(axis=1).reshape(10, 7).sum(axis=0))
    # even within the hour
    quarters = np.bincount(arrive_s % HOUR_S // 900, minlength=4)
    assert counts_agree(quarters, np.full(4, expected.sum() / 4))


def test_drawn_counts_of_a_slot_are_poisson():
    """Variance of 2,000 counts of mean 5 is 5: its standard error is 0.17."""
    from tests.demand.chance import agrees

    changes = dict(horizon="2000 h", arrivals={"baseline": "120 per day"})
    arrive_s = draw(seed=12, **changes).patients.arrive_s
    counts = np.bincount(arrive_s // HOUR_S, minlength=2_000)
    assert agrees(counts.mean(), 5, np.sqrt(5 / 2_000))
    assert agrees(counts.var(ddof=1), 5, np.sqrt((5 + 2 * 25) / 2_000))


@pytest.mark.parametrize("percent", [100, 250])
def test_drawn_extra_patients_come_in_their_time_only(percent):
    """Two Poisson counts; false alarm 1 in a million each."""
    changes = dict(horizon="20 d", arrivals={"baseline": "240 per day"})
    event = {"what": "extra patients", "at": "4 d", "lasts": "5 d", "arrivals": f"{percent} %"}
    calm = draw(seed=13, **changes).patients.arrive_s
    arrive_s = draw(seed=13, timeline=[event], **changes).patients.arrive_s

    def inside(moments):
        return (moments >= 4 * DAY_S) & (moments < 9 * DAY_S)

    assert count_agrees(int(inside(arrive_s).sum()), 5 * 240 * percent / 100)
    # patients outside it are the very same
    assert arrive_s[~inside(arrive_s)].tolist() == calm[~inside(calm)].tolist()
