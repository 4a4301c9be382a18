"""A row of numbers for every surge, column by column in little room."""

from __future__ import annotations

from array import array
from collections.abc import Mapping
from dataclasses import dataclass, field
from sys import intern
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

#: kept as whole numbers, 8 bytes each; yes or no, 1 byte; other numbers, 8 bytes
_KINDS: dict[type, str] = {int: "q", bool: "b", float: "d"}
_DTYPES = {"q": np.int64, "b": np.bool_, "d": np.float64}

if TYPE_CHECKING:
    Column = array[int] | array[float] | list[str]


@dataclass
class SurgeRows:
    """Columns by name; the first row says of which kind each is."""

    columns: dict[str, Column] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(next(iter(self.columns.values()), ()))

    def add(self, row: Mapping[str, bool | int | float | str]) -> None:
        """Add the numbers of one surge; the same kinds each time."""
        if not self.columns:
            self.columns = {name: _new_column(value) for name, value in row.items()}
        for name, value in row.items():
            self.columns[name].append(intern(value) if isinstance(value, str) else value)  # type: ignore[arg-type]

    def join(self, other: SurgeRows) -> None:
        """Add the rows of the surges that come next."""
        if not self.columns:
            self.columns = {name: column[:] for name, column in other.columns.items()}
            return
        for name, column in other.columns.items():
            self.columns[name].extend(column)  # type: ignore[arg-type]

    def table(self) -> pd.DataFrame:
        """Return one row per surge."""
        return pd.DataFrame({name: _values(column) for name, column in self.columns.items()})


def _new_column(value: object) -> Column:
    return [] if isinstance(value, str) else array(_KINDS[type(value)])


def _values(column: Column) -> np.ndarray:
    if isinstance(column, list):
        return np.array(column, dtype=object)
    return np.array(column, dtype=_DTYPES[column.typecode])
