"""Numbers as a planner reads them."""

import math

import pytest

from surge_sim.report.rounding import (
    csv_number,
    for_json,
    interval_numbers,
    minutes,
    number,
    percent,
    percent_range,
    three_digits,
)
from surge_sim.statistics.intervals import Interval


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "0 %"), (1.0, "100 %"), (0.973, "97.3 %"), (0.5, "50.0 %"), (0.9996, "99.96 %"),
     (0.99996, "over 99.99 %"), (0.999999, "over 99.99 %"), (0.0004, "0.04 %"),
     (1e-9, "under 0.01 %"), (0.012, "1.2 %"), (None, "-"), (math.nan, "-")],
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


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.155306, "0.16"), (0.8449, "0.84"), (0.004, "under 0.01"), (0, "0"), (1.2345, "1.23"),
     (12.34, "12.3"), (1_155.4, "1,160"), (-0.155306, "-0.16")],
)  # fmt: skip
def test_three_digits_are_rounded_once(value, text):
    """0.155306 to three digits is 0.155, and that to two decimals 0.15: no longer the nearest."""
    assert three_digits(value) == text


def test_limits_are_printed_only_where_there_are_some():
    assert percent_range(Interval(0.9, 0.861, 0.9996)) == "86.1 to 99.96 %"
    assert percent_range(Interval(0.9, None, None)) == ""
    assert interval_numbers(Interval(5.0, 4.0, 6.25)) == ("5", "4.0 to 6.2")
    assert interval_numbers(Interval(5.0, None, 6.0)) == ("5", "")
    assert interval_numbers(Interval(12.0, 11.96, 12.04)) == ("12", "")
    assert interval_numbers(Interval(None, None, None)) == ("-", "")


@pytest.mark.parametrize(
    ("interval", "estimate", "limits"),
    [((183_460, 19_702, 229_137), "183,000", "20,000 to 230,000"),
     ((1703, 1555, 1848), "1,700", "1,560 to 1,850"), ((58.4, 15.3, 212), "58.4", "15 to 212"),
     ((1.03, 0.98, 1.08), "1.03", "0.98 to 1.08"), ((0, 0, 0.04), "0", "0 to 0.04"),
     ((0.02, 0.001, 0.05), "0.02", "under 0.01 to 0.05")],
)  # fmt: skip
def test_no_limit_has_a_digit_that_is_a_hundredth_of_what_is_not_known(interval, estimate, limits):
    """Half of 19,702 to 229,137 is some 105,000: ten thousands are known, thousands are not."""
    assert interval_numbers(Interval(*interval)) == (estimate, limits)


def test_a_share_that_is_known_to_ten_per_cent_has_no_decimals():
    """Of 20 surges 10: 27 to 73 %; close to 0 or 100 % digits are needed, or it would be that."""
    assert percent(0.5, 0.23) == "50 %"
    assert percent(0.5, 0.05) == "50.0 %"
    assert percent(0.996, 0.2) == "99.6 %"
    assert percent_range(Interval(0.5, 0.272, 0.728)) == "27 to 73 %"
    assert percent_range(Interval(0.9, 0.683, 0.9987)) == "68 to 99.9 %"


@pytest.mark.parametrize(
    ("value", "text"),
    [(1 / 3, "0.333333"), (0.99916667, "0.999167"), (2.2836925e-06, "0.00000228369"),
     (-1.7751746e-05, "-0.0000177517"), (0.0, "0"), (-0.0, "0"), (5.0, "5"), (0.95, "0.95"),
     (9.9999999, "10"), (57.200067, "57.2001"), (12345.6789, "12345.7"),
     (123456.789, "123457"), (1234567.8, "1234568"), (1e16, "1" + "0" * 16), (1e-12, "1e-12"),
     (math.inf, "inf")],
)  # fmt: skip
def test_files_hold_six_digits_in_plain_numbers(value, text):
    assert csv_number(value) == text
    assert float(text) == pytest.approx(value, rel=5.1e-6)


def test_json_gets_no_number_that_it_does_not_know():
    assert for_json(math.nan, 3) is for_json(math.inf, 3) is for_json(None, 3) is None
    assert for_json(1.23456, 3) == 1.235
