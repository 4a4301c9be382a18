"""Every check of the catalogue holds, and the catalogue is what it promises to be."""

from __future__ import annotations

from dataclasses import replace

import pytest
from _pytest.mark.structures import ParameterSet

from tests.validation.catalogue import CHECKS
from tests.validation.catalogue.tool_lines import late
from tests.validation.check import FALSE_ALARM, WHOLE_SUITE, By, Check, Found
from tests.validation.table import README, id_ranges, row, shipped, with_table

#: of the checks that many surges are simulated for, what the quick tests look at
QUICK = {"Q02", "K01", "U01", "P01", "Y01"}


def cases() -> list[ParameterSet]:
    simulated = {one["id"] for one in shipped() if " ± " in one["computed"]}
    return [
        pytest.param(check, id=check.id, marks=[pytest.mark.slow] * (check.id in simulated - QUICK))
        for check in CHECKS
    ]


@pytest.mark.parametrize("check", cases())
def test_value_agrees_with_its_source(check: Check) -> None:
    """Computed = published within the last printed digit and, if random, within its margin."""
    assert check.trouble() is None


def test_ids_are_unique() -> None:
    ids = [check.id for check in CHECKS]
    assert len(ids) == len(set(ids))


def test_every_check_says_what_it_would_not_notice() -> None:
    """A sentence each, in the list and in the table that is shipped; a formula alone says so."""
    for one, check in zip(shipped(), CHECKS, strict=True):
        assert len(check.unnoticed.split()) > 10, check.id
        assert one["would_not_notice"] == check.unnoticed
        alone = "only the formula of the tests" in check.unnoticed
        assert alone == (check.by is By.THEORY), check.id


def test_ids_that_follow_each_other_are_named_as_a_range() -> None:
    rows = [{"id": name} for name in ("A1", "A2", "A3", "A4", "A5", "A6")]
    assert id_ranges(rows, {"A1", "A2", "A3", "A5", "A6"}) == "A1 to A3, A5, A6"


def test_there_are_enough_checks_from_enough_sources() -> None:
    """40 checks from 12 sources hold the tool itself, not only the formulas beside it."""
    tool = [check for check in CHECKS if check.by is By.TOOL]
    assert len(tool) >= 40
    assert len({check.source for check in tool}) >= 12


def test_committed_table_is_what_is_computed() -> None:
    """Exact values are written down as computed; random ones hold as they are written down.

    ``python -m tests.validation.table`` writes the table anew. Random values are not computed
    a second time here: other releases of numpy may draw other numbers.
    """
    table = shipped()
    assert [one["id"] for one in table] == [check.id for check in CHECKS]
    for one, check in zip(table, CHECKS, strict=True):
        assert one == row(check, one["computed"])
        if " ± " in one["computed"]:
            value, error = map(float, one["computed"].split(" ± "))
            assert abs(value - check.expected) <= check.half_digit + 7 * error
        else:
            assert one["computed"] == check.found.text, check.id
    readme = README.read_text(encoding="utf-8")
    assert with_table(readme, table) == readme


def test_a_check_can_fail() -> None:
    """Each way of failing is seen: wrong value, wrong last digit, too blunt."""
    good = replace(CHECKS[0], reference="1.00", compute=lambda: Found(1.004))
    assert good.trouble() is None
    assert "off by" in str(replace(good, compute=lambda: Found(1.006)).trouble())
    assert "off by" in str(replace(good, compute=lambda: Found(1.1, 0.01)).trouble())
    assert replace(good, compute=lambda: Found(1.03, 0.01)).trouble() is None
    assert "blunt" in str(replace(good, compute=lambda: Found(1.0, 0.05)).trouble())


def test_false_alarms_of_all_random_checks_stay_below_one_in_a_thousand() -> None:
    """Bonferroni: the number of checks of surge_sim times the rate of one.

    The other half of the allowance is for the random tests outside the catalogue.
    """
    tool = [check for check in CHECKS if check.by is By.TOOL and check.sharp > 0]
    assert len(tool) * FALSE_ALARM <= WHOLE_SUITE / 2


def test_a_line_is_told_from_one_with_a_kit_too_many() -> None:
    """The checks bite: the line with one server more is far outside every margin."""
    right = late(5, 2.5)
    wrong = late(6, 2.5)
    assert abs(wrong.value - 0.130371) > 5 * wrong.margin
    assert abs(right.value - 0.130371) <= right.margin
