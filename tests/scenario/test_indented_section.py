"""A section that begins in the wrong column is told where it stands."""

from __future__ import annotations

import pytest

from surge_sim.errors import ScenarioError
from surge_sim.scenario.load import scenario_from_text
from tests.scenario.base import BASE

LINES = BASE.splitlines()
STOCK = next(number for number, line in enumerate(LINES) if line.startswith("stock:"))


def faults(lines: list[str]) -> list[tuple[int, str, str]]:
    with pytest.raises(ScenarioError) as caught:
        scenario_from_text("\n".join(lines) + "\n")
    return [(one.line, one.found, one.right) for one in caught.value.faults]


@pytest.mark.parametrize("in_braces", [True, False])
def test_a_section_inside_another_one_is_told_at_its_own_line(in_braces: bool) -> None:
    """`stock` is indented like the fields of `cleaning` above it; it is not missing on line 1."""
    inside = [f"  {LINES[STOCK]}"] if in_braces else ["  stock:", "    kits: 4", "    bays: 2"]
    cleaning = ["cleaning:", *(f"  {one}" for one in ("by: wearer", "wipe_down: 4 min"))]
    lines = [*LINES[: STOCK - 1], *cleaning, *inside, *LINES[STOCK + 1 :]]
    found = [one for one in faults(lines) if "stock" in one[1]]
    ((line, what, right),) = found
    assert lines[line - 1] == inside[0]
    assert what == "cleaning.stock is not known."
    assert right.startswith("If the section `stock` is meant, begin its line in the first column.")


def test_a_section_that_is_nowhere_is_missing() -> None:
    ((_, what, _),) = faults([*LINES[:STOCK], *LINES[STOCK + 1 :]])
    assert what == "stock is missing."


def test_a_name_that_a_section_has_beside_the_file_is_no_section() -> None:
    """`kit` stands where `kits` should be; the file has its section `kit`."""
    lines = [line.replace("kits: 4", "kit: 4") for line in LINES]
    assert not any("first column" in right for _, _, right in faults(lines))
