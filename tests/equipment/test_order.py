"""The numbers of moments have room for whatever a scenario may ask for, and one more has not."""

from __future__ import annotations

import pytest

from surge_sim.engine.log import Outcome
from surge_sim.equipment.order import (
    KIND_BITS,
    LAST_S,
    NUMBER_BITS,
    NUMBERS,
    SUPPLIES,
    Moment,
    delivery_number,
    moment_rank,
)
from surge_sim.equipment.supplies import LARGE_HOODS, order_quantity
from surge_sim.scenario.limits import MOST_OF_ANYTHING, MOST_PARTS, MOST_REQUESTS
from surge_sim.units import DAY_S, LONGEST_S
from tests.engine.conftest import played  # noqa: F401
from tests.engine.test_timelines import FILTERS, waits
from tests.engine.tiny import settings, tiny_trace


def test_the_largest_order_of_a_scenario_has_a_number_of_its_own():
    """Reorder point and lot at their bounds, no spare, and every kit without its hood.

    Even with as many kits on loan as there are, and a reorder point twice as high.
    """
    for reorder_point in (MOST_PARTS, 2 * MOST_PARTS):
        amount = order_quantity(-2 * MOST_OF_ANYTHING, reorder_point, MOST_PARTS)
        assert amount > reorder_point
        assert delivery_number(LARGE_HOODS, amount) < NUMBERS


def test_every_request_kit_and_battery_has_a_number():
    assert max(MOST_REQUESTS, 2 * MOST_OF_ANYTHING) < NUMBERS


def test_beyond_its_room_a_number_would_be_of_another_kind():
    """Why there is a bound at all."""
    number = delivery_number(0, NUMBERS // SUPPLIES + 1)
    assert moment_rank(Moment.DELIVERY, number) >= moment_rank(Moment.BACK_IN_SERVICE, 0)


def test_a_second_a_kind_and_a_number_fit_into_63_bits():
    """Two times of ten years until the close, and a few more for what comes after, fit."""
    last = (LAST_S << (KIND_BITS + NUMBER_BITS)) + moment_rank(max(Moment), NUMBERS - 1)
    assert last < 2**63
    assert max(Moment) < 2**KIND_BITS
    assert 10 * LONGEST_S < LAST_S


def test_an_order_at_the_bounds_is_delivered(played):  # noqa: F811
    """Torn at 10; 2 million are ordered at 0, and come at 60."""
    hoods = {
        "spare": "0", "reorder_point": str(MOST_PARTS), "order_quantity": str(MOST_PARTS),
        "lead_time": "1 h",
    }  # fmt: skip
    changed = settings(supplies={"hoods": hoods})
    log = played(tiny_trace(changed, need=[0, 20], room=[10, 5], hood_torn=[0]))
    assert waits(log) == [0, 40]


@pytest.mark.parametrize("name", ["spare", "reorder_point", "order_quantity"])
def test_a_part_beyond_the_bound_is_refused(name):
    hoods = {"spare": "0", "reorder_point": "1", "order_quantity": "1", name: str(MOST_PARTS + 1)}
    with pytest.raises(ValueError, match="from 0 to 1,000,000"):
        settings(supplies={"hoods": hoods})


def test_work_that_would_take_centuries_is_not_done_before_it_began(played):  # noqa: F811
    """30 d of work on an HE filter, one minute of it on each weekday: 165 years.

    The second entry finds the filter spent and waits from 105 to the close at 2880.
    """
    hours = {"start": "08:00", "end": "08:01"}
    filters = {**FILTERS, "he_filter_turnaround": "30 d", "working_hours": hours}
    assert 30 * 1_440 * 7 / 5 * DAY_S > LAST_S
    trace = tiny_trace(
        settings(filters=filters), need=[0, 100], room=[50, 10], prefilter_life=[500],
        he_life=[50, 500],
    )  # fmt: skip
    log = played(trace)
    assert log.outcome.tolist() == [Outcome.SERVED, Outcome.WAITING_AT_END]
    assert waits(log) == [0, 2880 - 100]
