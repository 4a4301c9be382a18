"""A sizing as one JSON object and as tidy tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from surge_sim.cautions import CAUTION_IN_ONE_LINE
from surge_sim.equipment.stock import PLENTY
from surge_sim.report.replay_words import replay_json
from surge_sim.report.run_json import target_json
from surge_sim.sizing.budget import TooLittle
from surge_sim.sizing.items import ITEMS, PARTS, stock_cost
from surge_sim.sizing.result import stock_columns

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.next_item import NextItems
    from surge_sim.sizing.result import Beside, SizeResult
    from surge_sim.sizing.watch import SoFar


def size_json(result: SizeResult) -> dict[str, Any]:
    """Return the answer as plain numbers and text.

    Shares lie between 0 and 1; ``low`` and ``high`` of the evidence each hold with the stated
    confidence; the cost is in the scenario's currency.
    """
    least, replay = result.least_cost, result.replay
    return {
        **({} if replay is None else {"replay": replay_json(replay, result.chain.surges)}),
        "scenario": result.name,
        "title": result.title,
        "seed": result.seed,
        "target": target_json(result.target),
        # of a recorded period it would be read as confidence about other periods
        "confidence": result.confidence if replay is None else None,
        "vary": list(result.vary),
        "held_fixed": [name for name in result.could_vary if name not in result.vary],
        "recommended": {
            **stock_columns(result.recommended),
            "cost": _number(result.cost),
            "stock": stock_columns(result.recommended),
        },
        "in_hand": {
            **stock_columns(result.in_hand),
            "cost": _number(stock_cost(result.in_hand, result.prices)),
        },
        "waiting_in_hand": _waiting(result.waiting_in_hand),
        "least_cost": {
            "low": _number(least.low),
            "high": _number(least.high),
            "cheapest_not_ruled_out": _maybe_stock(least.cheapest_open),
            **_unlimited(least.cheapest_open),
        },
        "currency": result.prices.currency,
        "frontier": _records(result.frontier_table),
        "evidence": [
            {
                "stock": stock_columns(entry.stock),
                "role": entry.role,
                "surges": entry.surges,
                "surges_on_target": entry.passes,
                "share": _number(entry.passes / entry.surges),
                "low": _number(entry.low),
                "high": _number(entry.high),
                "low_confidence": _number(1.0 - entry.low_alpha),
                "verdict": entry.verdict,
                "test": entry.test,
            }
            for entry in result.evidence
        ],
        "parts": _records(result.parts_table),
        "needed_distribution": _records(result.needed_table),
        "other_shares_of_surges": _records(result.promises_table),
        "next_item": {
            "in_hand": _next(result.next_in_hand),
            "recommended": _next(result.next_recommended),
        },
        "average_rates": _beside(result.arithmetic),
        "central_values": _beside(result.central),
        "budget": _budget(result),
        "more_stock_hurt": {
            "surges": result.harm.surges,
            "hurt": result.harm.hurt,
            "at_most": _number(result.harm.hurt_at_most),
        },
        "surges_choosing": result.choice.surges,
        "surges_certifying": result.chain.surges,
        "chain_sha256": result.chain.digest,
        "plays": result.plays,
        "plays_of_full_grid": result.grid_plays,
        "notes": list(result.notes),
        "caution": CAUTION_IN_ONE_LINE,
    }


def size_tables(result: SizeResult) -> dict[str, pd.DataFrame]:
    """Return the tables of a results folder by name."""
    tables = {
        "frontier": result.frontier_table,
        "band": result.band_table,
        "needed": result.needed_curve,
        "needed_quantiles": result.needed_table,
        "other_shares": result.promises_table,
        "evidence": result.evidence_table,
        "chain": result.chain_table,
        "parts": result.parts_table,
        "more_stock": result.harm.pairs,
    }
    if result.parts_table.empty:
        del tables["parts"]
    if result.waiting_in_hand is not None:
        tables["waiting_in_hand"] = result.waiting_in_hand
    if result.next_in_hand is not None:
        tables["next_item_in_hand"] = result.next_in_hand.table
    if result.next_recommended is not None:
        tables["next_item_recommended"] = result.next_recommended.table
    return tables


def _budget(result: SizeResult) -> dict[str, Any] | None:
    budget = result.budget
    if budget is None:
        return None
    recommended = _number(result.cost)
    if isinstance(budget, TooLittle):
        fixed = _number(budget.fixed)
        return {"budget": budget.budget, "reaches_target": "no stock", "cost_held_fixed": fixed,
                "cost_recommended": recommended}  # fmt: skip
    share = result.target.share_of_surges
    return {
        "budget": budget.budget,
        "reaches_target": "shown"
        if budget.low >= share
        else "no"
        if budget.high < share
        else "not shown",
        "cost_recommended": recommended,
        **stock_columns(budget.stock),
        "cost": _number(budget.cost),
        "surges": budget.surges,
        "surges_on_target": budget.passes,
        "low": _number(budget.low),
        "high": _number(budget.high),
        "share_in_time": _number(budget.share_in_time),
    }


def stopped_json(so_far: SoFar | None) -> dict[str, Any]:
    """Return what a search that was stopped from the keyboard had found."""
    if so_far is None:
        return {"stopped": True, "confirmed": False, "best_so_far": None}
    best = {**stock_columns(so_far.stock), "cost": _number(so_far.cost), "seen": so_far.seen}
    return {"stopped": True, "confirmed": so_far.confirmed, "best_so_far": best}


def _waiting(table: pd.DataFrame | None) -> dict[str, Any] | None:
    """Return the share of each cause of waiting."""
    if table is None:
        return None
    shares = zip(table["waiting_for"], table["share"], strict=True)
    return {str(cause): _number(float(share)) for cause, share in shares}


def _next(items: NextItems | None) -> dict[str, Any] | None:
    if items is None:
        return None
    return {
        "stock": stock_columns(items.stock),
        "surges": items.surges,
        "surges_on_target": items.passes,
        "reading": items.reading,
        "changes": _records(items.table),
    }


def _beside(beside: Beside | None) -> dict[str, Any] | None:
    if beside is None:
        return None
    return {
        "stock": stock_columns(beside.stock),
        "surges": beside.surges,
        "surges_on_target": beside.passes,
        "low": _number(beside.low),
        "high": _number(beside.high),
    }


def _maybe_stock(stock: Stock | None) -> dict[str, int] | None:
    return None if stock is None else stock_columns(stock)


def _unlimited(stock: Stock | None) -> dict[str, list[str]]:
    """Name the parts that a stock has without limit and without a price, if there are any."""
    names = [name for name in PARTS if stock is not None and ITEMS[name].of(stock) >= PLENTY]
    return {"unlimited_parts": names} if names else {}


def _records(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows as plain Python values; what is missing is None."""
    return [
        {str(key): _plain(value) for key, value in row.items()}
        for row in table.to_dict(orient="records")
    ]


def _plain(value: Any) -> Any:
    if value is None or value is pd.NA or (isinstance(value, float) and pd.isna(value)):
        return None
    value = value.item() if hasattr(value, "item") else value
    return _number(value) if isinstance(value, float) else value


def _number(value: float) -> float | int:
    """Round to six digits; whole numbers lose their point."""
    rounded = float(f"{value:.6g}")
    return int(rounded) if rounded == int(rounded) and abs(rounded) < 1e15 else rounded
