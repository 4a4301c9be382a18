"""How often the limits that a run prints hold the truth, in corners of the model.

    python -m tests.studies.printed --repetitions 2000 --surges 100 --write FILE
    python -m tests.studies.printed --table FILE

Small units of different kinds: in time nearly always, overloaded, parts that rarely lack, few
entries, and few entries without a maximum wait, where a breakdown of all kits makes some wait for
days. Each is run again and again, every time on other surges. The truth of each printed number
is the same number over all surges of all repetitions together. For each column of each table: how
often the limits are printed, and how often those printed hold the truth, at the median row and at
the worst one. Rows whose limits are printed in fewer than a tenth of the repetitions count as
not printed. ``--write`` keeps the rows as JSON lines, and ``--table`` enters them into
tests/README.md.
"""

from __future__ import annotations

import argparse
import json
import os
import tempfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import lru_cache, partial
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import yaml

from surge_sim import load_scenario
from surge_sim.scenario.load import Scenario
from surge_sim.statistics.result import RunResult
from surge_sim.statistics.run import run
from surge_sim.statistics.summary import joined

README = Path(__file__).parents[1] / "README.md"
BEGIN, END = "<!-- printed: begin -->", "<!-- printed: end -->"
BASE = Path(__file__).with_suffix(".yaml")
#: what each case changes of the base, by dotted name
CASES: dict[str, dict[str, Any]] = {
    "nearly always in time": {"stock.kits": 8, "stock.batteries": 12, "stock.bays": 6},
    "overloaded": {"stock.kits": 3, "stock.batteries": 4, "stock.bays": 2},
    "rare parts": {
        "failures.hood_damage": "0.3 %", "failures.tube_damage": "0.1 %", "supplies.hoods.spare": 0,
        "supplies.tubes.spare": 0, "failures.blower_run_between_failures": "400 h",
    },
    "few entries": {
        "arrivals.baseline": "0.5 per day", "arrivals.initial_census": 1, "stock.kits": 2,
        "stock.batteries": 3, "stock.bays": 1,
    },
    "no maximum wait": {
        "arrivals.baseline": "0.5 per day", "arrivals.initial_census": 1, "stock.kits": 2,
        "stock.batteries": 3, "stock.bays": 1, "policy.maximum_wait": None,
    },
}  # fmt: skip
TABLES = (
    "waits", "wait_curve", "by_urgency", "by_class", "by_role", "by_day", "by_hour",
    "cause_of_waiting", "use", "alarms", "consumables", "work", "spread",
)  # fmt: skip
#: rows that are printed less often tell nothing of how often they hold
LEAST_PRINTED = 0.1


class Cell(NamedTuple):
    """One printed number: table, row and column."""

    table: str
    row: str
    column: str


@lru_cache(maxsize=8)
def scenario_of(case: str) -> Scenario:
    """Return the scenario of a case."""
    whole = yaml.safe_load(BASE.read_text(encoding="utf-8"))
    for name, value in CASES[case].items():
        place, *path = reversed(name.split("."))
        section = whole
        for step in reversed(path):
            section = section[step]
        if value is None:
            del section[place]
        else:
            section[place] = value
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "case.yaml"
        file.write_text(yaml.safe_dump(whole), encoding="utf-8")
        return load_scenario(file)


def cells(result: RunResult) -> dict[Cell, tuple[float, float, float]]:
    """Return estimate, lower and upper limit of each number that has columns for limits."""
    found = {}
    for name in TABLES:
        table: pd.DataFrame = getattr(result, name)
        pairs = [
            (column, f"{column}_low", f"{column}_high")
            for column in table.columns
            if f"{column}_low" in table.columns
        ]
        if {"low", "high"} <= set(table.columns):
            column = "estimate" if "estimate" in table.columns else "share_longer"
            pairs.append((column, "low", "high"))
        keys = _keys(table)
        for row in table.to_dict("records"):
            label = " ".join(str(row[key]) for key in keys)
            for columns in pairs:
                found[Cell(name, label, columns[0])] = tuple(
                    float("nan") if row[one] is None else float(row[one]) for one in columns
                )
    return found


def _keys(table: pd.DataFrame) -> list[str]:
    """Name the columns that tell a row: its first, and which quantile it gives."""
    more = ("measure", "share_of_surges", "what", "cause_of_waiting")
    first = table.columns[0]
    return [first, *(name for name in more if name in table.columns and name != first)]


def repetition(case: str, surges: int, seed: int) -> RunResult:
    """Run a case on surges of its own."""
    return run(scenario_of(case), surges=surges, seed=seed, processes=1)


def several(
    case: str, surges: int, seeds: range
) -> tuple[list[dict[Cell, tuple[float, float, float]]], RunResult]:
    """Return the printed numbers of some repetitions, and all their surges together."""
    results = [repetition(case, surges, seed) for seed in seeds]
    return [cells(result) for result in results], together(results)


