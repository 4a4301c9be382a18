"""What people waited for, in a sentence: what was missing, and where it was."""

from __future__ import annotations

import pandas as pd

from surge_sim.report.rounding import percent

#: so many places are named for each kind of thing, if so much of all waiting was for them
_MOST_PLACES, _WORTH_NAMING = 3, 0.1
#: places with less of all waiting are not named, and things with less of it neither
_LEAST, _LEAST_OF_A_KIND = 0.01, 0.05
_PLURALS = {"kit": "kits", "hood": "hoods", "tube": "tubes", "battery": "batteries"}


def waiting_words(table: pd.DataFrame) -> str:
    """Say which things people waited for, and where these were.

    Parameters
    ----------
    table : DataFrame
        Columns ``missing``, ``waiting_for``, ``share`` [0..1], the largest share first.

    Returns
    -------
    str
        For example ``batteries 97 % (waiting for a bay 60 %, in use 37 %); kits away 5 %``; what
        is rarer stands in the table.
    """
    if table.empty:
        return "nothing: nobody waited"
    kinds = table.groupby("missing")["share"].sum().sort_values(ascending=False, kind="stable")
    said = []
    for missing, share in kinds.items():
        mine = table[(table["missing"] == missing) & (table["share"] >= _LEAST)]
        if share < _LEAST_OF_A_KIND or mine.empty:
            continue
        if missing == "nothing":
            said += _said(mine["waiting_for"], mine["share"])
            continue
        things, places = _PLURALS[str(missing)], mine["waiting_for"].str.removeprefix(f"{missing} ")
        if len(mine) == 1:
            said += [f"{things} {one}" for one in _said(places, mine["share"])]
            continue
        shown = mine["share"].head(_MOST_PLACES)
        shown = shown[shown >= _WORTH_NAMING]
        inside = _said(places[shown.index], shown)
        said.append(f"{things} {_whole(share)}" + (f" ({', '.join(inside)})" if inside else ""))
    return "; ".join(said)


def main_cause(table: pd.DataFrame) -> str:
    """Say for what most people waited, in a sentence."""
    if table.empty:
        return "Nobody waited."
    shares = table.groupby("missing")["share"].sum()
    missing, share = str(shares.idxmax()), float(shares.max())
    if missing == "nothing":
        return f"{_whole(share)} of the waiting was not for equipment."
    most = "Most waiting" if share > 0.5 else "The largest part of the waiting"
    return f"{most} was for {_PLURALS[missing]} ({_whole(share)})."


def _said(names: pd.Series, shares: pd.Series) -> list[str]:
    return [f"{name} {_whole(share)}" for name, share in zip(names, shares, strict=True)]


def _whole(share: float) -> str:
    """Write a share without decimals: causes are not known more closely."""
    return percent(share, known_to=0.1)
