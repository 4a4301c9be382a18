"""Second accounts of a log that is played: no limits, and recorded waits beside simulated ones."""

from __future__ import annotations

import csv
import math
import re
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pandas as pd
import pytest

from surge_sim.report.run_folder import fill_run_folder
from surge_sim.statistics.run import run
from tests.shadow.cells import differences
from tests.shadow.run_books import quantile
from tests.shadow.run_summary import apart
from tests.shadow.scenes import log_scene
from tests.shadow.shown import Caught, all_in_view, legend_words, line_called
from tests.shadow.test_run_accounts import (
    SEED,
    SURGES,
    Case,
    accounts,
    date_of,
    none_wrong,
    second_summary,
)

RECORDED = ("recorded_waits", "recorded_waits_by_entry")
MEASURES = {
    "share late": "0..1", "mean": "min", "median": "min", "90th percentile": "min",
    "95th percentile": "min",
}  # fmt: skip


@pytest.fixture(scope="module", params=[2, 3])
def case(request) -> Case:
    text, log = log_scene(request.param)
    with TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "scene.yaml").write_text(text, encoding="utf-8")
        (folder / f"log_{request.param}.csv").write_text(log, encoding="utf-8")
        found = Case(folder / "scene.yaml", folder, SURGES)
        # the rows of the log by moment, urgent ones first
        rows = sorted(
            csv.DictReader(log.splitlines()),
            key=lambda row: (float(row["requested"]), row["urgent"] != "yes"),
        )
        found.log = pd.DataFrame(rows)  # type: ignore[attr-defined]
        result = run(found.scenario, surges=SURGES, seed=SEED, processes=1)
        found.caught = Caught(fill_run_folder, result, folder)  # type: ignore[attr-defined]
    return found


def without_limits(value: Any) -> Any:
    """Return the same without limits: a recorded period has none."""
    if isinstance(value, list):
        return [without_limits(one) for one in value]
    if isinstance(value, dict):
        return {
            key: None if re.search(r"(^|_)(low|high)$", str(key)) else without_limits(one)
            for key, one in value.items()
        }
    return value


def played(case: Case) -> pd.DataFrame:
    """First requests of the entries of which the log has a wait, in every play."""
    log = case.log.assign(entry=range(len(case.log)))
    log = log[log["wait_minutes"] != ""]
    rows = case.raw.needs[case.raw.needs["part"] == 0].merge(log[["entry", "wait_minutes"]])
    rows["recorded_s"] = rows["wait_minutes"].astype(float) * 60
    wait = case.settings.target.wait
    rows["late"] = (rows["wait_s"] > wait) | (rows["ended"] != "served")
    rows["recorded_late"] = rows["recorded_s"] > wait
    return rows


def measured(wait_s: pd.Series, late: pd.Series) -> list[float]:
    """Share late, mean and quantiles [min]."""
    quantiles = [quantile(wait_s, share) / 60 for share in (0.5, 0.9, 0.95)]
    return [late.mean(), wait_s.mean() / 60, *quantiles]


def recorded_waits(case: Case) -> list[dict[str, Any]]:
    """Recorded and simulated measures, of the whole period and of each day."""
    rows, every = [], played(case)
    groups = [("whole period", every)]
    groups += [(f"day {day}", mine) for day, mine in every.groupby("day")]
    for group, mine in groups:
        first = mine[mine["surge"] == 0]
        day = None if group == "whole period" else int(group.removeprefix("day "))
        recorded = measured(first["recorded_s"], first["recorded_late"])
        plays = np.array([measured(one["wait_s"], one["late"]) for _, one in mine.groupby("surge")])
        for place, (measure, unit) in enumerate(MEASURES.items()):
            rows.append(
                {
                    "group": group, "date": date_of(case, day), "entries": len(first),
                    "measure": measure, "unit": unit,
                    "recorded": recorded[place], "simulated": plays[:, place].mean(),
                    "simulated_lowest": plays[:, place].min(),
                    "simulated_highest": plays[:, place].max(),
                }
            )  # fmt: skip
    return rows


def by_entry(case: Case) -> list[dict[str, Any]]:
    """Recorded and simulated wait of each entry."""
    needed = case.log["requested"].astype(float)
    return [
        {
            "entry": entry, "day": mine["day"].iloc[0],
            "date": date_of(case, mine["day"].iloc[0]), "requested_min": needed[entry],
            "recorded_min": mine["recorded_s"].iloc[0] / 60,
            "simulated_min": mine["wait_s"].mean() / 60, "lowest_min": mine["wait_s"].min() / 60,
            "highest_min": mine["wait_s"].max() / 60,
            "share_of_replications_late": mine["late"].mean(),
        }
        for entry, mine in played(case).groupby("entry")
    ]  # fmt: skip


def test_every_table_of_a_played_log_is_what_the_raw_rows_add_up_to(case: Case) -> None:
    kept = without_limits(accounts(case))
    kept |= {"recorded_waits": recorded_waits(case), "recorded_waits_by_entry": by_entry(case)}
    assert set(case.tables) == set(kept)
    none_wrong(
        one for name, rows in kept.items() for one in differences(name, case.tables[name], rows)
    )


