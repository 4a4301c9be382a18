"""What people waited for, kept a second time from the seconds by cause of each need."""

from __future__ import annotations

from typing import Any

import numpy as np

from surge_sim.equipment.causes import Cause
from tests.shadow.run_books import Books

#: where a missing thing is, in the words of the tables
PLACES = {
    "KIT_IN_USE": "kit in use",
    "KIT_HELD": "kit held between visits",
    "KIT_WAITING_FOR_WIPE": "kit waiting for a wipe-down",
    "KIT_IN_WIPE_DOWN": "kit in wipe-down",
    "KIT_DRYING": "kit in contact or drying time",
    "KIT_LACKS_PREFILTER": "kit waiting for a prefilter",
    "KIT_LACKS_HE_FILTER": "kit waiting for an HE filter",
    "KIT_GETTING_FILTER": "kit having a filter fitted",
    "KIT_IN_REPAIR": "kit in repair",
    "KIT_AWAY": "kit away",
    "KIT_RESERVED": "kit reserved for urgent entries",
    "NO_KIT": "kit not in stock",
    "HOOD_ON_ORDER": "hood used up and on order",
    "NO_HOOD": "hood used up and not on order",
    "NO_LARGE_HOOD": "hood of the large size, in use or used up",
    "TUBE_ON_ORDER": "tube used up and on order",
    "NO_TUBE": "tube used up and not on order",
    "BATTERY_IN_USE": "battery in use",
    "BATTERY_COOLING": "battery cooling down",
    "BATTERY_WAITING_FOR_BAY": "battery waiting for a bay",
    "BATTERY_CHARGING": "battery charging",
    "BATTERY_WITHOUT_POWER": "battery in a bay without power",
    "BATTERY_NOT_FULL": "battery charging to full",
    "BATTERY_TOO_WEAK": "battery too weak even when full",
    "BATTERY_OUT": "battery failed and not replaced",
    "BATTERY_AWAY": "battery away",
    "BATTERY_RESERVED": "battery reserved for urgent entries",
    "NO_BATTERY": "battery not in stock",
}
NOTHING = ("failed check", "wearer busy")


def seconds_by_cause(books: Books) -> dict[str, np.ndarray]:
    """Return the waiting seconds of each need by cause; they add up to its wait."""
    needs, waited = books.needs, books.raw.waited_s
    found = {PLACES[cause.name]: waited[:, int(cause)].astype(float) for cause in Cause}
    assert len(found) == waited.shape[1]
    # what was not spent in line went on failed checks, or the wearer was not free before the close
    rest = needs["wait_s"].to_numpy() - waited.sum(axis=1)
    assert (rest >= 0).all()
    failed = needs["failed_checks"].to_numpy() > 0
    return found | {"failed check": rest * failed, "wearer busy": rest * ~failed}


def cause_of_waiting(books: Books) -> list[dict[str, Any]]:
    """Hours waited by cause, the longest first."""
    waited = books.each(books.needs, "wait_s")
    rows = []
    for words, seconds in seconds_by_cause(books).items():
        mine = np.bincount(books.needs["surge"], weights=seconds, minlength=books.raw.surges)
        if mine.any():
            missing = "nothing" if words in NOTHING else words.split()[0]
            hours = mine.mean() / 3_600
            share = {"share": mine.sum() / waited.sum()}
            row = {"missing": missing, "cause_of_waiting": words, "hours_per_surge": hours}
            rows.append(row | share | {"in_surges": int((mine > 0).sum())})
    return sorted(rows, key=lambda row: (-row["hours_per_surge"], row["cause_of_waiting"]))


def longest(books: Books) -> list[str]:
    """Return the cause of the longest part of each wait; nothing where nobody waited."""
    by_cause = seconds_by_cause(books)
    names = np.array(list(by_cause), dtype=object)
    table = np.stack(list(by_cause.values()), axis=1)
    return np.where(table.any(axis=1), names[table.argmax(axis=1)], "").tolist()