def together(results: Sequence[RunResult]) -> RunResult:
    """Return all surges of some results in one."""
    return replace(results[0], summary=joined([result.summary for result in results]))


def study(case: str, repetitions: int, surges: int, processes: int) -> Iterator[dict[str, Any]]:
    """Yield a row for each column of each table."""
    step = max(1, min(50, repetitions // processes))
    parts = [
        range(1 + start, 1 + min(start + step, repetitions))
        for start in range(0, repetitions, step)
    ]
    printed, wholes = [], []
    with ProcessPoolExecutor(processes) as pool:
        for some, whole in pool.map(partial(several, case, surges), parts):
            printed += some
            wholes.append(whole)
    truths = {cell: estimate for cell, (estimate, _, _) in cells(together(wholes)).items()}
    yield from summed_up(case, surges, printed, truths)


def summed_up(
    case: str,
    surges: int,
    printed: list[dict[Cell, tuple[float, float, float]]],
    truths: dict[Cell, float],
) -> Iterator[dict[str, Any]]:
    """Count by column how often limits are printed and how often those hold the truth."""
    columns: dict[tuple[str, str], list[tuple[float, float, str]]] = {}
    for cell, truth in truths.items():
        rows = np.array([one.get(cell, (np.nan,) * 3) for one in printed])
        low, high = rows[:, 1], rows[:, 2]
        known = ~(np.isnan(low) & np.isnan(high))
        # a limit that is missing on one side is no limit there
        holds = ~(low > truth + 1e-9) & ~(high < truth - 1e-9)
        held = float(holds[known].mean()) if known.any() else np.nan
        columns.setdefault((cell.table, cell.column), []).append(
            (float(known.mean()), held, cell.row)
        )
    for (table, column), found in columns.items():
        told = sorted((held, row) for often, held, row in found if often >= LEAST_PRINTED)
        shares = [held for held, _ in told]
        yield {
            "case": case, "surges": surges, "repetitions": len(printed), "table": table,
            "column": column, "rows": len(found), "rows_printed": len(told),
            "median": float(np.median(shares)) if told else None,
            "lowest": shares[0] if told else None, "lowest_row": told[0][1] if told else None,
            "highest": shares[-1] if told else None,
        }  # fmt: skip


def line(row: dict[str, Any]) -> str:
    """Return one line for the screen."""
    shown = "too rare for limits in every row"
    if row["rows_printed"]:
        shown = (
            f"{row['median']:6.1%} median, {row['lowest']:6.1%} lowest ({row['lowest_row']}), "
            f"{row['highest']:6.1%} highest"
        )
    where = f"{row['table']}.{row['column']}"
    return f"{row['case']:<22} {where:<34} {row['rows_printed']:>3}/{row['rows']:<3} {shown}"


def enter(file: Path) -> None:
    """Enter the rows of a file into tests/README.md: one line a column, one column a case."""
    rows = [json.loads(row) for row in file.read_text(encoding="utf-8").splitlines()]
    found = {(row["table"], row["column"], row["case"]): row for row in rows}
    lines = [
        f"| number | {' | '.join(CASES)} |",
        f"| --- |{' --- |' * len(CASES)}",
    ]
    for table, column in dict.fromkeys((row["table"], row["column"]) for row in rows):
        told = [_cell(found.get((table, column, case))) for case in CASES]
        lines.append(f"| `{table}`: {column} | {' | '.join(told)} |")
    before, _, rest = README.read_text(encoding="utf-8").partition(BEGIN)
    after = rest.partition(END)[2]
    README.write_text(
        f"{before}{BEGIN}\n\n" + "\n".join(lines) + f"\n\n{END}{after}", encoding="utf-8"
    )


def _cell(row: dict[str, Any] | None) -> str:
    """Lowest, median and highest share of repetitions held [%], and rows with limits of all."""
    if row is None:
        return "no such row"
    if not row["rows_printed"]:
        return "no limits"
    held = " / ".join(f"{100 * row[name]:.1f}" for name in ("lowest", "median", "highest"))
    return f"{held} ({row['rows_printed']} of {row['rows']})"


def main() -> None:
    """Print the study, case by case."""
    parser = argparse.ArgumentParser(prog="python -m tests.studies.printed")
    parser.add_argument("--repetitions", type=int, default=2000)
    parser.add_argument("--surges", type=int, default=100)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--case", choices=tuple(CASES), action="append")
    parser.add_argument("--write", type=Path)
    parser.add_argument("--table", type=Path)
    asked = parser.parse_args()
    if asked.table:
        return enter(asked.table)
    for case in asked.case or CASES:
        for row in study(case, asked.repetitions, asked.surges, asked.processes):
            print(line(row), flush=True)
            if asked.write:
                with asked.write.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(row) + "\n")


if __name__ == "__main__":
    main()
