"""Entries of staff: how many, when, how long, with what luck."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from surge_sim.errors import ScenarioError
from surge_sim.units import NEVER_S
from tests.demand.chance import agrees, count_agrees, counts_agree, follows, share_agrees
from tests.demand.ward import draw

DAY_S, HOUR_S = 86_400, 3_600

#: room times that are told apart
STRETCHED = {"shape": "lognormal", "mean": "6 min", "cv": "80 %"}


def steady(seed=1, **changes):
    """Ten patients from the first to the last second of 100 days, 20 visits a day each."""
    plain = {
        "arrivals": {"baseline": None, "initial_census": 10, "initial_stay": "full"},
        "horizon": "100 d",
        "classes": {"ward": {"length_of_isolation": "400 d", "entries": {"nurse": "20 per day"}}},
    }
    return draw(seed=seed, **(plain | changes))


def test_number_of_entries_is_patients_times_days_times_rate():
    """Poisson, mean 10 x 100 x 20; false alarm 1 in a million."""
    assert count_agrees(steady(seed=31).entries, 20_000)


def test_entries_of_a_patient_are_poisson_and_independent_of_others():
    """Counts of 10 patients on 100 days: mean and variance 20."""
    trace = steady(seed=32)
    cell = trace.patient * 100 + trace.due_s // DAY_S
    counts = np.bincount(cell, minlength=1_000)
    assert agrees(counts.mean(), 20, np.sqrt(20 / 1_000))
    assert agrees(counts.var(ddof=1), 20, np.sqrt((20 + 2 * 400) / 1_000))


def test_gaps_between_entries_are_exponential():
    """Kolmogorov-Smirnov against a mean of 432 s; whole seconds blur it little."""
    trace = steady(seed=33)
    assert follows(np.diff(trace.due_s) + 0.5, lambda x: -np.expm1(-np.maximum(x, 0) / 432))


def test_hours_of_the_day_shape_the_entries_and_keep_their_number():
    weights = [0] * 6 + [2] * 6 + [1] * 6 + [3] * 6
    trace = steady(seed=34, roles={"nurse": {"hours_of_day": weights}})
    hours = np.bincount(trace.due_s // HOUR_S % 24, minlength=24)
    assert hours[:6].sum() == 0
    assert counts_agree(hours[6:], 20_000 * np.array(weights[6:]) / 36)
    quarters = np.bincount(trace.due_s % HOUR_S // 900, minlength=4)
    assert counts_agree(quarters, [5_000] * 4)


def test_hours_of_the_day_are_the_clocks_not_the_horizons():
    weights = [0] * 12 + [1] * 12
    trace = steady(start="2031-03-03T09:20", roles={"nurse": {"hours_of_day": weights}})
    clock = (trace.due_s + 9 * HOUR_S + 20 * 60) // HOUR_S % 24
    assert clock.min() >= 12


def test_entries_fall_inside_the_stay_and_the_horizon():
    trace = draw(seed=5, horizon="6 d", start="2031-03-03T05:47",
                 roles={"nurse": {"hours_of_day": [1] * 12 + [9] * 12}})  # fmt: skip
    patients = trace.patients
    assert (trace.due_s >= patients.arrive_s[trace.patient]).all()
    assert (trace.due_s < patients.leave_s[trace.patient]).all()
    assert trace.due_s.max() < trace.horizon_s


def test_each_class_has_its_own_rate():
    classes = {
        "ward": {"share": "50 %", "length_of_isolation": "1 d", "entries": {"nurse": "10 per day"}},
        "icu": {"share": "50 %", "length_of_isolation": "1 d", "entries": {"nurse": "40 per day"}},
    }
    trace = draw(seed=35, horizon="100 d", classes=classes)
    stay_s = np.minimum(trace.patients.leave_s, trace.horizon_s) - trace.patients.arrive_s
    for number, rate in enumerate((10, 40)):
        days = stay_s[trace.patients.patient_class == number].sum() / DAY_S
        assert count_agrees(int((trace.patient_class == number).sum()), rate * days)


def test_share_with_a_kit_drops_the_others_and_moves_none():
    """Binomial; the entries kept are some of the very same visits."""
    all_visits, kept = (
        steady(seed=36, roles={"nurse": {"kit_share": share, "room_time": STRETCHED}})
        for share in ("100 %", "30 %")
    )
    assert share_agrees(kept.entries, all_visits.entries, 0.3)
    assert visits(kept) < visits(all_visits)
    assert steady(roles={"nurse": {"kit_share": "0 %"}}).entries == 0


def visits(trace):
    return set(zip(trace.due_s, trace.room_s, trace.patient, strict=True))


def test_room_times_follow_their_distribution():
    times = {"shape": "lognormal", "median": "3 min", "p90": "10 min"}
    trace = steady(seed=37, roles={"nurse": {"room_time": times}})
    assert share_agrees(int((trace.room_s <= 180).sum()), trace.entries, float(_cdf(180.5)))
    assert share_agrees(int((trace.room_s <= 600).sum()), trace.entries, float(_cdf(600.5)))


def _cdf(time_s):
    """A whole second s stands for (s - 0.5, s + 0.5)."""
    from scipy import stats

    sigma = np.log(600 / 180) / stats.norm.ppf(0.9)
    return stats.norm.cdf(np.log(time_s / 180) / sigma)


def test_bundled_care_makes_visits_fewer_and_longer_for_the_roles_it_names():
    roles = {"nurse": {"room_time": "6 min"}, "other": {"room_time": "6 min"}}
    classes = {"ward": {"length_of_isolation": "400 d",
                        "entries": {"nurse": "20 per day", "other": "20 per day"}}}  # fmt: skip
    care = {"bundled_care": {"entries": "60 %", "room_time": "140 %", "roles": ["nurse"]}}
    trace = steady(seed=38, roles=roles, classes=classes, policy=care)
    nurse = trace.role == 0
    assert count_agrees(int(nurse.sum()), 12_000) and count_agrees(int((~nurse).sum()), 20_000)
    assert set(trace.room_s[nurse].tolist()) == {504}
    assert set(trace.room_s[~nurse].tolist()) == {360}
    everybody = {"bundled_care": {"entries": "50 %", "room_time": "200 %"}}
    both = steady(seed=39, roles=roles, classes=classes, policy=everybody)
    assert count_agrees(both.entries, 20_000) and set(both.room_s.tolist()) == {720}


URGENT = {
    "ward": {
        "length_of_isolation": "400 d",
        "entries": {"nurse": "20 per day"},
        "urgent": {"per_patient": "0.5 per day", "team": 4, "role": "crash"},
    }
}
CRASH = {"nurse": {"room_time": "6 min"}, "crash": {"room_time": "25 min", "kit_share": "10 %"}}


def test_urgent_events_bring_the_whole_team_at_the_same_second():
    """500 events, Poisson; every member wears a kit, whatever the share of the role's visits."""
    trace = steady(seed=40, classes=URGENT, roles=CRASH)
    due_s, counts = np.unique(trace.due_s[trace.urgent], return_counts=True)
    assert (counts % 4 == 0).all()
    assert count_agrees(len(due_s), 500)
    assert set(trace.role[trace.urgent].tolist()) == {1}
    assert set(trace.wearer[trace.urgent].tolist()) == {-1}
    assert set(trace.room_s[trace.urgent].tolist()) == {1_500}


