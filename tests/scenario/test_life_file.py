"""A file on the life of the equipment: what may stand there, and what is refused."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

import pytest

from surge_sim.errors import Fault, ScenarioError
from surge_sim.quantity import QuantityError
from surge_sim.scenario.life_file import (
    LifeInputs,
    load_life,
    parse_age,
    parse_per_year,
    parse_years,
    per_year_text,
    years_text,
)

#: one value a line; all invented
LIFE = """\
title: Some years (invented)
years: {value: 10 years, source: invented}
surges_per_year: {value: 0.5 per year, source: invented}
ordinary_entries: {value: 9 per year, source: invented}
interest: {value: 5 %, source: invented}
lasts:
  kits: {years: 4 years, age_in_hand: 1 year, source: invented}
  batteries: {years: 5 years, full_charges: 210, source: invented}
  chargers: {years: 20 years, source: invented}
prices:
  wipe: {value: 0.5, source: invented}
labour:
  cleaning: {value: 20, source: invented}
yearly:
  - {name: Contract, price: 50, per: kit, source: invented}
  - {name: rent, price: 100, per: year, source: invented}
"""


def read(folder: Path, *changes: tuple[str, str]) -> LifeInputs:
    text = LIFE
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = folder / "life.yaml"
    path.write_text(text, encoding="utf-8")
    return load_life(path)


def faults(folder: Path, *changes: tuple[str, str]) -> list[Fault]:
    with pytest.raises(ScenarioError) as error:
        read(folder, *changes)
    return error.value.faults


@pytest.mark.parametrize(
    ("reader", "raw", "number"),
    [
        (parse_years, "8 years", 8),
        (parse_years, " 1 year ", 1),
        (parse_years, "0.5years", 0.5),
        (parse_years, "100 years", 100),
        (parse_years, 8, 8),
        (parse_age, "0 years", 0),
        (parse_age, "100 years", 100),
        (parse_age, 0.0, 0),
        (parse_per_year, "0.5 per year", 0.5),
        (parse_per_year, "3/year", 3),
        (parse_per_year, "250 / year", 250),
        (parse_per_year, "0 per year", 0),
        (parse_per_year, 0, 0),
    ],
)
def test_years_and_numbers_per_year_are_read(
    reader: Callable[[object], float], raw: object, number: float
) -> None:
    assert reader(raw) == number


@pytest.mark.parametrize(
    ("reader", "wrong"),
    [
        (parse_years, ("0 years", "100.1 years", "8", "8 y", "-1 years", "1,5 years", 0, -1, True)),
        (parse_age, ("100.1 years", "3", "3 months", "-1 years", 101, -0.5, None, False)),
        (parse_per_year, ("5", "5 per week", "-1 per year", -1, True, [], "year")),
    ],
)
def test_what_is_no_number_of_years_or_per_year_is_refused(
    reader: Callable[[object], float], wrong: tuple[object, ...]
) -> None:
    for raw in wrong:
        with pytest.raises(QuantityError):
            reader(raw)


def test_years_and_numbers_per_year_are_written_as_they_are_read() -> None:
    assert [years_text(one) for one in (0, 0.5, 1, 2)] == [
        "0 years", "0.5 years", "1 year", "2 years",
    ]  # fmt: skip
    assert per_year_text(0.5) == "0.5 per year"


def test_a_file_is_known_by_its_bytes_and_means_what_it_says(tmp_path: Path) -> None:
    found = read(tmp_path)
    assert found.path == tmp_path / "life.yaml"
    assert found.data == LIFE.encode()
    assert found.sha256 == hashlib.sha256(LIFE.encode()).hexdigest()
    file = found.file
    assert (file.years.value, file.surges_per_year.value) == (10, 0.5)
    assert file.ordinary_entries is not None and file.ordinary_entries.value == 9
    assert file.interest is not None and file.interest.value == 0.05
    lasts = file.lasts
    assert (lasts.kits.years, lasts.kits.age_in_hand) == (4, 1)
    assert (lasts.batteries.full_charges, lasts.batteries.age_in_hand) == (210, 0)
    assert [(one.name, one.price, one.per) for one in file.yearly] == [
        ("Contract", 50, "kit"), ("rent", 100, "year"),
    ]  # fmt: skip
    assert file.prices.hood is None and file.labour.waiting is None


SOURCED = [
    ("{value: 10 years, source: invented}", "10 years", "years"),
    ("{value: 0.5 per year, source: invented}", "0.5 per year", "surges_per_year"),
    ("{value: 9 per year, source: invented}", "9 per year", "ordinary_entries"),
    ("{value: 5 %, source: invented}", "5 %", "interest"),
    ("{years: 20 years, source: invented}", "20 years", "lasts.chargers"),
    ("{value: 0.5, source: invented}", "0.5", "prices.wipe"),
    ("{value: 20, source: invented}", "20", "labour.cleaning"),
]


@pytest.mark.parametrize(("old", "alone", "place"), SOURCED, ids=[one[2] for one in SOURCED])
def test_a_value_without_its_source_is_refused_and_shown_how_to_have_one(
    tmp_path: Path, old: str, alone: str, place: str
) -> None:
    (fault,) = faults(tmp_path, (old, alone))
    line = 1 + next(n for n, one in enumerate(LIFE.splitlines()) if old in one)
    assert (fault.line, fault.found) == (line, f"{place} has no source.")
    assert fault.right == (
        f"Write the value and its source: `{{value: {alone}, source: invented}}`."
    )


@pytest.mark.parametrize(
    ("old", "good", "bad", "told"),
    [
        ("10 years", "40 years", "41 years", "years.value is '41 years'."),
        ("10 years", "1 year", "1.5 years", "years.value is '1.5 years'."),
        ("10 years", "1 year", "0 years", "years.value is '0 years'."),
        ("9 per year", "0 per year", "-9 per year", "ordinary_entries.value is '-9 per year'."),
        ("value: 0.5,", "value: 0,", "value: -0.5,", "prices.wipe.value is '-0.5'."),
        ("full_charges: 210", "full_charges: 1", "full_charges: 0",
         "lasts.batteries.full_charges is '0'."),
        ("price: 50", "price: 0", "price: -1", "yearly[1].price is '-1'."),
        ("per: kit", "per: battery", "per: month", "yearly[1].per is 'month'."),
        ("per: kit, source: invented", f"per: kit, source: {'x' * 600}",
         f"per: kit, source: {'x' * 601}",
         "yearly[1].source is empty, or longer than 600 characters."),
        ("per: kit, source: invented", "per: kit, source: a", "per: kit, source: ' '",
         "yearly[1].source is empty, or longer than 600 characters."),
        ("name: rent", "name: contracts", "name: ' contract '",
         "yearly[2].name is ' contract ' again."),
    ],
)  # fmt: skip
def test_what_is_beyond_a_bound_is_refused_and_what_is_at_it_is_not(
    tmp_path: Path, old: str, good: str, bad: str, told: str
) -> None:
    read(tmp_path, (old, good))
    (fault,) = faults(tmp_path, (old, bad))
    assert fault.found == told
    assert fault.right[:1].isupper()


def test_a_source_of_several_lines_is_one_line(tmp_path: Path) -> None:
    found = read(tmp_path, ("5 %, source: invented", "5 %, source: 'a  price\n   list '"))
    assert found.file.interest is not None and found.file.interest.source == "a price list"


def costs(count: int) -> tuple[str, str]:
    """Costs of each year, in the place of the rent."""
    line = "  - {name: NAME, price: 1, per: year, source: invented}\n"
    rent = "  - {name: rent, price: 100, per: year, source: invented}\n"
    return rent, "".join(line.replace("NAME", f"cost {n}") for n in range(count))


def test_there_are_20_costs_of_each_year_at_most(tmp_path: Path) -> None:
    """One of them is the contract."""
    assert len(read(tmp_path, costs(19)).file.yearly) == 20
    (fault,) = faults(tmp_path, costs(20))
    assert (fault.line, fault.found) == (14, "yearly has 21 values.")


def test_a_cost_that_cannot_be_read_hides_no_name_that_is_there_twice(tmp_path: Path) -> None:
    """Of three, the first has no name, and the third has that of the second."""
    found = faults(
        tmp_path,
        ("  - {name: Contract", "  - {name: {}, price: 1, per: kit, source: a}\n  - {name: Rent"),
    )
    assert [(one.line, one.found) for one in found] == [
        (15, "yearly[1].name is a section."),
        (17, "yearly[3].name is 'rent' again."),
    ]


def test_a_file_that_is_not_there_is_told_with_the_command_that_writes_one(tmp_path: Path) -> None:
    with pytest.raises(ScenarioError) as error:
        load_life(tmp_path / "none.yaml")
    (fault,) = error.value.faults
    assert "cannot be read" in fault.found
    assert fault.right == "Give the path of a life file; `surge-sim new --life FILE` writes one."


def test_a_list_that_is_far_too_long_is_cut_before_it_is_read(tmp_path: Path) -> None:
    found = faults(tmp_path, costs(1_000))
    assert found[0].found == "yearly has 1,001 items."
    assert found[0].right.startswith("Use 1,000 at most")
