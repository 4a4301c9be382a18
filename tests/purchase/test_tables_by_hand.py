"""Tables of a case worked by hand: what is used, waited for, requested, and its limits."""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from surge_sim.engine.log import Count, Use
from surge_sim.equipment.causes import Cause
from surge_sim.equipment.stock import Stock
from surge_sim.purchase.case import _doing_nothing, _used
from surge_sim.purchase.course import waiting_table
from surge_sim.purchase.life import Life, life_of
from surge_sim.purchase.request import request_table, waiting_by_item
from surge_sim.purchase.use import MEASURES, USED, used_per_surge
from surge_sim.scenario.life_file import load_life
from surge_sim.scenario.load import scenario_from_text
from surge_sim.statistics.waits import ALL_CAUSES
from tests.purchase.test_life import BY_HAND
from tests.sizing.test_size_command import PARTS, UNIT

HOODS = UNIT.replace("charger: 180", "charger: 180, hood: 5, large_hood: 60, tube: 7")


def summary(**counts: list[int]) -> Any:
    """Two surges that count nothing but what is named, and use nothing."""
    counted = np.zeros((2, len(Count)), dtype=np.int64)
    for name, numbers in counts.items():
        counted[:, Count[name]] = numbers
    entries, use_s = np.ones((2, 1), dtype=np.int64), np.zeros((2, len(Use)), dtype=np.int64)
    rows = {"surge": np.arange(2), "counts": counted, "entries": entries, "use_s": use_s}
    return SimpleNamespace(rows=rows)


def test_hoods_of_either_size_have_their_own_price() -> None:
    """4 x 5 + 1 x 60 + 2 x 7, and 10 x 5 + 3 x 60."""
    played = summary(HOODS_USED=[4, 10], LARGE_HOODS_USED=[1, 3], TUBES_USED=[2, 0])
    table = used_per_surge(played, scenario_from_text(HOODS), 1)
    assert table["hoods"].tolist() == [4, 10]
    assert table["large_hoods"].tolist() == [1, 3]
    assert table["parts_price"].tolist() == [94, 230]


def life(place: Path, text: str, stocks: tuple[Stock, Stock]) -> Life:
    """Two surges of 4 and 10 hoods, and of 1 and 3 large ones, with either stock."""
    (place / "life.yaml").write_text(text)
    mine = pd.DataFrame({"surge": [0, 1], **{name: [0.0, 0.0] for name in USED}})
    mine = mine.assign(hoods=[4, 10], large_hoods=[1, 3])
    sized: Any = SimpleNamespace(
        scenario=scenario_from_text(HOODS), in_hand=stocks[0], proposed=stocks[1]
    )
    waited = pd.Series([0.0, 0.0])
    return life_of(sized, load_life(place / "life.yaml"), (mine, mine), (waited, waited))


PAIR = Stock(2, 3, 3), Stock(5, 3, 3)
PLAIN = BY_HAND.replace("ordinary_entries: {value: 1000 per year, source: invented}\n", "")


def test_a_life_charges_large_hoods_at_their_own_price(tmp_path: Path) -> None:
    """In half a surge a year: 3.5 hoods at 5, and 1 large one at 60; a file may say 70."""
    lines = life(tmp_path, PLAIN, PAIR).lines.set_index("line")
    assert lines.loc["hoods", ["price", "number_in_hand"]].tolist() == [5, 3.5]
    assert lines.loc["large_hoods", ["price", "number_in_hand"]].tolist() == [60, 1]
    assert lines.loc["large_hoods", "one_surge_in_hand"] == 2 * 60
    own = PLAIN.replace("prices:\n", "prices:\n  large_hood: {value: 70, source: invented}\n")
    lines = life(tmp_path, own, PAIR).lines.set_index("line")
    assert lines.loc["large_hoods", "price"] == 70