def test_every_number_of_the_summary_of_a_played_log(case: Case) -> None:
    expected = without_limits(second_summary(case))
    every = played(case)
    whole = {row["measure"].replace(" ", "_"): row for row in recorded_waits(case)[:5]}
    entries = by_entry(case)
    often = [row["share_of_replications_late"] >= 0.5 for row in entries]
    seen = [row["recorded_min"] * 60 > case.settings.target.wait for row in entries]
    both = sum(a and b for a, b in zip(often, seen, strict=True))
    gaps = sorted(abs(row["recorded_min"] - row["simulated_min"]) for row in entries)
    said = case.summary["recorded_waits"]
    kept = expected["surges_on_target"] / SURGES
    names = ("recorded", "simulated", "simulated_lowest", "simulated_highest")
    expected |= {
        "confidence": None,
        "verdict": "met" if kept >= case.settings.target.share_of_surges else "not met",
        "recorded_waits": {
            "entries": every["entry"].nunique(),
            "reproduced": not said["apart"],
            "apart": said["apart"],
            "whole_period": {
                key: {name: row[name] for name in names} for key, row in whole.items()
            },
            "entry_by_entry": {
                "median_difference_minutes": float(np.median(gaps)),
                "late_in_record_and_replications": both,
                "late_in_record_only": sum(seen) - both,
                "late_in_replications_only": sum(often) - both,
            },
        },
    }
    told = {key: value for key, value in case.summary.items() if key != "replay"}
    none_wrong(apart("summary", told, expected))
    assert case.summary["replay"]["replications"] == SURGES
    assert said["apart"] == not_reproduced(whole)


def not_reproduced(whole: dict[str, dict[str, Any]]) -> list[str]:
    """Name the measures that lie outside those of the plays, and not close beside them."""
    found = []
    for name, row in whole.items():
        close = max(0.02, 1 / row["entries"]) if name == "share_late" else max(
            1.0, 0.1 * row["recorded"]
        )  # fmt: skip
        if row["simulated_lowest"] - close > row["recorded"] + 1e-9:
            found.append(f"{row['measure']} too high")
        if row["simulated_highest"] + close < row["recorded"] - 1e-9:
            found.append(f"{row['measure']} too low")
    return found


def test_recorded_waits_by_day_have_their_marks(case: Case) -> None:
    table = case.caught.tables["recorded_waits"]
    days = table[table["group"] != "whole period"]
    top, bottom = case.caught.figures["recorded_waits"].axes
    for axes, measure, times, begin in (
        (top, "share late", 100, ""), (bottom, "median", 1, "median, "),
        (bottom, "90th percentile", 1, "90th percentile, "),
    ):  # fmt: skip
        mine = days[days["measure"] == measure]
        day = mine["group"].str.removeprefix("day ").astype(float)
        for what in ("recorded", "simulated"):
            (label,) = (one for one in legend_words(axes) if one.startswith(begin + what))
            points = line_called(axes, label)
            np.testing.assert_allclose(points[:, 1], times * mine[what], rtol=1e-4, atol=1e-9)
            np.testing.assert_array_equal(np.rint(points[:, 0]), day)
            assert all_in_view(axes, points[:, 0], points[:, 1])
    for axes, bars in ((top, top.collections), (bottom, bottom.collections)):
        names = ["share late"] if axes is top else ["median", "90th percentile"]
        spread = days["simulated_highest"] > days["simulated_lowest"]
        names = [name for name in names if spread[days["measure"] == name].any()]
        for collection, measure in zip(bars, names, strict=True):
            mine = days[days["measure"] == measure]
            times = 100 if measure == "share late" else 1
            ends = np.array([segment[:, 1] for segment in collection.get_segments()])
            drawn = np.stack((mine["simulated_lowest"], mine["simulated_highest"]), axis=1)
            np.testing.assert_allclose(ends, times * drawn, rtol=1e-4, atol=1e-9)
    assert (top.get_ylabel(), bottom.get_ylabel()) == ("late entries [%]", "wait [min]")


def test_recorded_waits_by_entry_stand_over_the_recorded_ones(case: Case) -> None:
    table = case.caught.tables["recorded_waits_by_entry"]
    axes = case.caught.axes("recorded_waits_by_entry")
    points = line_called(axes, "one entry")
    np.testing.assert_allclose(points, table[["recorded_min", "simulated_min"]], rtol=1e-4)
    assert axes.get_xlabel() == "recorded wait [min]"
    assert axes.get_ylabel().startswith("simulated wait")
    wait = case.settings.target.wait / 60
    assert line_called(axes, f"target: {wait:g} min")[:, 0].tolist() == [wait, wait]
    assert all_in_view(axes, points[:, 0], points[:, 1])
    assert math.isclose(*axes.get_xlim()[1:], *axes.get_ylim()[1:])
