"""A study of inputs as one JSON object, as a figure, and as everything in its folder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from surge_sim.cautions import CAUTION
from surge_sim.report.input_words import figure_words
from surge_sim.report.matters_answer import (
    TIMES_CAUTION,
    answer_words,
    first_to_measure,
    matters_answer,
)
from surge_sim.report.matters_table import values_words
from surge_sim.report.phrases import in_time_words, replay_words
from surge_sim.report.rounding import for_json
from surge_sim.report.run_folder import replay_json, stock_json, target_json
from surge_sim.report.terminal import render
from surge_sim.sizing.result import stock_columns, stock_table

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from surge_sim.report.folder import ResultFolder
    from surge_sim.whatif.matters import Matters

_DIGITS = 5
#: inputs in the figure
_DRAWN = 20


def matters_json(result: Matters) -> dict[str, Any]:
    """Return a study of inputs as plain values.

    Returns
    -------
    dict
        Shares from 0 to 1, money in the scenario's currency; None for what is not known.
    """
    settings = result.scenario.settings
    first = first_to_measure(result)
    *inputs, chance = (_row(one) for one in result.table.to_dict("records"))
    answer: dict[str, Any] = {
        "scenario": result.scenario.name,
        "title": settings.title,
        "seed": result.design.seed,
        "surges": result.surges,
        "engine": result.design.engine,
        "target": target_json(settings.target),
        "currency": settings.prices.currency,
        "answer": answer_words(result),
        "measure_first": None if first is None else first.input.name,
        "service_level": for_json(result.service, _DIGITS),
        "stock_in_hand": stock_json(result.design.base.in_hand),
        "stock_to_have": None,
        "cost_of_a_missed_surge": for_json(result.price, _DIGITS),
        "cost_was_stated": result.stated_price is not None,
        # of a recorded period it would be read as confidence about other periods
        "simultaneous_confidence": result.confidence if result.replay is None else None,
        "inputs": inputs,
        "random_variation": {
            name: value for name, value in chance.items() if name.startswith(_OF_CHANCE)
        },
        "spread": _spread(result),
        "warnings": list(result.notes),
        "cautions": [TIMES_CAUTION, CAUTION],
    }
    if result.passing is not None and result.ladder is not None:
        place, stocks = result.passing.place, result.ladder.stocks
        answer["stock_to_have"] = stock_json(stocks[place]) if place < len(stocks) else None
    if result.replay is not None:
        answer["replay"] = replay_json(result.replay, result.surges)
    return answer


_OF_CHANCE = ("first_order", "total_order", "interaction")


def _row(row: dict[Any, Any]) -> dict[str, Any]:
    return {
        str(name): value if isinstance(value, str) else for_json(value, _DIGITS)
        for name, value in row.items()
    }


def _spread(result: Matters) -> dict[str, Any] | None:
    if result.spread is None:
        return None
    share, put = result.spread
    return {
        "share": share,
        "ranges_put_on": list(put),
        "left_as_they_are": dict(result.left),
        "partly_invented": list(result.mixed),
    }


def draw_bars(result: Matters, ends: pd.DataFrame, middle: float | None, ax: Axes) -> Axes:
    """Draw a bar for each input from what comes of its low to what comes of its high value.

    Parameters
    ----------
    result : Matters
        Says how the values are written.
    ends : DataFrame
        Columns ``low`` and ``high``, one row an input in the order of the result.
    middle : float, optional
        What comes of all inputs drawn.
    ax : Axes
        Where to draw.
    """
    from surge_sim.report.figures import BLUE, INK, ORANGE

    effects = result.effects[: len(ends)]
    places = np.arange(len(ends))[::-1]
    low, high = ends["low"].to_numpy(float), ends["high"].to_numpy(float)
    ax.hlines(places, low, high, color="#b0b0b0", linewidth=7, zorder=1)
    marks = {"at its low value": (low, BLUE, "o"), "at its high value": (high, ORANGE, "s")}
    for label, (values, colour, mark) in marks.items():
        ax.scatter(
            values, places, color=colour, marker=mark, edgecolors="black", s=42, zorder=2,
            label=label,
        )  # fmt: skip
    for place, before, after, one in zip(places, low, high, effects, strict=True):
        named = values_words(result, one.input)
        for value, other, text in ((before, after, named[0]), (after, before, named[2])):
            if before == after and text is named[0]:
                continue
            side = "left" if value >= other else "right"
            words = f"{named[0]} to {named[2]}" if before == after else text
            ax.annotate(
                words, (value, place), (8 if side == "left" else -8, 0),
                textcoords="offset points", ha=side, va="center", fontsize=8,
            )  # fmt: skip
    if middle is not None:
        ax.axvline(middle, color=INK, linestyle="--", linewidth=1, label="all inputs drawn")
    ax.set_yticks(places, [figure_words(one, result.replay is not None) for one in effects])
    ax.set_ylim(-0.6, len(ends) - 0.4)
    ax.margins(x=0.22)
    ax.grid(axis="y", visible=False)
    return ax


def figure_table(result: Matters) -> pd.DataFrame:
    """Return what the figure shows: one row an input, in the order of the answer."""
    rows = []
    for one in result.effects[:_DRAWN]:
        row = {
            "input": one.input.name,
            "service_level_at_low": one.service.base,
            "service_level_at_high": one.service.value,
        }
        if one.passing is not None and result.ladder is not None:
            for end, passing in zip(("low", "high"), one.passing, strict=True):
                worth = result.worth(passing.place)
                row[f"cost_at_{end}"] = result.ladder.money[-1] if worth is None else worth
        rows.append(row)
    return pd.DataFrame(rows)


def matters_figure(result: Matters) -> Figure:
    """Return the figure: what service and the stock to add are at low and high values."""
    from surge_sim.report.figures import in_thousands, new_figure, title_above

    table = figure_table(result)
    panels = 1 if result.ladder is None else 2
    figure = new_figure(
        panels, width=8.0, height=1.6 + panels * (1.0 + 0.3 * len(table)), heights=[1.0] * panels
    )
    *above, service = figure.axes
    if above and result.ladder is not None:
        middle = None if result.passing is None else result.worth(result.passing.place)
        draw_bars(result, _two(table, "cost"), middle, above[0])
        title_above(above[0], "Stock to add for the target", fontsize=11)
        currency = result.scenario.settings.prices.currency
        more = max(n.place for one in result.effects for n in one.passing or ())
        beyond = more >= len(result.ladder.stocks)
        end = "; the highest value stands for as much or more" if beyond else ""
        above[0].set_xlabel(f"price [{currency}]{end}")
        above[0].xaxis.set_major_formatter(in_thousands)
    shares = _two(table, "service_level") * 100.0
    draw_bars(result, shares, None if result.service is None else 100.0 * result.service, service)
    title_above(service, "Service with the stock in hand", fontsize=11)
    service.set_xlabel(f"entries that {in_time_words(result.scenario.settings.target)} [%]")
    handles, labels = service.get_legend_handles_labels()
    figure.legend(handles, labels, loc="outside upper right", ncols=3, frameon=False, fontsize=9)
    return figure


def _two(table: pd.DataFrame, name: str) -> pd.DataFrame:
    return pd.DataFrame({end: table[f"{name}_at_{end}"] for end in ("low", "high")})


def ladder_table(result: Matters) -> pd.DataFrame:
    """Return the order of buying: one row a stock, with its price and the surges that miss."""
    assert result.ladder is not None
    missed = result.missed
    rows = [
        {"stage": rung, **stock_columns(stock), "cost": money, "share_missed": missed[rung]}
        for rung, (stock, money) in enumerate(zip(*result.ladder, strict=True))
    ]
    return stock_table(rows)


def fill_matters_folder(folder: ResultFolder, result: Matters) -> None:
    """Write answer, summary, tables, the figure, and the scenario with all ranges."""
    if result.replay is not None:
        folder.covers = replay_words(result.replay, result.surges)
    folder.write_text("answer.txt", render(matters_answer(result)))
    folder.write_json("summary.json", matters_json(result))
    folder.write_table("inputs", result.table)
    folder.write_table("replications", result.by_surge)
    if result.ladder is not None:
        folder.write_table("order_of_buying", ladder_table(result))
    if result.spread is not None:
        folder.write_text("scenario/with_spread.yaml", result.scenario.full_form())
    folder.write_figure("inputs", matters_figure(result), figure_table(result))
