"""Other files that a scenario names: daily counts, stays, logs of entries."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from surge_sim import units
from surge_sim.errors import Fault, echo
from surge_sim.scenario.arrivals import LoggedEntries
from surge_sim.scenario.csv_text import Table, read_table
from surge_sim.scenario.faults import known, section_at, shown
from surge_sim.scenario.limits import MOST_FILE
from surge_sim.scenario.quantities import UNKNOWN
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import TimeSpread
from surge_sim.scenario.tables import LOG_COLUMNS, counts_by_day, read_log
from surge_sim.scenario.text_file import read_bytes, text_of, why_unreadable
from surge_sim.scenario.tree import Path as Place
from surge_sim.scenario.tree import Tree


class FileReader:
    """Reads the files that a scenario names, once each, and gathers what is wrong.

    ``data`` are files that were read before, by their names as written.
    """

    def __init__(self, folder: Path, tree: Tree, data: Mapping[str, bytes]) -> None:
        self.folder = folder
        self.tree = tree
        self.faults: list[Fault] = []
        self.tables: list[Table] = []
        self.sha256: dict[str, str] = {}
        self.known = data
        self.data: dict[str, bytes] = {}

    def fill(self, root: dict[str, Any]) -> dict[str, Any]:
        """Put the contents of files in the place of ``{file: ...}``; copies what changes."""
        filled = {key: self._look(value, (key,)) for key, value in root.items()}
        arrivals = filled.get("arrivals")
        if isinstance(arrivals, dict) and isinstance(arrivals.get("daily_counts"), dict):
            counts = self._daily_counts(arrivals["daily_counts"], root.get("start"))
            filled["arrivals"] = {**arrivals, "daily_counts": counts}
        return filled

    def _look(self, value: Any, place: Place) -> Any:
        if isinstance(value, list):
            return [self._look(inner, (*place, number)) for number, inner in enumerate(value)]
        if not isinstance(value, dict):
            return value
        if "file" in value and section_at(place, self.tree.root) is TimeSpread:
            return self._spread(value, place)
        return {key: self._look(inner, (*place, key)) for key, inner in value.items()}

    @property
    def warnings(self) -> list[str]:
        """What a planner should look at in the files."""
        return [f"{table.name}: {text}" for table in self.tables for text in table.warnings]

    def fault(self, place: Place, found: str, right: str) -> None:
        """Note a fault at a place of the scenario file."""
        self.faults.append(self.tree.fault(place, found, right))

    def table(
        self, name: Any, place: Place, wanted: Callable[[list[str]], list[str]]
    ) -> Table | None:
        """Read columns of a CSV file as text; None (and a fault) if it cannot be read."""
        if name is UNKNOWN:
            return None
        if not isinstance(name, str) or not name.strip():
            self.fault(place, "names no file", "Write the name of a CSV file beside the scenario.")
            return None
        try:
            data = self.data.get(name, self.known.get(name))
            if data is None:
                data = read_bytes(self.folder / name, MOST_FILE)
        except OSError as error:
            right = "Name a CSV file; its path is taken from the scenario's folder."
            found = f"is '{echo(name)}', which cannot be read: {why_unreadable(error)}"
            self.fault(place, found, right)
            return None
        self.data[name] = data
        self.sha256[name] = hashlib.sha256(data).hexdigest()
        text, faults = text_of(data, name)
        self.faults += faults
        table = None if text is None else read_table(text, name, wanted, self.faults)
        if table is not None:
            self.tables.append(table)
        return table

    def _spread(self, value: dict[str, Any], place: Place) -> Any:
        """Read a column of times into an empirical spread."""
        for key in sorted(set(value) - {"file", "column", "unit"}):
            right = "Known here: file, column, unit."
            self.fault((*place, key), "does not go with `file`", right)
        unit = value.get("unit")
        unit_s = units.TIME_UNITS.get(unit) if isinstance(unit, str) else None
        if unit_s is None:
            found = "is missing" if unit is None else shown(unit)
            right = "Write the unit of the numbers in the column: `s`, `min`, `h`, `d` or `weeks`."
            self.fault((*place, "unit"), found, right)
            unit_s = units.HOUR_S
        column = value.get("column")
        if not isinstance(column, str | None):
            self.fault((*place, "column"), "names no column", "Write the name of one column.")
            column = None
        table = self.table(
            value["file"], (*place, "file"), lambda header: [column] if column else header[:1]
        )
        if table is None:
            return UNKNOWN
        name = column or next(iter(table.columns), "")
        cells = table.column(name)
        numbers = None if cells is None else table.numbers(name, cells, units.LONGEST_S / unit_s)
        if not numbers:
            return UNKNOWN
        seconds = tuple(round(number * unit_s) for number in numbers)
        return TimeSpread.model_construct(shape="empirical", values=seconds)

    def _daily_counts(self, value: dict[str, Any], start: Any) -> dict[str, Any]:
        """Read patients per day, by date or by number of the day."""
        column = value.get("column", "patients")
        if not isinstance(column, str):
            return {**value, "counts": UNKNOWN}  # told as a fault of the field
        place = ("arrivals", "daily_counts", "file")
        table = self.table(value.get("file"), place, lambda _: [column, "date", "day"])
        counts = None if table is None else counts_by_day(table, column, start)
        named = value.get("file") if table else UNKNOWN
        return {**value, "file": named, "counts": UNKNOWN if counts is None else counts}

    def log(self, settings: Settings) -> LoggedEntries | None:
        """Read the log of entries, if the scenario names one."""
        with known:
            if settings.entries is not None:
                name = settings.entries.file
                table = self.table(name, ("entries", "from"), lambda _: list(LOG_COLUMNS))
                return None if table is None else read_log(table, settings)
        return None
