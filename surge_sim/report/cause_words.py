"""What people waited for, in a sentence: what was missing, and where it was."""

from __future__ import annotations

import pandas as pd

from surge_sim.report.rounding import percent

#: so many places are named for each kind of thing, if so much of all waiting was for them
_MOST_PLACES, _WORTH_NAMING = 4, 0.05
#: shares below this are not named at all
_LEAST = 0.001
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
        For example ``batteries 97 % (waiting for a bay 60 %, in use 37 %); kits drying 3 %``.
    """
    if table.empty:
        return "nothing: nobody waited"
    kinds = table.groupby("missing")["share"].sum().sort_values(ascending=False, kind="stable")
    said = []
    for missing, share in kinds.items():
        mine = table[(table["missing"] == missing) & (table["share"] >= _LEAST)]
        if share < _LEAST or mine.empty:
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
        rest = float(share - shown.sum())
        if inside and rest >= _LEAST:
            inside.append(f"elsewhere {percent(rest)}")
        said.append(f"{things} {percent(share)}" + (f" ({', '.join(inside)})" if inside else ""))
    return "; ".join(said)


def _said(names: pd.Series, shares: pd.Series) -> list[str]:
    return [f"{name} {percent(share)}" for name, share in zip(names, shares, strict=True)]
