"""Where an alternative changes demand, what can stay the same does, and the rest is as it should.

Expected numbers follow from the scenarios' rates; a sum of Poisson numbers is Poisson.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from surge_sim.demand.draw import draw
from surge_sim.demand.plan import beside, plan_of
from surge_sim.randomness import Streams

#: each random claim fails by chance with this probability at most
EACH = 1e-5
FALSE_ALARM = 4 * EACH
SURGES = 120
#: what of an entry must stay the same
OF_ENTRY = ("due_s", "don_s", "doff_s", "role", "urgent", "hood_torn", "tube_torn")


def drawn(base, changes, surge):
    """The demand of a surge as it is, and the changed one drawn beside it."""
    plan = plan_of(base.settings)
    other = plan_of(base.changed(changes).settings)
    streams = Streams(1, 0, surge)
    return draw(plan, streams), draw(beside(other, plan), streams)


def entries(demand, *more):
    columns = [getattr(demand, name).tolist() for name in (*OF_ENTRY, *more)]
    return sorted(zip(*columns, strict=True))


def patients(demand):
    table = demand.patients
    columns = (table.arrive_s, table.leave_s, table.patient_class)
    return sorted(zip(*(column.tolist() for column in columns), strict=True))


def within(few, many):
    """Whether a sorted list holds nothing but members of another, each no more often."""
    left = iter(many)
    return all(any(one == other for other in left) for one in few)


MORE = {
    "a higher rate": {"arrivals.baseline": "0.75 per day"},
    "extra patients": {
        "timeline": [
            {"what": "extra patients", "at": "0 min", "lasts": "5 d", "arrivals": "+200 %"}
        ]
    },
    "a larger cluster": {"arrivals.clusters.0.patients": 18},
}


@pytest.mark.parametrize("changes", MORE.values(), ids=MORE)
def test_more_arrivals_keep_every_patient_and_every_entry(exposure, changes):
    added = 0
    for surge in range(8):
        before, after = drawn(exposure, changes, surge)
        assert within(patients(before), patients(after))
        assert within(entries(before, "room_s"), entries(after, "room_s"))
        added += len(patients(after)) - len(patients(before))
    assert added > 0


def test_fewer_arrivals_are_some_of_the_same_with_their_entries(ward):
    # with rooms for all: who gets one that is free decides which terminal cleans there are
    roomy, left_out = ward.changed({"rooms.count": 100}), 0
    for surge in range(8):
        before, after = drawn(roomy, {"arrivals.baseline": "0.7 per day"}, surge)
        assert within(patients(after), patients(before))
        assert within(entries(after, "room_s"), entries(before, "room_s"))
        assert after.patient.max(initial=-1) < len(patients(after))
        left_out += len(patients(before)) - len(patients(after))
    assert left_out > 0


@pytest.mark.parametrize(
    ("entries_share", "room_time"), [("70 %", "100 %"), ("80 %", "125 %"), ("0 %", "100 %")]
)
def test_bundled_care_leaves_some_of_the_same_visits_out(ward, entries_share, room_time):
    care = {"entries": entries_share, "room_time": room_time}
    before, after = drawn(ward, {"policy.bundled_care": care}, 0)
    assert patients(after) == patients(before)
    assert within(entries(after), entries(before))
    if room_time == "125 %":
        longer = np.rint(before.room_s * 1.25).astype(int)
        known = set(zip(before.due_s.tolist(), longer.tolist(), strict=True))
        # terminal cleans, of 20 min each, are no visits
        visits = after.room_s != 1_200
        told = (after.due_s[visits].tolist(), after.room_s[visits].tolist())
        assert set(zip(*told, strict=True)) <= known


def test_what_is_equal_is_drawn_equal(exposure):
    plan = plan_of(exposure.settings)
    before, after = drawn(exposure, {"stock.kits": 40}, 3)
    assert entries(before, "room_s", "mark") == entries(after, "room_s", "mark")
    same = beside(plan, plan)
    assert (same.more, same.kept) == (None, None)
    assert all(role.done is None for role in same.roles)


@pytest.mark.parametrize("per_day", ["2.1 per day", "0.7 per day"])
def test_there_are_as_many_patients_as_the_changed_rate_says(ward, per_day):
    # 3 days, and those who are there at the start
    expected = float(per_day.split()[0]) * 3 * SURGES
    present = ward.settings.arrivals.initial_census
    found = 0
    for surge in range(SURGES):
        _, after = drawn_quickly(ward, {"arrivals.baseline": per_day}, surge)
        found += len(after.patients.arrive_s) - present
    assert stats.poisson.ppf(EACH / 2, expected) <= found <= stats.poisson.isf(EACH / 2, expected)


@pytest.mark.parametrize("share", ["70 %", "40 %"])
def test_bundled_care_leaves_the_share_that_it_says(ward, share):
    before = after = 0
    changes = {"policy.bundled_care": {"entries": share, "room_time": "100 %"}}
    for surge in range(SURGES // 4):
        one, other = drawn_quickly(ward, changes, surge)
        before, after = before + one.entries, after + other.entries
    kept = float(share.split()[0]) / 100
    low, high = (stats.binom.ppf(p, before, kept) for p in (EACH / 2, 1 - EACH / 2))
    assert low <= after <= high


PLANS = {}


def drawn_quickly(base, changes, surge):
    """The same as `drawn`, with plans made once."""
    key = str(changes)
    if key not in PLANS:
        PLANS[key] = plan_of(base.settings), plan_of(base.changed(changes).settings)
    plan, other = PLANS[key]
    streams = Streams(1, 0, surge)
    return draw(plan, streams), draw(beside(other, plan), streams)
