"""Second accounts of a sizing with spare parts that run out: shelf, use, stock-outs, prices."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from surge_sim.engine.log import Count
from surge_sim.engine.play import play
from surge_sim.equipment.stock import PLENTY, Stock
from surge_sim.randomness import Sample
from surge_sim.scenario.gear import Supply
from tests.shadow.cells import Near, differences
from tests.shadow.run_summary import apart
from tests.shadow.scenes import parts_scene
from tests.shadow.size_books import order_statistics
from tests.shadow.test_size_accounts import CERTIFY, CHOOSE, CONFIDENCE, Case, none_wrong

#: parts, their fields in a stock, what counts their use and their stock-outs, and their price
PARTS = {
    "hoods": ("extra_hoods", Count.HOODS_USED, Count.STOCK_OUTS_HOODS, "hood"),
    "tubes": ("extra_tubes", Count.TUBES_USED, Count.STOCK_OUTS_TUBES, "tube"),
    "prefilters": (
        "extra_prefilters", Count.PREFILTERS_USED, Count.STOCK_OUTS_PREFILTERS, "prefilter",
    ),
}  # fmt: skip


@cache
def case_of(number: int) -> Case:
    """Size a scene with parts once."""
    return Case(number, parts_scene)


@pytest.fixture(params=[1])
def case(request) -> Case:
    return case_of(request.param)


def counted(case: Case, sample: Sample, stock: Stock, surges: int, what: Count) -> np.ndarray:
    """Count something in each of the first surges of a sample."""
    traces = [case.plays.trace(sample, surge) for surge in range(surges)]
    return np.array([play(*trace._replace(stock=stock)).counts[what] for trace in traces])


def cheapest_for_the_target(case: Case) -> Stock:
    """Return the stock that parts are counted with: the cheapest that serves enough surges."""
    enough = [row for row in case.rows("band")
              if row["share"] >= case.settings.target.share_of_surges - 1e-6]  # fmt: skip
    none = dict.fromkeys((fields[0] for fields in PARTS.values()), 0)
    return min((replace(case.stock(row), **none) for row in enough), key=case.plays.cost)


def parts(case: Case, seen: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """One row for each part that can run out."""
    rows = []
    plenty = {fields[0]: PLENTY for fields in PARTS.values()}
    played = cheapest_for_the_target(case)
    for row in seen:
        name = row["part"]
        field, used, out, price = PARTS[name]
        shelf, extra = getattr(case.settings.supplies, name), getattr(case.recommended, field)
        short = {
            which: counted(case, Sample.CERTIFY, stock, CERTIFY, out)
            for which, stock in (("_in_hand", case.in_hand), ("", case.recommended))
        }
        in_play = counted(case, Sample.CHOOSE, replace(played, **plenty), CHOOSE, used)
        share = case.settings.target.share_of_surges
        middle, low, high = order_statistics(in_play, share, CONFIDENCE)
        # without deliveries what is used must be there from the start
        alone = shelf.reorder_at is None
        rows.append(
            {
                "part": name,
                "recommended": "more" if extra else "as in hand",
                "on_shelf": shelf.spare,
                "on_shelf_recommended": shelf.spare + extra,
                "reorder_at": None if alone else shelf.reorder_at + extra,
                "order_size": shelf.order_size,
                "lead_time_days": shelf.lead_time / 86_400,
                "price_of_more": extra * getattr(case.settings.prices, price),
                "share_of_surges": share,
                "used": middle, "used_low": low, "used_high": high,
                "enough": Near(0, middle), "enough_low": Near(0, low),
                "enough_high": Near(row["enough"], high),
                **early(shelf),
                "surges": CERTIFY,
            }
            | {f"surges_short{end}": int((one > 0).sum()) for end, one in short.items()}
            | {f"stock_outs{end}": one.mean() for end, one in short.items()}
        )  # fmt: skip
    return rows


def early(shelf: Supply) -> dict[str, Any]:
    """What an order as soon as one is used would save: the parts here are so ordered, or never."""
    assert shelf.reorder_at is None or shelf.reorder_at >= shelf.spare - 1
    return {"reorder_at_early": None, "enough_early": None}


def test_parts_that_run_out_are_counted_again(case: Case) -> None:
    none_wrong(differences("parts", case.tables["parts"], parts(case, case.rows("parts"))))


def test_stocks_with_parts_are_judged_with_them_and_cost_what_they_hold(case: Case) -> None:
    """Every stock that was tested on fresh surges, played with its own parts."""
    for table in ("evidence", "chain"):
        for row in case.rows(table):
            # a stock without the extras of another has 0 of them, not an empty cell
            assert all(value == value for key, value in row.items() if key.startswith("extra"))
            stock, surges = case.stock(row), int(row["surges"])
            kept = case.plays.kept(Sample.CERTIFY, stock, surges)
            assert (int(kept.sum()), case.plays.cost(stock)) == (
                row["surges_on_target"], row["cost"],
            ), (table, row)  # fmt: skip
    for row in case.rows("other_shares"):
        assert case.plays.cost(case.stock(row)) == row["cost"]


def test_the_summary_names_the_same_parts(case: Case) -> None:
    seen = case.rows("parts")
    plain = [{key: None if value != value else value for key, value in row.items()} for row in seen]
    none_wrong(apart("parts", case.summary["parts"], plain))
    stock = case.summary["recommended"]["stock"]
    assert stock["extra_hoods"] == seen[0]["on_shelf_recommended"] - seen[0]["on_shelf"]
    assert math.isclose(case.summary["recommended"]["cost"], case.plays.cost(case.recommended))
