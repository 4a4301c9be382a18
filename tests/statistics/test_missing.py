"""Every waiting second is put down to what was missing in it, and to nothing twice."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from surge_sim.statistics.missing import (
    BUSY,
    FAILED_CHECK,
    STATES,
    Waiting,
    state_name,
    waiting_by_missing,
)
from tests.statistics.by_hand import BATTERY, BLOWER, HOOD, LEFT, Need, log_of


def minutes(waiting: Waiting) -> dict[str, list[float]]:
    """Waiting minutes of each need, by the states in which anybody waited."""
    return {
        state_name(state): (seconds / 60).tolist()
        for state, seconds in zip(waiting.states.tolist(), waiting.seconds, strict=True)
        if seconds.any()
    }


def test_a_wait_is_split_where_the_lack_changes():
    """Blower missing 10-16, blower and battery 16-20, battery 20-25.

    Entry A waits 10-25: 6 + 4 + 5. Entry B waits 18-25: 2 of both, 5 of battery.
    """
    lacks = [(10, BLOWER), (16, BLOWER | BATTERY), (20, BATTERY), (25, 0)]
    waiting = waiting_by_missing(log_of([Need(10, 15), Need(18, 7), Need(30)], lacks))
    assert minutes(waiting) == {
        "blower": [6, 0, 0],
        "battery": [5, 5, 0],
        "blower + battery": [4, 2, 0],
    }
    assert [state_name(state) for state in waiting.longest()] == ["blower", "battery", ""]


def test_a_lack_that_comes_twice_is_added_up():
    """Battery 0-5 and again 10-12: the entry that waits 3-11 lacks it 2 + 1 minutes.

    From 5 to 10 nobody lacked anything: that time belongs to its failed check.
    """
    lacks = [(0, BATTERY), (5, 0), (10, BATTERY), (12, 0)]
    waiting = waiting_by_missing(log_of([Need(3, 8, failed_checks=1)], lacks))
    assert minutes(waiting) == {"battery": [3], "failed check": [5]}


def test_a_lack_that_lasts_to_the_end_goes_on_for_ever():
    """From minute 10 on there is no hood: who is left waiting from 20 for 100 waits for it."""
    waiting = waiting_by_missing(log_of([Need(20, 100, LEFT)], [(10, HOOD)]))
    assert minutes(waiting) == {"hood": [100]}


def test_time_without_lack_and_without_failed_check_is_a_busy_wearers():
    waiting = waiting_by_missing(log_of([Need(20, 7, LEFT)], [(1, HOOD), (2, 0)]))
    assert minutes(waiting) == {"wearer busy": [7]}
    assert waiting.totals()[BUSY] == 7 * 60


def test_nobody_waits_and_nothing_is_missing():
    waiting = waiting_by_missing(log_of([Need(1), Need(2)]))
    assert minutes(waiting) == {}
    assert waiting.longest().tolist() == [0, 0]
    assert waiting_by_missing(log_of([])).seconds.shape == (0, 0)


def test_each_state_has_a_name_of_its_own():
    names = [state_name(state) for state in range(1, STATES)]
    assert len(set(names)) == len(names)
    assert state_name(15) == "blower + hood + tube + battery"
    assert state_name(FAILED_CHECK) == "failed check"


@given(
    st.lists(st.tuples(st.integers(0, 50), st.integers(0, 15)), max_size=12),
    st.lists(st.tuples(st.integers(0, 60), st.integers(0, 40), st.booleans()), max_size=8),
)
def test_the_parts_of_each_wait_add_up_to_it(changes, needs):
    lacks = sorted(dict(changes).items())
    log = log_of([Need(at, wait, failed_checks=int(f)) for at, wait, f in needs], lacks)
    waiting = waiting_by_missing(log)
    assert (waiting.seconds >= 0).all()
    assert waiting.seconds.sum(axis=0).tolist() == log.wait_s.tolist()
    # second by second: the plain way to count
    for row, (at, wait, _) in enumerate(needs):
        held = np.zeros(STATES, dtype=int)
        for minute in range(at, at + wait):
            masks = [mask for when, mask in lacks if when <= minute]
            held[masks[-1] if masks else 0] += 1
        for state, seconds in zip(waiting.states.tolist(), waiting.seconds, strict=True):
            if state < FAILED_CHECK:
                assert seconds[row] == 60 * held[state]
