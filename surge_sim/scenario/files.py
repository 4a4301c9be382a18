"""Other files that a scenario names: daily counts, stays, a unit's own log of entries."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from surge_sim import units
from surge_sim.errors import MOST_ALIKE, Fault, echo
from surge_sim.quantity import ask_which
from surge_sim.scenario.faults import known, section_at, shown
from surge_sim.scenario.limits import MOST_FILE, MOST_NAME, MOST_REQUESTS
from surge_sim.scenario.patients import LoggedEntries
from surge_sim.scenario.quantities import UNKNOWN
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import TimeSpread
from surge_sim.scenario.text_file import (
    Table,
    number_in,
    read_bytes,
    read_table,
    text_of,
    why_unreadable,
)
from surge_sim.scenario.yaml_text import Path as Place
from surge_sim.scenario.yaml_text import Tree

#: role of entries whose log names none
NO_ROLE = "entry"
#: columns of a log of entries
LOG_COLUMNS = ("requested", "room_minutes", "role", "urgent", "wearer", "wait_minutes")
#: names that mean a recorded wait and leave its unit out, or name another one
_WAIT_ELSE = re.compile(r"wait(s|ed|ing)?(_?(time|s|sec|seconds?|mins?|minute|h|hours?))?", re.I)
_LONGEST_MIN = 7 * 1_440
_MOST_DAYS = 4_000
_YES_NO = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False, "": False}


def counts_by_day(table: Table, column: Any, start: Any, horizon: Any) -> tuple[float, ...] | None:
    """Read patients per day of the horizon [patients], day 0 first; days not there have 0.

    Column ``date`` (2031-01-06) counts from the day of `start`; column ``day`` counts from 1.
    None, and faults, if something is wrong.
    """
    by_date = "date" in table.columns
    patients, day_cells = table.column(column), table.column("date" if by_date else "day")
    values = None if patients is None else table.numbers(column, patients, 1_000_000)
    if patients is not None and _read_in_two_ways(table, column, patients):
        values = None
    if day_cells is None:
        return None
    if by_date:
        right = "Write year-month-day: 2031-01-06."
        days = table.read("date", day_cells, _date, right)
    else:
        days = table.read("day", day_cells, _day, "Number the days 1, 2, 3 ...")
    if days is None:
        return None
    first_row = {day: row for row, day in reversed(list(enumerate(days)))}
    twice = [row for row, day in enumerate(days) if first_row[day] != row]
    table.rows_wrong(twice, "a second row for the day", day_cells, "Keep one row per day.")
    try:
        first = units.parse_moment(start).toordinal() if by_date else 1
        horizon_days = -(-units.parse_duration(horizon) // units.DAY_S)
    except units.QuantityError:
        return None  # a fault of `start` or `horizon`, told elsewhere
    if values is None or twice:
        return None
    counted = {day - first: value for day, value in zip(days, values, strict=True)}
    inside = {day: value for day, value in counted.items() if 0 <= day < horizon_days}
    if before := sum(value > 0 for day, value in counted.items() if day < 0):
        table.warnings.append(f"days before the start are left out: {before}.")
    if all(day < 0 for day in counted):
        right = "Let `start` be the first day that is to be simulated."
        table.fault(table.lines[0] if table.lines else 1, "has no day after the start.", right)
        return None
    if not inside:
        table.warnings.append("no day lies inside the horizon, so it brings no patients.")
    return tuple(inside.get(day, 0.0) for day in range(max(inside, default=-1) + 1))


def _read_in_two_ways(table: Table, column: str, cells: list[str]) -> bool:
    """Ask about counts that are read differently elsewhere, such as ``1.400``."""
    asked = dict[int, str]()
    for row, cell in enumerate(cells):
        try:
            ask_which(cell)
        except units.QuantityError as error:
            asked[row] = error.right()
    # many are told as one
    told = [[*asked]] if len(asked) > MOST_ALIKE else [[row] for row in asked]
    for rows in told:
        table.rows_wrong(rows, column, cells, asked[rows[0]])
    return bool(asked)


def _date(cell: str) -> int | None:
    """Number a day; only year-month-day is one."""
    try:
        return date.fromisoformat(cell).toordinal() if cell[4:5] == cell[7:8] == "-" else None
    except ValueError:
        return None


def _day(cell: str) -> int | None:
    """Read the number of a day."""
    number = number_in(cell) or 0.0
    return int(number) if 1 <= number <= _MOST_DAYS and number == int(number) else None


def read_log(table: Table, settings: Settings) -> LoggedEntries | None:
    """Read a log of entries; see :class:`surge_sim.scenario.patients.EntryLog` for its columns."""
    for name in table.header:
        if _WAIT_ELSE.fullmatch(name):
            right = "Name recorded waits `wait_minutes`, and write them in minutes."
            table.fault(1, f"has a column '{echo(name)}', which does not say minutes.", right)
    strange = [echo(name) for name in table.header if name not in LOG_COLUMNS]
    if strange:
        table.warnings.append(f"not used: {', '.join(strange[:8])}.")
    needs, minutes = table.column("requested"), table.column("room_minutes")
    room = None if minutes is None else table.numbers("room_minutes", minutes, _LONGEST_MIN)
    urgent = _urgent(table)
    if len(table.lines) > MOST_REQUESTS:
        table.fault(0, f"has {len(table.lines):,} rows.", f"Use {MOST_REQUESTS:,} at most.")
    due = None if needs is None else _needs(table, needs, settings)
    waits = _waits(table)
    roles, role_names = _codes(table, "role")
    wearers, wearer_names = _codes(table, "wearer")
    if due is None:
        return None
    due_s = np.round(np.array(due)).astype(np.int64)
    inside = (due_s >= 0) & (due_s < settings.horizon)
    if len(due_s) and not inside.any():
        end = settings.start + timedelta(seconds=settings.horizon)
        surge = f"from {units.moment_text(settings.start)} to {units.moment_text(end)}"
        right = f"The scenario is {surge}: set `start` and `horizon` so that they cover the log."
        table.fault(table.lines[0], "has no row inside the horizon.", right)
        return None
    wrong = room is None or urgent is None
    if not inside.all():
        first = table.lines[int(np.flatnonzero(~inside)[0])]
        outside = f"{int((~inside).sum()):,} of {len(due_s):,} rows lie outside the horizon"
        if wrong:
            right = "They are left out: let `start` and `horizon` cover what is to be simulated."
            table.fault(first, f"{outside}, from here on.", right)
        table.warnings.append(f"{outside} and are left out, the first on line {first}.")
    if wrong:
        return None
    order = np.flatnonzero(inside)
    order = order[np.argsort(due_s[order], kind="stable")]
    columns = {
        "due_s": due_s, "room_s": np.round(np.array(room) * 60).astype(np.int64), "role": roles,
        "urgent": urgent, "wearer": wearers,
    }  # fmt: skip
    if waits is not None:
        columns["wait_s"] = waits
    sorted_columns = {key: column[order] for key, column in columns.items()}
    for column in sorted_columns.values():
        column.setflags(write=False)
    strangers = sorted(set(role_names) - {*settings.roles, NO_ROLE})
    if strangers and settings.roles:
        named = ", ".join(echo(name) for name in strangers[:8])
        table.warnings.append(
            f"roles without a section in `roles`: {named}; the kit's "
            "donning and doffing times are used for them."
        )
    return LoggedEntries(role_names=role_names, wearer_names=wearer_names, **sorted_columns)


def _needs(table: Table, needs: list[str], settings: Settings) -> list[float] | None:
    """Times of need [s] from the start: all in minutes, or all as dates with time."""
    if sum(number_in(cell) is not None for cell in needs) * 2 > len(needs):
        minutes = table.numbers("requested", needs, units.LONGEST_S / 60)
        return None if minutes is None else [minute * 60 for minute in minutes]
    right = "Write local time without a zone, such as 2031-01-06T07:35, or minutes from the start."
    moments = table.read("requested", needs, _moment, right)
    start = settings.start
    return None if moments is None else [(one - start).total_seconds() for one in moments]


def _moment(cell: str) -> datetime | None:
    """Read a date, or a date and a time of day without a zone."""
    try:
        moment = datetime.fromisoformat(cell) if cell[4:5] == cell[7:8] == "-" else None
    except ValueError:
        return None
    return moment if moment and moment.tzinfo is None and 1900 <= moment.year <= 2199 else None


def _urgent(table: Table) -> Any:
    if "urgent" not in table.columns:
        return np.zeros(len(table.lines), dtype=bool)
    cells = table.columns["urgent"]
    read = table.read("urgent", cells, lambda cell: _YES_NO.get(cell.lower()), "Write yes or no.")
    return None if read is None else np.array(read, dtype=bool)


def _waits(table: Table) -> Any:
    """Recorded waits [s], -1 where there is none; None without a single one."""
    cells = table.columns.get("wait_minutes", [])
    numbers = table.numbers("wait_minutes", [cell or "0" for cell in cells], _LONGEST_MIN)
    if numbers is None or not any(cells):
        return None
    seconds = np.round(np.array(numbers) * 60).astype(np.int64)
    return np.where([bool(cell) for cell in cells], seconds, -1)


def _codes(table: Table, column: str) -> tuple[Any, tuple[str, ...]]:
    """Number the names of a column in order of the alphabet.

    An empty wearer is none (-1). An empty role is a role of its own, 'entry'.
    """
    nobody = NO_ROLE if column == "role" else ""
    cells = table.columns.get(column, [])
    long = [row for row, cell in enumerate(cells) if len(cell) > MOST_NAME]
    table.rows_wrong(long, column, cells, f"Use {MOST_NAME} characters at most.")
    words = [cell or nobody for cell in cells or [""] * len(table.lines)]
    names = sorted({*words} - {""})
    codes = {name: number for number, name in enumerate(names)}
    return np.array([codes.get(word, -1) for word in words], dtype=np.int64), tuple(names)


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
            counts = self._daily_counts(arrivals["daily_counts"], root)
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

    def _daily_counts(self, value: dict[str, Any], root: dict[str, Any]) -> dict[str, Any]:
        """Read patients per day, by date or by number of the day."""
        column = value.get("column", "patients")
        if not isinstance(column, str):
            return {**value, "counts": UNKNOWN}  # told as a fault of the field
        place = ("arrivals", "daily_counts", "file")
        table = self.table(value.get("file"), place, lambda _: [column, "date", "day"])
        counts = (
            None
            if table is None
            else counts_by_day(table, column, root.get("start"), root.get("horizon"))
        )
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
