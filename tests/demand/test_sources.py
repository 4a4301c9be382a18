"""When patients of each source come, to the second."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from surge_sim.demand.distributions import fitted
from surge_sim.demand.patients import still_there
from surge_sim.demand.plan import plan_of
from surge_sim.scenario.spread import TimeSpread
from tests.demand.chance import counts_agree
from tests.demand.ward import draw, scenario, settings

DAY_S, HOUR_S = 86_400, 3_600
NOBODY_VISITS = {"ward": {"length_of_isolation": "1 h", "entries": {"nurse": "0 per day"}}}


def counted(tmp_path, counts, **changes):
    """When patients come [s] of whom the numbers of each day are exact."""
    rows = "".join(f"{day},{count}\n" for day, count in enumerate(counts, 1))
    (tmp_path / "cases.csv").write_text("day,patients\n" + rows)
    exact = {"daily_counts": {"file": "cases.csv", "exact": "yes"}, "baseline": None}
    changes["arrivals"] = exact | changes.get("arrivals", {})
    return draw(folder=tmp_path, classes=NOBODY_VISITS, **changes).patients.arrive_s


def test_exact_counts_come_by_the_weights_of_the_hours_of_their_day(tmp_path):
    """Twice as often from 12 to 18 as from 6 to 12 and never at night, even within an hour.

    Days last 24 hours from the start on, at midnight or at half past nine. Counts of hours are
    less uneven than Poisson ones, so the false alarm is less than 1 in a million.
    """
    weights = [0] * 6 + [1] * 6 + [2] * 6 + [0] * 6
    counts = []
    for start, clock_at_start_s in (("00:00", 0), ("09:30", 9 * HOUR_S + 1_800)):
        arrive_s = counted(
            tmp_path, [6_000, 0, 12_000], start=f"2031-03-03T{start}", horizon="3 d",
            arrivals={"hours_of_day": weights},
        )  # fmt: skip
        assert np.bincount(arrive_s // DAY_S, minlength=3).tolist() == [6_000, 0, 12_000]
        clock_s = arrive_s + clock_at_start_s
        hours = np.bincount(clock_s // HOUR_S % 24, minlength=24)
        assert not hours[np.array(weights) == 0].any()
        counts += [*hours[6:18], *np.bincount(clock_s % HOUR_S // 900, minlength=4)]
    assert counts_agree(counts, [*[1_000] * 6, *[2_000] * 6, *[4_500] * 4] * 2)


def test_patients_of_exact_counts_come_in_the_last_second_of_a_day_and_not_at_the_horizon(tmp_path):
    """All 100,000 of day 1 in its last hour: some 28 in each second, in the last one, too.

    With a horizon half an hour earlier the others do not come, nor those in its second. That
    nobody comes in a second by chance has a probability of exp(-27.8).
    """
    weights = {"hours_of_day": [0] * 23 + [1]}
    arrive_s = counted(tmp_path, [100_000], horizon="1 d", arrivals=weights)
    assert arrive_s.min() == 23 * HOUR_S and arrive_s.max() == DAY_S - 1
    cut = counted(tmp_path, [100_000], horizon=f"{DAY_S - 1_800} s", arrivals=weights)
    assert cut.max() == DAY_S - 1_801
    assert len(cut) == (arrive_s < DAY_S - 1_800).sum()


def test_a_cluster_comes_in_every_second_of_its_time_and_not_at_the_horizon():
    """Within 2 s: some 300 in each of three seconds; that none comes has a chance of 1e-158."""
    cluster = {"patients": 900, "at": "1 h", "within": "2 s"}
    arrivals = {"baseline": None, "clusters": [cluster]}
    for horizon_s in (2 * HOUR_S, HOUR_S + 2):
        arrive_s = draw(
            horizon=f"{horizon_s} s", arrivals=arrivals, classes=NOBODY_VISITS
        ).patients.arrive_s
        seconds = [HOUR_S + second for second in range(3) if HOUR_S + second < horizon_s]
        assert sorted(set(arrive_s.tolist())) == seconds


def test_a_stay_of_a_second_lasts_a_second_and_none_is_shorter():
    for stay in ("1 s", "0 s"):
        classes = {"ward": {"length_of_isolation": stay, "entries": {"nurse": "0 per day"}}}
        patients = draw(arrivals={"baseline": "50 per day"}, classes=classes).patients
        assert set((patients.leave_s - patients.arrive_s).tolist()) == {1}


def test_of_a_short_stay_the_rest_is_shared_out_to_the_second():
    """Of 10 s half is left after 5 s; of 1 s half after half a second."""
    ten, one = (fitted(TimeSpread(shape="fixed", mean=mean)) for mean in (10, 1))
    assert_allclose(still_there(ten, np.array([-5.0, 0.0, 5.0, 10.0, 11.0])), [1, 1, 0.5, 0, 0])
    assert_allclose(still_there(one, np.array([0.0, 0.5, 1.0])), [1, 0.5, 0])


def test_patients_to_expect_are_those_of_all_sources():
    """4 a day for 10 d, half as many more for 2 d, a cluster of 5 and 3 at the start: 52."""
    event = {"what": "extra patients", "at": "1 d", "lasts": "2 d", "arrivals": "150 %"}
    plan = plan_of(
        settings(
            arrivals={
                "baseline": "4 per day", "initial_census": 3,
                "clusters": [{"patients": 5, "at": "2 d"}],
            },
            timeline=[event],
        )
    )  # fmt: skip
    assert plan.expected_patients == pytest.approx(52)


def test_whoever_is_found_present_is_of_a_class_by_its_stay_of_a_second_or_more():
    """Stays of 0 s count as 1 s, as they are drawn: 1 to 3."""
    classes = {
        "ward": {"share": "50 %", "length_of_isolation": "0 s", "entries": {"nurse": "1 per day"}},
        "b": {"share": "50 %", "length_of_isolation": "3 s", "entries": {"nurse": "1 per day"}},
    }
    plan = plan_of(settings(arrivals={"initial_census": 3}, classes=classes))
    assert_allclose(plan.found_below, [0.25, 1])


def test_a_log_expects_no_patients_and_its_roles_take_the_times_of_the_kit(tmp_path):
    (tmp_path / "log.csv").write_text("requested,room_minutes,role\n0,5,porter\n")
    plan = plan_of(
        scenario(tmp_path, entries={"from": "log.csv"}, arrivals=None, classes=None).settings
    )
    assert plan.expected_patients == 0
    (porter,) = plan.roles
    assert (porter.don.mean_s(), porter.doff.mean_s()) == (120, 180)
    assert (porter.kit_share, porter.longer, porter.rooms_per_round) == (1, 1, 1)
