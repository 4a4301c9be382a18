"""What a sizing says of a store that begins with nothing, of cleaners, and of no entries."""

from __future__ import annotations

import numpy as np
import pytest

from surge_sim.errors import OutOfReach
from surge_sim.report.sizing_answer import size_document
from surge_sim.report.terminal import render
from surge_sim.scenario.load import scenario_from_text
from surge_sim.sizing.player import Seen
from surge_sim.sizing.result import shelf_words
from surge_sim.sizing.size import size
from tests.sizing.test_reasons import WARD
from tests.sizing.test_size_command import PARTS, UNIT

#: one cleaner at all hours, who needs 40 min for a kit
SLOW_CREW = WARD.replace(
    "cleaning: {by: wearer, wipe_down: 5 min,",
    "cleaning: {by: crew, wipe_down: 40 min, crew: [{start: 00:00, end: 12:00, cleaners: 1}, "
    "{start: 12:00, end: 00:00, cleaners: 1}],",
).replace("kits: 8, batteries: 10, bays: 6, cleaners: 2", "kits: 30, batteries: 40, cleaners: 9")


def test_spare_parts_on_the_shelf_stay_where_a_store_is_sized_anew() -> None:
    scenario = scenario_from_text(UNIT + PARTS)
    assert shelf_words(scenario.settings.supplies) == ["2 hoods"]
    result = size(scenario, new=True, choose=20, surges=60, processes=1)
    extra = result.recommended.extra_hoods
    said = " ".join(render(size_document(result)).split())
    assert "in addition to the 2 hoods in hand" in said and "empty store" not in said
    assert result.parts_table["on_shelf_recommended"].tolist() == [2 + extra]


def test_a_row_of_a_part_has_what_the_scenario_says_and_what_was_played() -> None:
    scenario = scenario_from_text(
        (UNIT + PARTS)
        .replace("charger: 180", "charger: 180, hood: 35")
        .replace("order_quantity: 1", "order_quantity: 3")
    )
    result = size(scenario, choose=20, surges=60, processes=1)
    (row,) = result.parts_table.to_dict("records")
    hand, best = (result.ledger.rows(one) for one in (result.owned, result.recommended))
    used, extra = np.sort(best[:, Seen.USED]), result.recommended.extra_hoods
    assert extra > 0
    assert row.pop("used_low") <= row["used"] <= row.pop("used_high")
    assert row == {
        "part": "hoods", "on_shelf": 2, "to_buy": extra, "on_shelf_recommended": 2 + extra,
        "reorder_point": 1 + extra, "order_quantity": 3, "lead_time_days": 5.0,
        "price_of_more": 35.0 * extra, "share_of_surges": 0.8, "used": used[47], "surges": 60,
        "surges_short_in_hand": int((hand[:, Seen.STOCK_OUTS] > 0).sum()),
        "surges_short": int((best[:, Seen.STOCK_OUTS] > 0).sum()),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("prices", "how"),
    [("", "or write `prices.cleaner`"), ("prices: {cleaner: 500}\n", "or leave --only out")],
    ids=["without a price", "with one"],
)
def test_more_cleaners_are_tried_where_they_are_not_searched(prices: str, how: str) -> None:
    scenario = scenario_from_text(SLOW_CREW.replace("sources:", f"{prices}sources:"))
    with pytest.raises(OutOfReach) as found:
        size(scenario, vary="kits,batteries,bays", choose=40, surges=60, processes=1)
    said = str(found.value)
    assert "kit waiting for a wipe-down (" in said
    assert "with plenty of cleaners as well (9, the limit of the search; not an amount" in said
    assert how in said


def test_a_sizing_of_surges_without_entries_says_so() -> None:
    nobody = UNIT.replace("baseline: 4 per day", "baseline: 0.0001 per week")
    nobody = nobody.replace("initial_census: 4", "initial_census: 0")
    assert nobody.count("0.0001 per week") == 1
    result = size(scenario_from_text(nobody), choose=20, surges=60, processes=1)
    assert result.recommended == result.owned
    assert "No surge had any entry: this says nothing about the stock." in result.notes
