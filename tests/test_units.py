"""Quantities are read with their units, refused without, and written back unchanged."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from surge_sim import units
from surge_sim.units import Quantity, QuantityError

DAY = 86_400


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("25 min", 1500),
        ("25min", 1500),
        ("1 h 30 min", 5400),
        ("2 d", 2 * DAY),
        ("3 weeks", 21 * DAY),
        ("1 week", 7 * DAY),
        ("97.5 h", 351_000),
        ("0.5 min", 30),
        ("90 s", 90),
        ("0 min", 0),
        ("1 d 2 h 3 min 4 s", DAY + 7384),
    ],
)
def test_times_are_read_to_the_second(text, seconds):
    assert units.parse_duration(text) == seconds


@pytest.mark.parametrize(
    "text",
    [
        "25", "-8 h", "8", "min", "", " ", "inf h", "nan min", "2,5 h", "1 min 1 h", "1 h 1 h",
        "5 km", "1e3 s", "3654 d", "0.2 s", "8 h battery", "1 h -5 min", "٣ h h", "1 H",
    ],
)  # fmt: skip
def test_what_is_no_time_is_refused_with_an_example(text):
    with pytest.raises(QuantityError) as error:
        units.parse_duration(text)
    assert "25 min" in error.value.right("wait")


@pytest.mark.parametrize(
    ("text", "unit"), [("5 mins", "min"), ("5 Min", "min"), ("3 Hours", "hour"), ("2 months", "")]
)
def test_a_unit_that_is_nearly_one_is_named(text, unit):
    with pytest.raises(QuantityError) as error:
        units.parse_duration(text)
    said = f"the unit is `{unit}`, not `{text.split()[1]}`."
    assert (said in error.value.right("wait")) is bool(unit)


@pytest.mark.parametrize(
    ("read", "text", "value"),
    [
        (units.parse_share, "95 %", 0.95),
        (units.parse_share, "0%", 0.0),
        (units.parse_share, "99.9 %", 0.999),
        (units.parse_percent, "150 %", 1.5),
        (units.parse_rate_per_day, "4 per day", 4.0),
        (units.parse_rate_per_day, "0.5 per h", 12.0),
        (units.parse_rate_per_day, "7 per week", 1.0),
        (units.parse_rate_per_day, "4/day", 4.0),
        (units.parse_rate_per_hour, "12 per h", 12.0),
        (units.parse_rate_per_hour, "48 per day", 2.0),
        (units.parse_flow, "170 L/min", 170.0),
        (units.parse_clock, "07:00", 25_200),
        (units.parse_clock, "7:30", 27_000),
        (units.parse_clock, "24:00", DAY),
        (units.parse_yes_no, "yes", True),
        (units.parse_yes_no, "No", False),
        (units.parse_number, "2.5", 2.5),
        (units.parse_factor, "150 %", 1.5),
        (units.parse_factor, "+50 %", 1.5),
        (units.parse_factor, "50 %", 0.5),
        (units.parse_factor, "-50 %", 0.5),
        (units.parse_factor, "+0 %", 1.0),
        (units.parse_factor, "-100 %", 0.0),
        (units.parse_increase, "+50 %", 1.5),
        (units.parse_increase, "100 %", 1.0),
        (units.parse_money, "1400", 1400.0),
        (units.parse_money, "1.4", 1.4),
        (units.parse_money, "1400.000", 1400.0),
        (units.parse_money, "0.125", 0.125),
        (units.parse_number, "1.125", 1.125),
        (units.parse_count, "14", 14),
        (units.parse_count, "14.0", 14),
    ],
)
def test_quantities_are_read(read, text, value):
    assert read(text) == value


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (units.parse_share, "105 %"),
        (units.parse_share, "-1 %"),
        (units.parse_share, "0.95"),
        (units.parse_share, "nan %"),
        (units.parse_percent, "100001 %"),
        (units.parse_rate_per_day, "4"),
        (units.parse_rate_per_day, "-4 per day"),
        (units.parse_rate_per_day, "4 per min"),
        (units.parse_rate_per_day, "inf per day"),
        (units.parse_rate_per_hour, "12"),
        (units.parse_flow, "170"),
        (units.parse_flow, "170 L/h"),
        (units.parse_clock, "25:00"),
        (units.parse_clock, "07:60"),
        (units.parse_clock, "7"),
        (units.parse_moment, "2031-01-06T07:00Z"),
        (units.parse_moment, "1731369600"),
        (units.parse_moment, "06.01.2031"),
        (units.parse_yes_no, "maybe"),
        (units.parse_number, "inf"),
        (units.parse_number, "1_000"),
        (units.parse_count, "4.5"),
        (units.parse_count, "-1"),
        (units.parse_count, "99999999999999999999"),
    ],
)
def test_what_cannot_be_is_refused(read, text):
    with pytest.raises(QuantityError):
        read(text)


def test_a_count_from_a_range_is_rounded():
    assert units.parse_count(Quantity("number", 2.7)) == 3


def test_a_range_of_another_kind_is_refused():
    with pytest.raises(QuantityError):
        units.parse_duration(Quantity("share", 0.5))


@pytest.mark.parametrize("read", [units.parse_duration, units.parse_share, units.parse_number])
@pytest.mark.parametrize("raw", [None, True, math.nan, math.inf, [], {}])
def test_what_is_neither_text_nor_number_is_refused(read, raw):
    with pytest.raises(QuantityError):
        read(raw)


@given(st.integers(0, units.LONGEST_S))
def test_a_time_written_reads_back_the_same(seconds):
    assert units.parse_duration(units.duration_text(seconds)) == seconds


@given(st.floats(0, 1))
def test_a_share_written_reads_back_the_same_to_rounding(share):
    assert units.parse_share(units.share_text(share)) == pytest.approx(share, abs=1e-300, rel=1e-15)


@given(st.floats(0, 1_000_000))
def test_a_rate_and_a_number_written_read_back_the_same(value):
    assert units.parse_rate_per_day(units.rate_text(value)) == pytest.approx(value, rel=1e-15)
    assert units.parse_number(units.number_text(value)) == value


@given(st.text(max_size=20))
def test_any_text_is_read_or_refused_and_nothing_else(text):
    for read in (units.parse_duration, units.parse_share, units.parse_rate_per_day,
                 units.parse_flow, units.parse_clock, units.parse_moment, units.parse_number,
                 units.parse_count, units.parse_yes_no, units.parse_quantity):  # fmt: skip
        with contextlib.suppress(QuantityError):
            read(text)


@pytest.mark.parametrize(
    ("text", "question"),
    [
        ("1.400", "Is it 1400 or 1.4?"),
        ("20.000", "Is it 20000 or 20?"),
        ("1.125", "Is it 1125 or 1.1250?"),
        ("1.400.000", "Is it 1400000?"),
    ],
)
def test_a_price_and_a_count_that_are_read_differently_elsewhere_are_asked_about(text, question):
    """What the question offers can be written: it is read, and as what it says."""
    for read in (units.parse_money, units.parse_count, units.parse_quantity):
        with pytest.raises(QuantityError) as error:
            read(text)
        assert question in error.value.right("kit")
        for answer in question[6:-1].split(" or "):
            assert units.parse_money(answer) == float(answer)


@pytest.mark.parametrize("text", ["+95 %", "-5 %"])
def test_a_share_has_no_sign(text):
    for read in (units.parse_share, units.parse_percent):
        with pytest.raises(QuantityError, match="no change of it"):
            read(text)


@pytest.mark.parametrize("text", ["50 %", "-1 %", "99.9 %"])
def test_extra_patients_are_not_fewer_than_usual(text):
    with pytest.raises(QuantityError, match="100 % or more"):
        units.parse_increase(text)


def test_the_ends_of_a_range_with_a_sign_are_factors_and_no_shares():
    end = units.parse_quantity("+50 %")
    assert end == Quantity("factor", 1.5)
    assert units.parse_factor(end) == units.parse_factor(Quantity("share", 1.5)) == 1.5
    with pytest.raises(QuantityError):
        units.parse_percent(end)


@pytest.mark.parametrize(("drawn", "seconds"), [(0.0, 0), (0.4, 0), (0.6, 1), (90.4, 90)])
def test_a_time_that_a_range_gave_is_rounded_and_may_be_none(drawn, seconds):
    assert units.parse_duration(units.Quantity("time", drawn)) == seconds


@pytest.mark.parametrize("raw", ["0.3 s", 0.3])
def test_a_time_that_is_written_is_not_rounded_to_none(raw):
    with pytest.raises(units.QuantityError, match="less than one"):
        units.parse_duration(raw)