def test_a_yearly_cost_that_is_called_like_a_part_has_none_of_its_numbers(tmp_path: Path) -> None:
    """Hoods: 7 a surge at 5 are 35; a contract of that name is no part of a surge."""
    lines = life(tmp_path, PLAIN.replace("name: contract", "name: hoods"), PAIR).lines
    of_surge = lines[lines["line"] == "hoods"].set_index("kind")["one_surge_in_hand"]
    assert of_surge["used up"] == 35
    assert math.isnan(of_surge["yearly"])


def test_cleaners_come_once_to_one_surge_and_by_their_frequency_to_a_year(tmp_path: Path) -> None:
    """Two extra cleaners in half a surge a year."""
    crew = Stock(2, 3, 3), Stock(5, 3, 3, extra_cleaners=2)
    line = life(tmp_path, PLAIN, crew).lines.set_index("line").loc["cleaners"]
    assert line["number_proposed"] == 1


def played(**proposed_s: int) -> Any:
    """With the stock in hand an hour for a bay; with the proposed one what is named [s]."""
    both = []
    for seconds in ({"BATTERY_WAITING_FOR_BAY": 3_600}, proposed_s):
        cause_s = np.zeros((1, ALL_CAUSES), dtype=np.int64)
        for name, waited_s in seconds.items():
            cause_s[0, Cause[name]] = waited_s
        both.append(SimpleNamespace(summary=SimpleNamespace(rows={"cause_s": cause_s})))
    return SimpleNamespace(now=both[0], then=both[1])


@pytest.mark.parametrize(("by_crew", "item"), [(True, "cleaners"), (False, "kits")])
def test_a_cause_that_only_the_proposed_stock_has_is_reduced_by_its_item(
    by_crew: bool, item: str
) -> None:
    table = waiting_table(
        played(KIT_WAITING_FOR_WIPE=1_800, BATTERY_TOO_WEAK=5_400), by_crew=by_crew
    )
    assert dict(zip(table["cause_of_waiting"], table["reduced_by"], strict=True)) == {
        "battery waiting for a bay": "bays",
        "kit waiting for a wipe-down": item,
        "battery too weak even when full": "",
    }
    by_item = waiting_by_item(table).set_index("reduced_by")
    assert by_item["share_proposed"].to_dict() == {"bays": 0, item: 0.25, "none": 0.75}


def test_spare_parts_in_hand_are_those_on_the_shelf() -> None:
    """The scenario has 2 hoods; 14 more are 16."""
    sized: Any = SimpleNamespace(
        scenario=scenario_from_text(UNIT + PARTS),
        in_hand=Stock(0, 0, 0), proposed=Stock(5, 3, 1, extra_hoods=14),
    )  # fmt: skip
    table = request_table(sized).set_index("item")
    assert table.loc["hoods", ["in_hand", "to_buy", "in_all"]].tolist() == [2, 14, 16]
    assert table.loc["kits", ["in_hand", "to_buy", "in_all"]].tolist() == [0, 5, 5]


def test_no_limit_lies_outside_what_is_possible() -> None:
    """92 surges with nothing and 8 with some, one of them with very much, and the reverse."""
    few = np.zeros(100)
    few[:7], few[7] = 0.1, 20
    most = 1.0 - np.minimum(few, 1.0)
    same = pd.DataFrame({"surge": np.arange(100)})
    for name, measure in MEASURES.items():
        same[f"in_hand_{name}"] = most if measure.is_share else few
        same[f"proposed_{name}"] = np.minimum(few, 1.0) if measure.is_share else few
    table = _doing_nothing(same, None)
    assert (table[["in_hand_low", "proposed_low"]] >= 0).all(axis=None)
    shares = table[table["measure"].isin(["missed_target", "worst_day_late"])]
    assert (shares[["in_hand_high", "proposed_high"]] <= 1).all(axis=None)
    assert (shares["difference_low"] >= -1).all()
    used = pd.DataFrame({name: few for name in USED})
    target: Any = SimpleNamespace(share_of_surges=0.8)
    assert (_used(used, used, target, "talers", None)["mean_low"] >= 0).all()
