"""Other files that a scenario names: daily counts, stays, logs of entries."""

from __future__ import annotations

import csv
import hashlib
import io
import warnings
from pathlib import Path
from typing import TYPE_CHECKING, Any

from surge_sim import units
from surge_sim.errors import Fault
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.spread import TimeSpread
from surge_sim.scenario.yaml_text import Path as Place
from surge_sim.scenario.yaml_text import Tree, dotted

if TYPE_CHECKING:
    import pandas as pd

#: largest file that is read [bytes]
MOST_BYTES = 500_000_000


class FileReader:
    """Reads the files that a scenario names, once each, and gathers what is wrong."""

    def __init__(self, folder: Path, tree: Tree, file: str) -> None:
        self.folder = folder
        self.tree = tree
        self.file = file
        self.faults: list[Fault] = []
        self.warnings: list[str] = []
        self.sha256: dict[str, str] = {}
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
        if "file" in value and place not in (("arrivals", "daily_counts"), ("entries",)):
            return self._spread(value, place)
        return {key: self._look(inner, (*place, key)) for key, inner in value.items()}

    def fault(self, place: Place, found: str, right: str) -> None:
        """Note a fault at a place of the scenario file."""
        text = f"{dotted(place)} {found}."
        self.faults.append(Fault(self.file, self.tree.line(place), text, right))

    def table(self, name: Any, place: Place) -> pd.DataFrame | None:
        """Read a CSV file as text; None (and a fault) if it cannot be read."""
        if not isinstance(name, str) or not name.strip():
            self.fault(place, "names no file", "Write the name of a CSV file beside the scenario.")
            return None
        try:
            data = self.data.get(name)
            if data is None:
                path = self.folder / name
                if path.stat().st_size > MOST_BYTES:
                    raise OSError(0, f"larger than {MOST_BYTES:,} bytes")
                data = path.read_bytes()
            text = data.decode("utf-8-sig")
        except (OSError, UnicodeDecodeError, ValueError) as error:
            reason = getattr(error, "strerror", None) or "not text in UTF-8"
            right = "Name a CSV file; its path is taken from the scenario's folder."
            self.fault(place, f"is '{name}', which cannot be read: {reason.lower()}", right)
            return None
        self.data[name] = data
        self.sha256[name] = hashlib.sha256(data).hexdigest()
        table = self._parsed(text, name)
        if table is None:
            return None
        header = [word.strip() for word in next(csv.reader(io.StringIO(text)), [])]
        table.columns = header[: len(table.columns)]
        if table.empty or len(set(header)) < len(header):
            what = "has no rows" if table.empty else "has two columns of one name"
            right = "Write a header line with the names of the columns, then rows."
            self.faults.append(Fault(name, 1, f"{what}.", right))
            return None
        # what comes after the last row is no row; empty rows further up are told as faults
        filled = (table != "").any(axis=1).to_numpy().nonzero()[0]
        return table.iloc[: filled[-1] + 1 if len(filled) else 0]

    def _parsed(self, text: str, name: str) -> pd.DataFrame | None:
        """Split CSV text into columns of text; a row that is too long is a fault."""
        import pandas as pd

        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error", pd.errors.ParserWarning)
                return pd.read_csv(
                    io.StringIO(text),
                    dtype=str,
                    keep_default_na=False,
                    skip_blank_lines=False,
                    index_col=False,
                    na_filter=False,
                )
        except (pd.errors.ParserWarning, pd.errors.ParserError, ValueError) as error:
            reason = str(error).strip().splitlines()[-1].removeprefix("Error tokenizing data. ")
            if isinstance(error, pd.errors.ParserWarning):
                reason = "rows have more values than there are columns"
            found = f"is not a table: {reason.removeprefix('C error: ').rstrip('.')}."
            right = "Write a header line, then rows with commas between columns."
            self.faults.append(Fault(name, 0, found, right))
            return None

    def column(self, table: pd.DataFrame, name: str, wanted: Any) -> pd.Series | None:
        """Take a column, or note that it is not there."""
        if isinstance(wanted, str) and wanted in table.columns:
            return table[wanted].str.strip()
        listed = ", ".join(table.columns[:12])
        hint = " Columns are kept apart by commas." if ";" in listed or "\t" in listed else ""
        self.faults.append(
            Fault(name, 1, f"has no column '{wanted}'.", f"Columns found: {listed}.{hint}")
        )
        return None

    def numbers(self, column: pd.Series, name: str, what: str, most: float) -> Any:
        """Read a column of numbers from 0 to `most`; None (and faults by line) if any is wrong."""
        import numpy as np
        import pandas as pd

        values = pd.to_numeric(column, errors="coerce").to_numpy(dtype=float)
        with np.errstate(invalid="ignore"):
            wrong = ~((values >= 0) & (values <= most))
        right = f"Write a number from 0 to {most:,.0f}, with a point for decimals."
        self.rows_wrong(wrong, column, name, what, right)
        return None if wrong.any() else values

    def rows_wrong(self, wrong: Any, column: pd.Series, name: str, what: str, right: str) -> None:
        """Note the first rows that are wrong, and how many more there are."""
        rows = wrong.nonzero()[0]
        for row in rows[:5]:
            found = f"{what} is '{column.iloc[row]}'."
            more = (
                f"\n  {len(rows) - 5} more rows like this."
                if len(rows) > 5 and (row == rows[4])
                else ""
            )
            self.faults.append(Fault(name, int(row) + 2, found, right + more))

    def _spread(self, value: dict[str, Any], place: Place) -> Any:
        """Read a column of times into an empirical spread."""
        extra = set(value) - {"file", "column", "unit"}
        if extra:
            self.fault(
                (*place, sorted(extra)[0]),
                "does not go with `file`",
                "Known here: file, column, unit.",
            )
            return "1 min"  # stands in, so that other faults are found too
        unit = value.get("unit") or "h"
        try:
            unit_s = units.parse_duration(f"1 {unit}")
        except units.QuantityError:
            self.fault((*place, "unit"), f"is '{unit}'", "Write s, min, h, d or weeks.")
            return "1 min"
        table = self.table(value["file"], (*place, "file"))
        if table is None:
            return "1 min"
        column = self.column(table, value["file"], value.get("column", table.columns[0]))
        if column is None:
            return "1 min"
        numbers = self.numbers(column, value["file"], str(column.name), units.LONGEST_S / unit_s)
        if numbers is None:
            return "1 min"
        seconds = tuple(int(second) for second in (numbers * unit_s).round())
        return TimeSpread.model_construct(shape="empirical", values=seconds)

    def _daily_counts(self, value: dict[str, Any], start: Any) -> dict[str, Any]:
        """Read patients per day, by date or by number of the day."""
        from surge_sim.scenario.tables import counts_by_day

        table = self.table(value.get("file"), ("arrivals", "daily_counts", "file"))
        if table is None:
            return {**value, "counts": (0.0,)}
        counts = counts_by_day(self, table, value["file"], value.get("column", "patients"), start)
        return {**value, "counts": counts}

    def with_log(self, settings: Settings) -> Settings:
        """Attach the rows of the log of entries, if the scenario names one."""
        from surge_sim.scenario.tables import read_log

        if settings.entries is None:
            return settings
        name = settings.entries.file
        table = self.table(name, ("entries", "from"))
        rows = None if table is None else read_log(self, table, name, settings)
        entries = settings.entries.model_copy(update={"rows": rows})
        return settings.model_copy(update={"entries": entries})
