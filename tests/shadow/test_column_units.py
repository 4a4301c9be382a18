"""Units in ``columns.txt`` are those in which the second accounts keep the columns."""

from __future__ import annotations

import re

from surge_sim.report.columns import columns_text
from tests.shadow import test_run_accounts

#: what the whole name of a column tells, then what its end tells
NAMED = {
    "entries_per_surge": "count per surge", "hours_per_surge": "h per surge",
    "per_surge": "count per surge", "hours_waited": "h", "hours": "h",
    "cost": "the scenario's currency", "price": "the scenario's currency",
    "entries_gain": "-1..1", "entries_low": "-1..1", "entries_high": "-1..1",
    "surges_gain": "-1..1", "surges_low": "-1..1", "surges_high": "-1..1",
    "low_alone": "0..1", "on_target": "True, False", "tells": "True, False",
    "mean": "count", "p10": "count", "p90": "count", "number": "count", "worsened": "count",
    "helped": "count", "estimate": "the unit of what the row names",
}  # fmt: skip
#: of one table only
OF_TABLE = {
    ("use_over_time", "hour"): "h", ("evidence", "low"): "0..1", ("evidence", "high"): "0..1",
    ("needed_quantiles", "low"): "count", ("needed_quantiles", "high"): "count",
    ("needed_quantiles", "needed"): "count",
}  # fmt: skip
ENDINGS = {"_min": "min", "service_level": "0..1"}
BEGINNINGS = {"share": "0..1"}
#: numbers without a unit in brackets: places, clock hours, days, and what the words say in full
BARE = {
    "surge", "day", "hour", "worst_day", "low_confidence", "per_1000_entries", "unserved_per_1000",
    "per_money", "low", "high", "or_fewer",
}  # fmt: skip


def unit_of(table: str, column: str) -> str | None:
    """Return the unit of a column of numbers."""
    if (table, column) in OF_TABLE:
        return OF_TABLE[table, column]
    if column in NAMED:
        return NAMED[column]
    if column in BARE:
        return None
    for ending, unit in ENDINGS.items():
        if column.endswith(ending):
            return unit
    for beginning, unit in BEGINNINGS.items():
        if column.startswith(beginning):
            return unit
    return "count"


def said_in(text: str) -> dict[tuple[str, str], str]:
    """Return the meaning of each column of each table of ``columns.txt``."""
    found: dict[tuple[str, str], str] = {}
    table = key = ""
    for line in text.splitlines():
        if line.endswith(".csv"):
            table = line.removesuffix(".csv").rsplit("/", 1)[-1]
        elif begin := re.match(r"  (\w+)  +(.*)", line):
            key, words = begin.groups()
            found[table, key] = words
        elif line.strip() and table:
            found[table, key] += " " + line.strip()
    return found


def test_each_column_of_numbers_has_the_unit_that_it_is_counted_in() -> None:
    tables = test_run_accounts.situation_of(0).tables
    said = said_in(columns_text({f"tables/{name}": list(one) for name, one in tables.items()}))
    wrong = []
    for name, table in tables.items():
        for column in table.select_dtypes(["number", "bool"]):
            words = said[name, column]
            base = re.sub(r"_(low|high)$", "", column)
            if base != column and (name, column) not in OF_TABLE and column not in NAMED:
                side = "lower" if column.endswith("_low") else "upper"
                own = re.findall(r"\[([^\]]*)\]", words)
                fits = words.startswith(f"{side} limit of ") and own in ([], [unit_of(name, base)])
                if not fits or (f"{base}:" not in words and not own):
                    wrong.append(f"{name}, {column}: {words}")
                continue
            unit = unit_of(name, column)
            found = re.findall(r"\[([^\]]*)\]", words)
            if found != ([] if unit is None else [unit]):
                wrong.append(f"{name}, {column}: {words}; the unit is {unit}")
    assert wrong == []