def test_urgent_events_of_each_class_bring_its_own_team():
    """Two of one role to the one class, three of another to the other: 600 and 1,500 or so."""
    urgent = {"ward": ("nurse", 2), "icu": ("crash", 3)}
    classes = {
        name: URGENT["ward"]
        | {"share": "50 %", "urgent": {"per_patient": "0.5 per day", "team": team, "role": role}}
        for name, (role, team) in urgent.items()
    }
    trace = steady(seed=49, classes=classes, roles=CRASH, horizon="300 d")
    rows = (getattr(trace, one)[trace.urgent].tolist() for one in ("patient_class", "role"))
    assert set(zip(*rows, strict=True)) == {(0, 0), (1, 1)}
    for number, team in enumerate((2, 3)):
        theirs = trace.due_s[trace.urgent & (trace.patient_class == number)]
        assert (np.unique(theirs, return_counts=True)[1] % team == 0).all() and len(theirs) > 100


def test_bundled_care_makes_no_urgent_entry_longer():
    bundled = {"bundled_care": {"entries": "50 %", "room_time": "200 %"}}
    trace = steady(seed=50, classes=URGENT, roles=CRASH, policy=bundled)
    assert set(trace.room_s[trace.urgent].tolist()) == {1_500}
    assert set(trace.room_s[~trace.urgent].tolist()) == {720}


