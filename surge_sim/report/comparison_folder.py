"""A comparison as one JSON object, as a figure, and as everything that it leaves in its folder."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from surge_sim.cautions import CAUTION
from surge_sim.report.comparison import answer_words, comparison_answer
from surge_sim.report.comparison_tables import NAMES, groups
from surge_sim.report.phrases import per_play, replay_words
from surge_sim.report.rounding import for_json
from surge_sim.report.run_folder import interval_json, replay_json, stock_json, target_json
from surge_sim.report.terminal import render

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from surge_sim.report.folder import ResultFolder
    from surge_sim.whatif.compare import Comparison

_DIGITS = 5


def comparison_json(result: Comparison) -> dict[str, Any]:
    """Return a comparison as plain values.

    Returns
    -------
    dict
        Shares from 0 to 1, hours and counts per surge, money in the scenario's currency. Each
        alternative has its difference from the first, which is the scenario as it is.
    """
    base, settings = result.base, result.base.scenario.settings
    table = result.table.set_index("alternative")
    same = {one.name for one in result.design.equal_to_base()}
    told = []
    for one in result.design.alternatives:
        row: dict[Any, Any] = table.loc[one.name].to_dict()
        cost = result.costs.get(one.name)
        mine: dict[str, Any] = {
            "name": one.name,
            "kind": one.sort or None,
            "changes": row["changes"],
            "relaxes": result.relaxes.get(one.name) or None,
            "assumes": one.assumes,
            "stock": stock_json(one.in_hand),
            "surges_on_target": row["surges_on_target"],
            **{name: for_json(row[name], _DIGITS) for name in NAMES},
        }
        if cost is not None:
            mine |= {
                "purchase": cost.purchase,
                "paid_per_surge": cost.per_surge,
                "without_a_price": list(cost.unpriced),
                "equal_to_base": one.name in same,
                "other_process_times": list(result.assumed_times.get(one.name, ())),
                "differences": {
                    found.measure.name: {
                        **interval_json(found.by, _DIGITS),
                        "surges_that_differ": found.surges,
                        "finding": found.finding if result.replay is None else None,
                    }
                    for found in result.found[one.name]
                },
            }
        if one.name in result.sized:
            mine["to_meet_the_target"] = dict(result.sized[one.name])
        told.append(mine)
    answer: dict[str, Any] = {
        "scenario": base.scenario.name,
        "title": settings.title,
        "seed": result.design.seed,
        "surges": result.surges,
        "engine": result.design.engine,
        "target": target_json(settings.target),
        "currency": settings.prices.currency,
        "answer": answer_words(result),
        # of a recorded period it would be read as confidence about other periods
        "simultaneous_confidence": result.confidence if result.replay is None else None,
        "alternatives": told,
        "not_tried": dict(result.not_tried),
        "warnings": list(result.notes),
        "caution": CAUTION,
    }
    if result.replay is not None:
        answer["replay"] = replay_json(result.replay, result.surges)
    return answer


def draw_differences(result: Comparison, names: Sequence[str], ax: Axes) -> Axes:
    """Draw how many hours of waiting some alternatives save or cost, with their limits."""
    from surge_sim.report.figures import BLUE, INK, ORANGE, in_thousands

    table = result.differences[result.differences["measure"] == "hours_waited"]
    rows = table.set_index("alternative").loc[list(names)].reset_index()
    colours = {"better": (BLUE, "o"), "worse": (ORANGE, "X"), "": (BLUE, "o")}
    words = {
        "better": "shown to save hours",
        "worse": "shown to add hours",
        "undecided": "undecided",
        "": "replications of one recorded period",
    }
    kinds = rows["finding"].where(rows["finding"].isin(list(colours)), "undecided")
    places = np.arange(len(rows))[::-1]
    for kind in dict.fromkeys(kinds):
        mine = (kinds == kind).to_numpy()
        middle = rows["difference"].to_numpy()[mine]
        reach = np.abs(rows[["low", "high"]].to_numpy()[mine].T - middle)
        colour, mark = colours.get(kind, ("#7f7f7f", "s"))
        ax.errorbar(
            middle, places[mine], xerr=np.nan_to_num(reach) if kind else None, fmt=mark,
            color=colour, markeredgecolor="black", capsize=3, linewidth=1.2, label=words[kind],
        )  # fmt: skip
    ax.axvline(0, color=INK, linestyle="--", linewidth=1)
    ax.set_yticks(places, rows["alternative"])
    ax.set_ylim(-0.6, len(rows) - 0.4)
    ax.grid(axis="y", visible=False)
    ax.xaxis.set_major_formatter(in_thousands)
    return ax


def comparison_figure(result: Comparison) -> Figure:
    """Return the figure of a comparison: one panel each for choices, stress and assumptions."""
    from surge_sim.report.figures import new_figure, title_above

    parts = list(groups(result))
    counts = [len(members) + 1.6 for _, members in parts]
    figure = new_figure(len(parts), width=8.0, height=1.4 + 0.32 * sum(counts), heights=counts)
    limits = "" if result.replay is not None else ", with limits that hold together (95 %)"
    for ax, (heading, members) in zip(figure.axes, parts, strict=True):
        draw_differences(result, [one.name for one in members], ax)
        title = heading or f"What the alternatives save or cost{limits}"
        title_above(ax, title, fontsize=11)
    per = per_play(result.replay)
    ax.set_xlabel(f"hours of waiting {per}, less those of the scenario as it is")
    labels = {
        label: handle
        for ax in figure.axes
        for handle, label in zip(*ax.get_legend_handles_labels(), strict=True)
    }
    figure.legend(
        labels.values(), labels, loc="outside upper right", ncols=3, frameon=False, fontsize=9
    )
    return figure


def fill_comparison_folder(folder: ResultFolder, result: Comparison) -> None:
    """Write answer, summary, tables and the figure of a comparison, and each changed scenario."""
    if result.replay is not None:
        folder.covers = replay_words(result.replay, result.surges)
    folder.write_text("answer.txt", render(comparison_answer(result)))
    folder.write_json("summary.json", comparison_json(result))
    folder.write_table("alternatives", result.table)
    folder.write_table("differences", result.differences)
    folder.write_table("outcomes", result.by_surge)
    for number, one in enumerate(result.others, 1):
        folder.write_text(f"alternatives/{number:02d}.yaml", one.scenario.full_form())
    hours = result.differences
    folder.write_figure(
        "differences", comparison_figure(result), hours[hours["measure"] == "hours_waited"]
    )
