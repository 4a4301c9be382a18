"""Every waiting second has one cause, and the causes add up to all waiting."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from surge_sim.equipment.causes import Cause
from surge_sim.statistics.causes import (
    BUSY,
    FAILED_CHECK,
    STATES,
    cause_name,
    longest_cause,
    missing_name,
    seconds_by_cause,
)
from tests.statistics.by_hand import LEFT, Need, log_of


def test_each_need_that_waited_has_its_own_seconds_by_cause():
    """The first waits 10 for a kit and 5 for a battery, the second not at all, the third 7."""
    log = log_of(
        [
            Need(10, 15, waited={Cause.KIT_DRYING: 10, Cause.BATTERY_CHARGING: 5}),
            Need(30),
            Need(40, 7, waited={Cause.NO_TUBE: 7}),
        ]
    )
    seconds = seconds_by_cause(log)
    assert seconds.shape == (2, STATES)
    assert seconds[0, [Cause.KIT_DRYING, Cause.BATTERY_CHARGING]].tolist() == [600, 300]
    assert seconds.sum(axis=1).tolist() == [900, 420]
    longest = longest_cause(log)
    assert (longest.rows.tolist(), longest.states.tolist()) == (
        [0, 2], [Cause.KIT_DRYING, Cause.NO_TUBE]
    )  # fmt: skip


def test_time_outside_the_line_is_a_failed_checks_or_a_busy_wearers():
    """Of 8 minutes 3 in line: 5 for the failed check; and 7 until the close for a busy wearer."""
    log = log_of(
        [Need(3, 8, failed_checks=1, waited={Cause.KIT_AWAY: 3}), Need(20, 7, LEFT, waited={})]
    )
    seconds = seconds_by_cause(log)
    assert seconds[0, [Cause.KIT_AWAY, FAILED_CHECK, BUSY]].tolist() == [180, 300, 0]
    assert seconds[1, [FAILED_CHECK, BUSY]].tolist() == [0, 420]


def test_nobody_waits_for_anything():
    assert seconds_by_cause(log_of([Need(1), Need(2)])).shape == (0, STATES)
    assert longest_cause(log_of([])).rows.size == 0


def test_each_cause_has_a_name_of_its_own_that_begins_with_what_is_missing():
    names = [cause_name(state) for state in range(STATES)]
    assert len(set(names)) == len(names)
    for cause in Cause:
        missing = missing_name(cause)
        assert missing in ("kit", "hood", "tube", "battery")
        assert missing.upper() in cause.name
        assert cause_name(cause).startswith(f"{missing} ")
    assert [cause_name(state) for state in (FAILED_CHECK, BUSY)] == ["failed check", "wearer busy"]


@given(
    st.lists(
        st.tuples(
            st.integers(0, 40), st.booleans(),
            st.dictionaries(st.sampled_from(list(Cause)), st.integers(1, 9), max_size=3),
        ),
        max_size=8,
    )
)  # fmt: skip
def test_the_parts_of_each_wait_add_up_to_it(needs):
    log = log_of(
        [Need(0, more + sum(by.values()), failed_checks=f, waited=by) for more, f, by in needs]
    )
    seconds = seconds_by_cause(log)
    assert (seconds >= 0).all()
    assert seconds.sum(axis=1).tolist() == log.wait_s[log.wait_s > 0].tolist()
    assert np.array_equal(seconds[:, : len(Cause)], log.waited_s[log.wait_s > 0])