def test_urgent_events_move_no_visit():
    calm = steady(seed=41, roles=CRASH, classes={"ward": URGENT["ward"] | {"urgent": None}})
    trace = steady(seed=41, roles=CRASH, classes=URGENT)
    assert_array_equal(trace.due_s[~trace.urgent], calm.due_s)


def test_rows_are_sorted_and_urgent_ones_are_first_in_their_second():
    crowd = {"ward": URGENT["ward"] | {"entries": {"nurse": "9000 per day"}}}
    trace = steady(seed=42, classes=crowd, roles=CRASH, horizon="1 d")
    assert (np.diff(trace.due_s) >= 0).all()
    same = np.flatnonzero(np.diff(trace.due_s) == 0)
    assert len(same) > 1_000
    assert not (~trace.urgent[same] & trace.urgent[same + 1]).any()
    assert (trace.urgent[same] & ~trace.urgent[same + 1]).any()


def test_maximum_wait_is_the_roles_or_the_policys_and_urgent_entries_have_their_own():
    roles = CRASH | {"nurse": {"room_time": "6 min", "maximum_wait": "45 min"}}
    policy = {"maximum_wait": "30 min", "urgent_maximum_wait": "5 min"}
    classes = {"ward": URGENT["ward"] | {"entries": {"nurse": "20 per day", "crash": "5 per day"}}}
    trace = steady(seed=43, classes=classes, roles=roles, policy=policy)
    maximum_wait = {
        (int(role), bool(urgent)): set(
            trace.maximum_wait_s[(trace.role == role) & (trace.urgent == urgent)]
        )
        for role, urgent in ((0, False), (1, False), (1, True))
    }
    assert maximum_wait == {(0, False): {2_700}, (1, False): {1_800}, (1, True): {300}}
    assert set(steady(horizon="2 d").maximum_wait_s.tolist()) == {NEVER_S}
    # maximum wait of routine entries is no maximum wait of urgent ones
    trace = steady(classes=URGENT, roles=roles, policy={"maximum_wait": "30 min"})
    assert set(trace.maximum_wait_s[trace.urgent].tolist()) == {NEVER_S}


def test_donning_and_doffing_are_the_roles_own_or_the_kits():
    roles = {"nurse": {"room_time": "6 min", "don": "90 s"}, "other": {"room_time": "6 min"}}
    classes = {"ward": {"entries": {"nurse": "20 per day", "other": "20 per day"}}}
    trace = draw(roles=roles, classes=classes)
    times = set(zip(trace.role.tolist(), trace.don_s.tolist(), trace.doff_s.tolist(), strict=True))
    assert times == {(0, 90, 180), (1, 120, 180)}


def test_hoods_and_tubes_tear_with_their_chance_and_move_nothing_else():
    """Two binomial counts; false alarm 1 in a million each."""
    whole = steady(seed=44)
    trace = steady(seed=44, failures={"hood_damage": "5 %", "tube_damage": "2 %"})
    assert_array_equal(trace.due_s, whole.due_s)
    assert not whole.hood_torn.any() and not whole.tube_torn.any()
    assert share_agrees(int(trace.hood_torn.sum()), trace.entries, 0.05)
    assert share_agrees(int(trace.tube_torn.sum()), trace.entries, 0.02)
    always = steady(horizon="2 d", failures={"hood_damage": "100 %"})
    assert always.hood_torn.all() and not always.tube_torn.any()


