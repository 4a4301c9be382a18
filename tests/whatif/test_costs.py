"""What alternatives cost, worked out by hand from the prices of the exposure scenario.

Kit 1,400; battery 240; charger of 4 bays 520; a cleaner on every shift 1,100 a surge. The crew
has two shifts of 9.5 h with 3 cleaners each.
"""

from __future__ import annotations

import pytest

from surge_sim.whatif.costs import cost_of
from surge_sim.whatif.design import alternative_of, base_of

EXTRA = {"what": "extra cleaners", "at": "1 d", "lasts": "1 d", "cleaners": 1}
FOR_GOOD = {"what": "extra cleaners", "at": "0 min", "cleaners": 1}


@pytest.mark.parametrize(
    ("changes", "purchase", "per_surge", "unpriced"),
    [
        ({"policy.kit": "held for a shift"}, 0, 0, ()),
        # no price of the scenario is of these
        ({"batteries.charge_time": "2 h"}, 0, 0, ("batteries of another sort",)),
        ({"batteries.state_of_health": "100 %"}, 0, 0, ("batteries of another sort",)),
        ({"kit.levels.0.run_time": "9 h"}, 0, 0, ("kits of another sort",)),
        ({"rooms.count": 12, "stock.kits": 33}, 1_400, 0, ("other rooms",)),
        ({"batteries.minimum_run_time": "1 h", "rooms.when_full": "divert"}, 0, 0, ()),
        ({"stock.kits": 34, "stock.batteries": 57}, 2 * 1_400 + 240, 0, ()),
        ({"stock.kits": 30, "stock.batteries": 57}, 240, 0, ()),
        # 5 bays are 2 chargers
        ({"stock.bays": 33}, 2 * 520, 0, ()),
        # one of two equal shifts
        ({"cleaning.crew.0.cleaners": 4}, 0, 550, ()),
        ({"cleaning.crew.0.cleaners": 2, "cleaning.crew.1.cleaners": 4}, 0, 0, ()),
        # 5 h of 19 h a day
        (
            {"cleaning.crew.+": {"start": "00:00", "end": "05:00", "cleaners": 1}},
            0,
            1_100 * 5 / 19,
            (),
        ),
        (
            {"timeline.+": {"what": "kits on loan", "at": "1 d", "lasts": "2 d", "kits": 3}},
            0,
            0,
            ("kits on loan",),
        ),
        # one cleaner more for 24 h; five days of two shifts are 95 h
        ({"timeline.+": EXTRA}, 0, 1_100 * 24 / 95, ()),
        # in one of the two shifts: on one day, from 10:00 to its end at 14:30, for good
        ({"timeline.+": {**EXTRA, "shift": "05:00"}}, 0, 1_100 * 9.5 / 95, ()),
        (
            {"timeline.+": {**EXTRA, "at": "1 d 10 h", "lasts": "14 h", "shift": "05:00"}},
            0,
            1_100 * 4.5 / 95,
            (),
        ),
        ({"timeline.+": {**FOR_GOOD, "shift": "05:00"}}, 0, 550, ()),
        ({"prices.kit": 0, "stock.kits": 33}, 1_400, 0, ()),
    ],
)
def test_costs_by_hand(exposure, changes, purchase, per_surge, unpriced):
    cost = cost_of(base_of(exposure), alternative_of(exposure, "a", changes))
    assert cost.purchase == pytest.approx(purchase)
    assert cost.per_surge == pytest.approx(per_surge)
    assert cost.unpriced == unpriced
    assert cost.is_nothing == (not purchase and not per_surge and not unpriced)


@pytest.mark.parametrize(
    ("timeline", "hours"),
    [
        ([EXTRA, EXTRA], 24),
        ([{**EXTRA, "lasts": "2 d"}], 24),
        ([{**EXTRA, "cleaners": 3}], 48),
        ([EXTRA], 0),
        ([], 0),
    ],
)
def test_extra_cleaners_cost_what_is_more_than_those_of_the_scenario(exposure, timeline, hours):
    """The scenario has one for a day."""
    base = exposure.changed({"timeline": [EXTRA]})
    cost = cost_of(base_of(base), alternative_of(base, "a", {"timeline": timeline}))
    assert cost.per_surge == pytest.approx(1_100 * hours / 95)


def test_a_second_loan_like_the_first_is_a_loan(exposure):
    lent = {"what": "kits on loan", "at": "1 d", "lasts": "1 d", "kits": 2}
    base = exposure.changed({"timeline": [lent]})
    costs = [
        cost_of(base_of(base), alternative_of(base, "a", {"timeline": [lent] * times}))
        for times in (1, 2)
    ]
    assert [cost.unpriced for cost in costs] == [(), ("kits on loan",)]


def test_parts_that_never_run_out_are_not_had_for_nothing(exposure):
    limited = {"supplies.hoods": {"spare": 3}, "supplies.large_hoods": {"spare": 2}}
    base = exposure.changed({**limited, "kit.large_hood_share": "30 %"})
    freed = {"supplies.hoods": None, "supplies.large_hoods": None}
    cost = cost_of(base_of(base), alternative_of(base, "a", freed))
    assert cost.unpriced == ("hoods that never run out", "large hoods that never run out")
    again = cost_of(base_of(exposure), alternative_of(exposure, "a", limited))
    assert again.is_nothing


def test_what_has_no_price_is_named(exposure):
    free = exposure.changed({"prices.kit": 0, "prices.cleaner": 0})
    changes = {"stock.kits": 33, "cleaning.crew.0.cleaners": 4}
    cost = cost_of(base_of(free), alternative_of(free, "a", changes))
    assert cost.total == 0
    assert cost.unpriced == ("kits without a price", "cleaners without a price")
    assert not cost.is_nothing
