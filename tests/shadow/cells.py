"""What a cell of a table must hold, and the comparison of a whole table with such cells."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

#: tables are written with six digits
DIGITS = 2e-5
#: fewer surges that tell of a number give it no limits
FEWEST = 8


def read_table(path: Path) -> pd.DataFrame:
    """Read a written table; text that looks like a formula is written with a mark before it."""
    table = pd.read_csv(path, keep_default_na=False, na_values=[""])
    for column in table.select_dtypes(object):
        marked = table[column].astype(str).str.match(r"'[-+=@]")
        table.loc[marked, column] = table.loc[marked, column].str[1:]
    return table


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

    The limits are cut at what is possible; there are none where too few surges tell of them.
    """
    above, below = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    total = below.sum()
    if not total:
        return {name: None, f"{name}_low": None, f"{name}_high": None}
    value = above.sum() / total
    low: float | None = None
    high: float | None = None
    if telling(above, below, highest == 1.0) >= FEWEST:
        down, up = reaches(above, below)
        low, high = max(value - down, 0.0), min(value + up, highest)
    found = {name: value, f"{name}_low": low, f"{name}_high": high}
    return {key: None if cell is None else cell * scale for key, cell in found.items()}


def telling(x: np.ndarray, y: np.ndarray, share: bool = False) -> int:
    """Count the surges that tell how a number varies.

    Of a share: those with some of it and those with less than all, whichever are fewer. Where each
    surge counts once: those above the least and those below the most. Else those above the least.
    """
    if share:
        return min(int((x > 0).sum()), int((x < y).sum()))
    above = int((x > x.min()).sum())
    return min(above, int((x < x.max()).sum())) if (y == 1).all() else above


def reaches(x: np.ndarray, y: np.ndarray, confidence: float = 0.95) -> tuple[float, float]:
    """Return how far below and above a ratio of sums its limits lie.

    The error of a ratio is that of its residuals (Cochran, "Sampling Techniques", 1977, 2.11).
    Each limit is the farther one of Student's and of that by the transformation of Hall, "On the
    removal of skewness by transformation", J R Stat Soc B 54, 1992, with the skewness of the
    sample raised by 30 %, since rare values have not all come up.
    """
    count = len(x)
    residuals = x - x.sum() / y.sum() * y
    spread = residuals.std()
    error = residuals.std(ddof=1) / math.sqrt(count) / y.mean()
    plain = float(stats.t.ppf(0.5 + confidence / 2, count - 1))
    if count < 3 or spread < 1e-12 * max(abs(x).max(), 1e-12):
        return plain * error, plain * error
    skewness = 1.3 * (residuals**3).mean() / spread**3
    skewness *= math.sqrt(count * (count - 1)) / (count - 2)
    lean = (residuals * y).mean() / y.mean() / residuals.std(ddof=1)
    bend, shift = (skewness / 3 - lean) / math.sqrt(count), skewness / 6 / math.sqrt(count)

    def bent_back(bound: float) -> float:
        if abs(bend) < 1e-9:
            return bound - shift
        return (float(np.cbrt(1 + 3 * bend * (bound - shift))) - 1) / bend

    return max(plain, bent_back(plain)) * error, max(plain, -bent_back(-plain)) * error


def mean(name: str, x: Any, highest: float = math.inf) -> dict[str, Any]:
    """Return the mean over surges, each counted once, with its limits; empty surges left out."""
    known = np.asarray(x, dtype=float)
    known = known[~np.isnan(known)]
    return ratio(name, known, np.ones(len(known)), highest=highest)


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