def test_a_role_added_at_the_end_moves_no_entry_of_the_others():
    roles = {"nurse": {"room_time": STRETCHED, "kit_share": "80 %", "don": STRETCHED}}
    more = {"other": {"room_time": STRETCHED, "patients_per_wearer": 3}}
    faults = {"hood_damage": "5 %"}
    entries = {"nurse": "20 per day", "other": "9 per day"}
    classes = {"ward": {"length_of_isolation": "3 d", "entries": entries}}
    alone = draw(seed=45, roles=roles, failures=faults)
    both = draw(seed=45, roles=roles | more, classes=classes, failures=faults)
    theirs = both.role == 0
    assert 0 < theirs.sum() < both.entries
    for column in ("due_s", "room_s", "don_s", "doff_s", "patient", "hood_torn", "wearer"):
        assert_array_equal(getattr(both, column)[theirs], getattr(alone, column), err_msg=column)


def test_roles_that_never_come_hide_none_that_do():
    """The first and the third role have no visits, the third has urgent events alone."""
    rates = {"nurse": 0, "porter": 20, "crash": 0, "aide": 9}
    entries = {name: f"{rate} per day" for name, rate in rates.items()}
    urgent = {"per_patient": "0.5 per day", "team": 2, "role": "crash"}
    ward = {"length_of_isolation": "400 d", "entries": entries, "urgent": urgent}
    roles = {name: {"room_time": "6 min"} for name in entries}
    trace = steady(seed=46, classes={"ward": ward}, roles=roles)
    come = {(int(role), bool(one)) for role, one in zip(trace.role, trace.urgent, strict=True)}
    assert come == {(1, False), (2, True), (3, False)}


def test_visits_to_a_stay_of_two_seconds_come_in_either():
    """Some 4,600 visits in each of the two."""
    trace = draw(
        seed=47,
        horizon="1 d",
        arrivals={"baseline": "10000 per day"},
        classes={"ward": {"length_of_isolation": "2 s", "entries": {"nurse": "40000 per day"}}},
    )
    second = trace.due_s - trace.patients.arrive_s[trace.patient]
    assert set(second.tolist()) == {0, 1} and trace.entries > 5_000


def test_as_many_urgent_entries_and_patients_as_the_limits_say_are_drawn(monkeypatch):
    """The last of them is still drawn; one more is refused."""
    changes = {"classes": URGENT | {"ward": URGENT["ward"] | {"entries": {"nurse": "0 per day"}}}}
    trace = steady(seed=48, roles=CRASH, **changes)
    for limit, most in (
        ("entries.MOST_REQUESTS", trace.entries),
        ("patients.MOST_PATIENTS", len(trace.patients.arrive_s)),
    ):
        monkeypatch.setattr(f"surge_sim.demand.{limit}", most)
        assert steady(seed=48, roles=CRASH, **changes).entries == trace.entries
        monkeypatch.setattr(f"surge_sim.demand.{limit}", most - 1)
        with pytest.raises(ScenarioError, match=f"has {most - 1:,} at most"):
            steady(seed=48, roles=CRASH, **changes)
        monkeypatch.setattr(f"surge_sim.demand.{limit}", most)


@pytest.mark.parametrize(
    "changes",
    [
        {"arrivals": {"baseline": "0 per day"}},
        {"classes": {"ward": {"entries": {"nurse": "0 per day"}}}},
        {"roles": {"nurse": {"hours_of_day": [0] * 23 + [1]}}, "horizon": "22 h"},
        {"rooms": {"count": 0, "air_changes": "6 per h", "when_full": "divert"}},
    ],
    ids=["no patients", "no visits", "no visits by day", "all diverted"],
)
def test_a_surge_without_entries_is_a_surge(changes):
    trace = draw(**changes)
    assert trace.entries == 0
    assert len(trace.due_s) == len(trace.hood_torn) == len(trace.shift_end_s) == 0


def test_horizon_of_a_quarter_of_an_hour():
    trace = draw(horizon="15 min", arrivals={"baseline": "2000 per day", "initial_census": 40})
    assert trace.entries > 0 and trace.due_s.max() < 900
