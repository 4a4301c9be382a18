"""Every waiting second has one cause, and the causes add up to all waiting."""

from hypothesis import given
from hypothesis import strategies as st

from surge_sim.equipment.causes import Cause
from surge_sim.statistics.waits import (
    ALL_CAUSES,
    BUSY,
    FAILED_CHECK,
    cause_name,
    longest_cause,
    missing_name,
    waiting_by_cause,
)
from tests.statistics.by_hand import LEFT, Need, log_of


def test_seconds_are_added_up_by_cause_and_each_need_has_its_longest():
    """The first waits 10 for a kit and 5 for a battery, the second not at all, the third 7."""
    log = log_of(
        [
            Need(10, 15, waited={Cause.KIT_DRYING: 10, Cause.BATTERY_CHARGING: 5}),
            Need(30),
            Need(40, 7, waited={Cause.KIT_DRYING: 1, Cause.NO_TUBE: 6}),
        ]
    )
    found = waiting_by_cause(log)
    causes = [Cause.KIT_DRYING, Cause.BATTERY_CHARGING, Cause.NO_TUBE]
    assert found[causes].tolist() == [660, 300, 360]
    assert found.sum() == 22 * 60
    assert longest_cause(log).tolist() == [Cause.KIT_DRYING, -1, Cause.NO_TUBE]


def test_time_outside_the_line_is_a_failed_checks_or_a_busy_wearers():
    """Of 8 minutes 3 in line: 5 for the failed check; and 7 until the close for a busy wearer."""
    log = log_of(
        [Need(3, 8, failed_checks=1, waited={Cause.KIT_AWAY: 3}), Need(20, 7, LEFT, waited={})]
    )
    found = waiting_by_cause(log)
    assert found[[Cause.KIT_AWAY, FAILED_CHECK, BUSY]].tolist() == [180, 300, 420]
    assert longest_cause(log).tolist() == [FAILED_CHECK, BUSY]


def test_nobody_waits_for_anything():
    assert not waiting_by_cause(log_of([Need(1), Need(2)])).any()
    assert longest_cause(log_of([Need(1), Need(2)])).tolist() == [-1, -1]
    assert longest_cause(log_of([])).size == 0


def test_each_cause_has_a_name_of_its_own_that_begins_with_what_is_missing():
    names = [cause_name(state) for state in range(ALL_CAUSES)]
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
def test_the_parts_add_up_to_all_waiting(needs):
    log = log_of(
        [Need(0, more + sum(by.values()), failed_checks=f, waited=by) for more, f, by in needs]
    )
    found = waiting_by_cause(log)
    assert (found >= 0).all()
    assert found.sum() == log.wait_s.sum()
    for cause in Cause:
        assert found[cause] == 60 * sum(by.get(cause, 0) for _, _, by in needs)
