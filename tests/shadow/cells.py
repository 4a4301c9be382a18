"""What a cell of a table must hold, and the comparison of a whole table with such cells."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

#: tables are written with six digits
DIGITS = 2e-5
#: limits reach no farther than this many times Student's interval
FAR = 6.0


@dataclass(frozen=True)
class Near:
    """A limit that may lie anywhere between two numbers; None: there is none."""

    least: float | None
    most: float | None


def same(seen: Any, expected: Any) -> bool:
    """Whether a written cell is what it must be; nothing is written as an empty cell."""
    if isinstance(expected, Near):
        if expected.least is None or expected.most is None:
            return bool(pd.isna(seen))
        if pd.isna(seen):
            return expected.most == math.inf
        slack = DIGITS * abs(seen) + 1e-9
        return bool(expected.least - slack <= seen <= expected.most + slack)
    if isinstance(expected, str | bool | np.bool_):
        return bool(seen == expected)
    if expected is None or pd.isna(expected):
        return bool(pd.isna(seen))
    return not pd.isna(seen) and math.isclose(seen, expected, rel_tol=DIGITS, abs_tol=1e-9)


def ratio(
    name: str, x: Any, y: Any, scale: float = 1.0, highest: float = math.inf
) -> dict[str, Any]:
    """Return sum(x) / sum(y) over surges with its 95 % limits, as columns of a table.

    The limits lie at least as far out as Student's (the error of a ratio of sums is that of
    its residuals), are cut at what is possible, and are none for one surge; of what never
    happened there is no upper one.
    """
    above, below = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    count, total = len(above), below.sum()
    if not total:
        nothing = Near(None, None)
        return {name: None, f"{name}_low": nothing, f"{name}_high": nothing}
    value = above.sum() / total
    if count < 2:
        low = high = Near(None, None)
    elif not above.any():
        low, high = Near(0.0, 0.0), Near(None, None)
    else:
        residuals = above - value * below
        error = math.sqrt(count / (count - 1) * (residuals**2).sum()) / total
        reach = float(stats.t.ppf(0.975, count - 1)) * error
        low = Near(*(max(0.0, value - far * reach) for far in (FAR, 1.0)))
        high = Near(*(min(highest, value + far * reach) for far in (1.0, FAR)))
    found = {name: value, f"{name}_low": low, f"{name}_high": high}
    return {key: _scaled(cell, scale) for key, cell in found.items()}


def mean(name: str, x: Any, highest: float = math.inf) -> dict[str, Any]:
    """Return the mean over surges, each counted once, with its limits; empty surges left out."""
    known = np.asarray(x, dtype=float)
    known = known[~np.isnan(known)]
    return ratio(name, known, np.ones(len(known)), highest=highest)


def _scaled(cell: Any, scale: float) -> Any:
    if isinstance(cell, Near):
        ends = (cell.least, cell.most)
        return Near(*(None if end is None else end * scale for end in ends))
    return cell * scale


def differences(name: str, seen: pd.DataFrame, expected: list[dict[str, Any]]) -> list[str]:
    """Return where a written table is not what it must be, with every column kept twice."""
    columns = list(expected[0]) if expected else []
    without = [column for column in seen.columns if column not in columns]
    if expected and without:
        return [f"{name}: nobody keeps a second account of the columns {without}"]
    if len(seen) != len(expected):
        return [f"{name}: {len(seen)} rows instead of {len(expected)}"]
    missing = [column for column in columns if column not in seen.columns]
    if missing:
        return [f"{name}: the columns {missing} are not written"]
    wrong = []
    for place, (row, own) in enumerate(zip(seen.to_dict("records"), expected, strict=True)):
        for column, cell in own.items():
            if not same(row[column], cell):
                wrong.append(f"{name}, row {place}, {column}: {row[column]!r}, expected {cell!r}")
    return wrong
