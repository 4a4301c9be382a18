"""Spare parts of a sizing in sentences: what runs out, what to have on the shelf, what is used."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal

import pandas as pd

from surge_sim.report.replay_words import plays_name
from surge_sim.report.target_words import enough_words, share_of_ten
from surge_sim.sizing.items import ITEMS, count_words
from surge_sim.sizing.parts_table import HELD, MORE

if TYPE_CHECKING:
    from surge_sim.demand.replay import Replay
    from surge_sim.sizing.result import SizeResult


def parts_first(result: SizeResult) -> list[str]:
    """Say which parts run out and what is to be done, before anything else; empty: none do."""
    rows = result.parts_table.to_dict("records")
    more = [row for row in rows if row["recommended"] == MORE]
    share = result.target.share_of_surges
    # held, and short more often than the target leaves room for
    held = [
        row
        for row in rows
        if row["recommended"] == HELD
        and row["surges_short"] > (1 - share) * row["surges"]
        and row["enough"] > row["on_shelf"]
    ]
    replay, said = result.replay, []
    if more:
        words = _and([count_words(row["part"], _extra(row)) for row in more])
        price = sum(row["price_of_more"] for row in more)
        cost = f" for {price:,.10g}" if price else ""
        short = [row for row in more if row["surges_short_in_hand"]]
        out = (
            _out(short, "in_hand", replay)
            if short
            else f"{_names(more).capitalize()} would run out"
        )
        said.append(f"PARTS FIRST: {out}. Buy {words}{cost}, not kits for the parts in them.")
        said += _or_order_earlier(more, result)
    if held:
        asked = [count_words(row["part"], row["enough"] - row["on_shelf"]) for row in held]
        option = ",".join(row["part"] for row in held)
        enough = "enough" if _is_one(replay) else f"enough in {share_of_ten(share, replay)}"
        said.append(
            f"PARTS FIRST: {_out(held, 'recommended', replay)}. {_and(asked)} more would be "
            f"{enough}: leave out --hold {option} to have them searched."
        )
    return said


def parts_row(result: SizeResult) -> str:
    """Say what is to be on the shelf, when to order, what a surge uses; empty: no part runs out."""
    rows = result.parts_table.to_dict("records")
    if not rows:
        return ""
    shelf = [count_words(row["part"], row["on_shelf_recommended"]) for row in rows]
    never = [bool(pd.isna(row["reorder_at"])) for row in rows]
    points, lots = (
        ["none" if no else f"{row[key]:,}" for no, row in zip(never, rows, strict=True)]
        for key in ("reorder_at", "order_size")
    )
    used = [
        count_words(row["part"], row["used"])
        + ("" if pd.isna(row["used_high"]) else f" (upper limit {row['used_high']:,})")
        for row in rows
    ]
    enough = enough_words(used, rows[0]["share_of_surges"], result.replay)
    short = [row for row in rows if row["surges_short"]]
    out = _out(short, "recommended", result.replay) if short else "None runs out"
    if not short and not _is_one(result.replay):
        out += f" in any of {rows[0]['surges']} {plays_name(result.replay)}"
    return (
        f"{_and(shelf)} on the shelf; reorder points {_and(points)}, order quantities "
        f"{_and(lots)}. Used: {enough}. {out}."
    )


def _or_order_earlier(rows: Sequence[dict[Any, Any]], result: SizeResult) -> list[str]:
    """Say where an earlier order would save parts; empty: nowhere."""
    early = [row for row in rows if not pd.isna(row["enough_early"])]
    if not early:
        return []
    points = _and([f"{row['reorder_at_early']:,} for {_names([row])}" for row in early])
    shelf = [f"{count_words(row['part'], row['enough_early'])} (now {row['on_shelf']:,})"
             for row in early]  # fmt: skip
    share = (
        "the period"
        if _is_one(result.replay)
        else share_of_ten(early[0]["share_of_surges"], result.replay)
    )
    return [
        f"Or order earlier, with fewer to buy: at a reorder point of {points}, {_and(shelf)} on "
        f"the shelf would be enough in {share}. Set reorder_at in the file and size again."
    ]


def _extra(row: dict[Any, Any]) -> int:
    return int(row["on_shelf_recommended"] - row["on_shelf"])


def _out(
    rows: Sequence[dict[Any, Any]], stock: Literal["in_hand", "recommended"], replay: Replay | None
) -> str:
    """Say in how many surges parts run out with a stock."""
    column, words = {
        "in_hand": ("surges_short_in_hand", "the stock in hand"),
        "recommended": ("surges_short", "the recommended stock"),
    }[stock]
    said = f"{_names(rows).capitalize()} run out with {words}"
    if _is_one(replay):
        return said
    counts = _and([f"{row[column]}" for row in rows])
    return f"{said}, in {counts} of {rows[0]['surges']} {plays_name(replay)}"


def _is_one(replay: Replay | None) -> bool:
    """Return whether all counts are of the one play of a recorded period."""
    return replay is not None and replay.alike


def _names(rows: Sequence[dict[Any, Any]]) -> str:
    return _and([ITEMS[row["part"]].several or row["part"] for row in rows])


def _and(words: Sequence[str]) -> str:
    return " and ".join([*([", ".join(words[:-1])] if words[:-1] else []), words[-1]])
