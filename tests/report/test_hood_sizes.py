"""Sizes of hoods are read back, compared with the stock, warned of and told of."""

from __future__ import annotations

from typing import Any

from surge_sim.equipment.average_load import expected_load
from surge_sim.report.check_answer import check_answer
from surge_sim.report.document import Table
from surge_sim.report.gear_words import choices_in_short
from surge_sim.report.rounding import number
from surge_sim.report.terminal import render
from tests.demand.ward import scenario


def ward(share: str = "30 %", **shelf: Any) -> Any:
    """Return a ward with large hoods on its shelf."""
    return scenario(kit={"large_hood_share": share}, supplies={"large_hoods": shelf})


def flat(checked: Any, full: bool = False) -> str:
    """Return what a check says, without its lines."""
    return " ".join(render(check_answer(checked, full=full)).split())


def test_a_check_reads_sizes_back() -> None:
    said = flat(ward(spare=6), full=True)
    assert "30 % of wearers need a large hood; none comes with a kit" in said
    assert "Spare parts on the shelf: 6 large hoods (never ordered)." in said
    assert "large hoods for 30 % of wearers" in choices_in_short(ward(spare=6).settings)
    assert "large hood" not in flat(scenario(), full=True)


def test_a_check_compares_large_hoods_with_the_kits_that_are_busy() -> None:
    """Three tenths of the kits that the busiest hour binds carry a large hood."""
    few = ward(spare=0)
    busy = 0.3 * expected_load(few.settings).kits_busy_in_busiest_hour
    tables = [block for block in check_answer(few).blocks if isinstance(block, Table)]
    row = next(one for one in tables[0].rows if one[0] == "Large hoods")
    assert row[-2:] == (number(busy), "0")
    assert f"{number(busy)} large hoods (0 in stock)" in flat(few)
    assert "large hoods (" not in flat(ward(spare=6)).split("Average number in use")[0]


def test_large_hoods_that_nobody_needs_are_warned_of() -> None:
    said = "are on the shelf, and nobody needs one: `kit.large_hood_share` is 0 %."
    assert said in flat(ward(share="0 %", spare=6))
    assert said not in flat(ward(spare=6))
