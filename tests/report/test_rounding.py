"""Numbers as a planner reads them."""

import math

import pytest

from surge_sim.report.rounding import (
    for_json,
    minutes,
    number,
    number_range,
    percent,
    percent_range,
)
from surge_sim.statistics.intervals import Interval


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "0 %"), (1.0, "100 %"), (0.973, "97.3 %"), (0.5, "50.0 %"), (0.9996, "99.96 %"),
     (0.99996, "99.996 %"), (0.999999, "over 99.999 %"), (0.0004, "0.04 %"),
     (1e-9, "under 0.001 %"), (0.012, "1.2 %"), (None, "-"), (math.nan, "-")],
)  # fmt: skip
def test_a_share_is_never_printed_as_all_or_nothing_unless_it_is(share, text):
    assert percent(share) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(0, "0 min"), (0.04, "under 0.1 min"), (0.42, "0.4 min"), (9.94, "9.9 min"), (9.96, "10 min"),
     (71.3, "71 min"), (119.4, "119 min"), (119.6, "2.0 h"), (450, "7.5 h"), (2880, "2.0 d"),
     (8208, "5.7 d"), (None, "-"), (math.nan, "-")],
)  # fmt: skip
def test_minutes_turn_into_hours_and_days(value, text):
    assert minutes(value) == text


@pytest.mark.parametrize(
    ("value", "text"),
    [(0, "0"), (3.0, "3"), (1.2345, "1.23"), (9.996, "10.0"), (12.34, "12.3"), (99.96, "100"),
     (123.4, "123"), (20124.3, "20,124"), (0.001, "under 0.01"), (None, "-"), (math.nan, "-")],
)  # fmt: skip
def test_counts_have_about_three_digits(value, text):
    assert number(value) == text


def test_limits_are_printed_only_where_there_are_some():
    assert percent_range(Interval(0.9, 0.861, 0.9996)) == "86.1 to 99.96 %"
    assert percent_range(Interval(0.9, None, None)) == ""
    assert number_range(Interval(5.0, 4.0, 6.25)) == "4 to 6.25"
    assert number_range(Interval(5.0, None, 6.0)) == ""


def test_json_gets_no_number_that_it_does_not_know():
    assert for_json(math.nan, 3) is for_json(math.inf, 3) is for_json(None, 3) is None
    assert for_json(1.23456, 3) == 1.235
