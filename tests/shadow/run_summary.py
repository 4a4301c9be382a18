"""The summary and the screen of a run, made a second time from its raw rows."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from scipy import stats

from surge_sim.equipment.stock import Stock
from surge_sim.scenario.load import Scenario
from tests.shadow.causes import cause_of_waiting
from tests.shadow.cells import Near, mean, ratio, same
from tests.shadow.run_books import ALARMS, SPREAD, WORK, Books, quantile

#: words, not numbers: what they say is tested with the notes and the scenario's sentences
WORDS = {"warnings", "caution", "timeline", "title", "question"}


def interval(cells: dict[str, Any]) -> dict[str, Any]:
    """Give the columns of an estimate and its limits the names of the summary."""
    ends = {"_low": "low", "_high": "high"}
    return {
        next((end for tail, end in ends.items() if name.endswith(tail)), "estimate"): cell
        for name, cell in cells.items()
    }


def exact_limits(count: int, tries: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the limits of Clopper and Pearson, by the beta distribution."""
    tail = (1 - confidence) / 2
    low = 0.0 if count == 0 else float(stats.beta.ppf(tail, count, tries - count + 1))
    high = 1.0 if count == tries else float(stats.beta.isf(tail, count + 1, tries - count))
    return low, high


def summary(
    scenario: Scenario, stock: Stock, seed: int, engine: str, books: Books, ladder_s: np.ndarray
) -> dict[str, Any]:
    """Return what summary.json must hold; words are left out."""
    raw, rows, target = books.raw, books.surges, books.target
    kept = int(rows["on_target"].sum())
    low, high = exact_limits(kept, raw.surges)
    wanted = target.share_of_surges
    count = books.each(books.entries)
    urgent = books.entries[books.entries["urgent"]]
    answer: dict[str, Any] = {
        "scenario": scenario.name,
        "seed": seed,
        "surges": raw.surges,
        "engine": engine,
        "stock": {
            "kits": stock.kits,
            "batteries": stock.batteries,
            "spare_batteries": max(stock.batteries - stock.kits, 0),
            "bays": stock.bays,
        },
        "target": promise(target),
        "verdict": "met" if low >= wanted else "not met" if high < wanted else "undecided",
        "confidence": 0.95,
        "entries_per_surge": count.mean(),
        "service_level": interval(
            ratio("share", books.each(books.entries, "in_time"), count, highest=1.0)
        ),
        "service_level_by_surge": interval(mean("share", rows["service_level"], highest=1.0)),
        **{
            f"service_level_by_{cause}": interval(
                ratio(
                    "share",
                    count - books.each(books.entries, f"late_by_{cause}"),
                    count,
                    highest=1.0,
                )
            )
            for cause in ("wait", "delay")
        },
        "share_on_target": {"estimate": kept / raw.surges, "low": low, "high": high},
        "surges_on_target": kept,
        "wait_minutes": {
            row["measure"]: {end: row[end] for end in ("estimate", "low", "high")}
            for row in books.waits(ladder_s)
            if row["group"] == "all"
        },
        "cause_of_waiting": {
            row["cause_of_waiting"]: row["share"] for row in cause_of_waiting(books)
        },
        "unserved_per_surge": rows["unserved"].mean(),
        "unserved": {
            "per_surge": interval(mean("unserved", rows["unserved"])),
            "reached_maximum_wait_per_surge": rows["reached_maximum_wait"].mean(),
            "waiting_at_end_per_surge": rows["waiting_at_end"].mean(),
        },
        "hours_waited_per_surge": interval(mean("hours", rows["hours_waited"])),
        "worst_day_service_level": interval(
            mean("share", rows["worst_day_service_level"], highest=1.0)
        ),
        "alarms_per_1000": {
            name: 1_000 * raw.counts[column].sum() / count.sum() if count.sum() else None
            for name, column in ALARMS.items()
        },
        "used": {
            row["what"]: {
                "mean": row["per_surge"],
                **{key: row[key] for key in ("enough", "enough_low",
                                             "enough_high")},
            }
            for row in books.consumables()
        },
        "work_per_surge": {
            name: raw.counts[column].mean() for name, column in raw.told(WORK).items()
        },
        "use": {
            row["state"]: {key: row[key] for key in ("mean", "peak_mean", "peak_highest")}
            for row in books.use()
        },
        "patients_per_surge": {name: rows[name].mean() for name in raw.patients.columns},
        "spread_over_surges": {
            name: {
                f"p{percent}": quantile(rows[name].dropna(), percent / 100)
                if rows[name].notna().any()
                else None
                for percent in (10, 50, 90)
            }
            for name in SPREAD
        },
    }  # fmt: skip
    if len(urgent):
        soon = books.each(urgent, "in_urgent_time")
        answer["urgent_service_level"] = interval(
            ratio("share", soon, books.each(urgent), highest=1.0)
        )
    return answer


def promise(target: Any) -> dict[str, Any]:
    """Return the target as the summary says it."""
    said = {
        "wait_minutes": target.wait / 60,
        "service_level": target.service_level,
        "share_of_surges": target.share_of_surges,
    }
    if target.late_by != "wait":
        said["late_by"] = target.late_by
    if target.urgent is not None:
        said["urgent"] = {
            "wait_minutes": target.urgent.wait / 60,
            "service_level": target.urgent.service_level,
        }
    for key in ("most_alarms_per_1000", "most_stock_outs"):
        if getattr(target, key) is not None:
            said[key] = getattr(target, key)
    return said


def apart(place: str, seen: Any, expected: Any) -> list[str]:
    """Return where two summaries differ; numbers are written with three to five decimals."""
    if isinstance(expected, dict):
        if not isinstance(seen, dict):
            return [f"{place}: {seen!r} is no object"]
        keys = set(seen) - (WORDS if place == "summary" else set())
        wrong = [f"{place}: nobody keeps a second account of {key}" for key in keys - set(expected)]
        wrong += [f"{place}: {key} is not there" for key in set(expected) - keys]
        for key in keys & set(expected):
            wrong += apart(f"{place}.{key}", seen[key], expected[key])
        return wrong
    if isinstance(expected, list):
        if not isinstance(seen, list) or len(seen) != len(expected):
            return [f"{place}: {seen!r}, expected {len(expected)} of them"]
        both = enumerate(zip(seen, expected, strict=True))
        return [one for n, (own, must) in both for one in apart(f"{place}[{n}]", own, must)]
    return [] if close(seen, expected) else [f"{place}: {seen!r}, expected {expected!r}"]


def close(seen: Any, expected: Any) -> bool:
    """Whether a rounded number is the expected one."""
    if isinstance(expected, Near):
        if expected.least is None or expected.most is None or seen is None:
            return same(seen, expected)
        return same(seen, Near(expected.least - 6e-4, expected.most + 6e-4))
    if isinstance(expected, float | np.floating) and seen is not None:
        return math.isclose(seen, expected, rel_tol=1e-6, abs_tol=6e-4)
    return same(seen, expected)
