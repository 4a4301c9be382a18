"""Everything that a sizing leaves in its folder, and says as JSON; all numbers are its ledger's."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import pandas as pd

from surge_sim.cautions import CAUTION
from surge_sim.equipment.stock import per_surge, purchase
from surge_sim.report.folder import ResultFolder
from surge_sim.report.phrases import replay_words
from surge_sim.report.run_folder import replay_json, target_json
from surge_sim.report.sizing_answer import size_document
from surge_sim.report.terminal import render
from surge_sim.sizing.result import SizeResult, stock_columns

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.ledger import Entry
    from surge_sim.sizing.player import SoFar


def fill_size_folder(folder: ResultFolder, result: SizeResult) -> None:
    """Write answer, summary, tables and the figure of a sizing."""
    replay = result.replay
    if replay is not None:
        folder.covers = replay_words(replay, result.surges)
    folder.write_text("answer.txt", render(size_document(result)))
    folder.write_json("summary.json", size_json(result))
    tables = size_tables(result)
    for name, table in tables.items():
        folder.write_table(name, table)
    # here: they take a second to load
    from surge_sim.report.figures import new_figure
    from surge_sim.report.sizing_figures import draw_stages

    figure = new_figure(height=4.8)
    asked, currency = result.target.share_of_surges, result.prices.currency
    draw_stages(tables["stages"], asked, currency, replay, figure.axes[0])
    folder.write_figure("stages", figure, tables["stages"])


def size_json(result: SizeResult) -> dict[str, Any]:
    """Return the answer as plain numbers and text.

    Shares lie between 0 and 1; money is in the scenario's currency.
    """
    least, replay = result.least, result.replay
    hurt, compared = result.ledger.monotonicity_violations()
    return {
        **({} if replay is None else {"replay": replay_json(replay, result.surges)}),
        "scenario": result.name,
        "title": result.title,
        "seed": result.seed,
        "target": target_json(result.target),
        "prices": dict(result.prices),
        # of a recorded period it would be read as confidence about other periods
        "confidence": result.confidence if replay is None else None,
        "searched": [axis.item.name for axis in result.region.axes],
        "empty_store": result.new,
        "in_hand": _known(result, result.owned),
        "recommended": {
            **_known(result, result.recommended),
            **_plain_values(result.remaining(result.recommended)),
        },
        "least_cost": {
            "low": _number(least.low),
            "high": _number(least.high),
            "strength": least.strength,
            "ruled_out": [stock_columns(one) for one in least.ruled_out],
        },
        "currency": result.prices.currency,
        "stages": records(result.stages_table),
        "tested": records(result.tested_table),
        "parts": records(result.parts_table),
        "cause_of_waiting_in_hand": records(result.waiting),
        "spend": None
        if result.spent is None or result.spend is None
        else {"budget": _number(result.spend), **_known(result, result.spent)},
        "central_values": None
        if result.central is None
        else dict(zip(("surges_on_target", "surges"), result.central, strict=True)),
        "extra_stock_worsened_service": {"surges": compared, "worsened": hurt},
        "surges_choosing": result.choose,
        "most_new_surges": result.surges,
        "candidates_sha256": result.digest,
        "replications": result.plays,
        "notes": list(result.notes),
        "caution": CAUTION,
    }


def size_tables(result: SizeResult) -> dict[str, pd.DataFrame]:
    """Return the tables of a results folder by name."""
    tables = {
        "stages": result.stages_table,
        "tested": result.tested_table,
        "cause_of_waiting_in_hand": result.waiting,
        "parts": result.parts_table,
    }
    return {name: table for name, table in tables.items() if name != "parts" or not table.empty}


def stopped_json(so_far: SoFar | None) -> dict[str, Any]:
    """Return what a sizing that was stopped from the keyboard had found."""
    if so_far is None:
        return {"stopped": True, "confirmed": False, "best_so_far": None}
    best = {
        **stock_columns(so_far.stock),
        "cost": _number(so_far.money),
        "surges": so_far.surges,
        "surges_on_target": so_far.passes,
    }
    return {"stopped": True, "confirmed": so_far.confirmed, "best_so_far": best}


def _known(result: SizeResult, stock: Stock) -> dict[str, Any]:
    entry: Entry = result.ledger.entry(stock)
    return {
        **stock_columns(stock),
        "cost": _number(result.region.money(stock)),
        "purchase": _number(purchase(result.owned, stock, result.prices)),
        "paid_per_surge": _number(per_surge(result.owned, stock, result.prices)),
        "surges": entry.surges,
        "surges_on_target": entry.passes,
        "low": _number(entry.low),
        "high": _number(entry.high),
        "verdict": entry.verdict,
    }


def records(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows as plain Python values; what is missing is None."""
    return [_plain_values(row) for row in table.to_dict(orient="records")]


def _plain_values(row: Mapping[Any, Any]) -> dict[str, Any]:
    return {str(key): _plain(value) for key, value in row.items()}


def _plain(value: Any) -> Any:
    if value is None or value is pd.NA or (isinstance(value, float) and pd.isna(value)):
        return None
    value = value.item() if hasattr(value, "item") else value
    return _number(value) if isinstance(value, float) else value


def _number(value: float) -> float | int:
    """Round to six digits; whole numbers lose their point."""
    rounded = float(f"{value:.6g}")
    return int(rounded) if rounded == int(rounded) and abs(rounded) < 1e15 else rounded
