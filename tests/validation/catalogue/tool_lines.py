"""surge_sim as a textbook line: entry logs with known answers, played through the public API."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache, lru_cache
from typing import Any

import numpy as np

import surge_sim
from tests.validation.catalogue import sources as src
from tests.validation.catalogue import unnoticed
from tests.validation.check import By, Check, Found, Kind
from tests.validation.scenes import (
    DAY,
    HOUR,
    MINUTE,
    IntArray,
    batch_mean,
    generator,
    line_demand,
    line_waits,
    poisson_log,
    ratio_of,
    services,
    whole,
)

Row = tuple[str, str, str, Kind, Callable[[], Found], float]
PUBLISHED, AGAIN, FROM_MEMORY = Kind.PUBLISHED, Kind.RECOMPUTED, Kind.FROM_MEMORY
SECOND, COMMON, OWN = Kind.SECOND, Kind.COMMON, Kind.OWN


def mean_service_s(load: float, entries: int) -> int:
    """Mean service [s]: long, so that whole seconds are fine, yet the log fits ten years."""
    return int(min(1500, 3e8 * load / entries))


@lru_cache(maxsize=1)
def long_demand(load: float, shape: str, entries: int, cv: float, maximum_wait: str) -> Any:
    """Poisson arrivals with services of a shape as one long entry log."""
    case, mean_s = round(1000 * load) + (7000 if maximum_wait else 0), mean_service_s(load, entries)
    changes = {"policy": {"maximum_wait": maximum_wait}} if maximum_wait else {}
    due_s = poisson_log(case, load, mean_s, entries)
    return line_demand(due_s, services(case, shape, mean_s, entries, cv), **changes)


@cache
def long_waits(kits: int, load: float, shape: str, entries: int, cv: float) -> IntArray:
    """Waits of a long line."""
    return line_waits(long_demand(load, shape, entries, cv, ""), kits)


def waits(kits: int, load: float, shape: str = "exponential", entries: int = 300_000,
          cv: float = 1.0) -> Found:  # fmt: skip
    """Mean wait in service times."""
    there = long_waits(kits, load, shape, entries, cv) / mean_service_s(load, entries)
    return batch_mean(there)


def late(kits: int, load: float, over: float = 0.0, shape: str = "exponential",
         entries: int = 300_000) -> Found:  # fmt: skip
    """Share that waits more than `over` service times."""
    there = long_waits(kits, load, shape, entries, 1.0)
    return batch_mean(there > over * mean_service_s(load, entries))


def scaled(found: Found, factor: float, plus: float = 0.0) -> Found:
    """Return a found value in another unit."""
    error = abs(factor) * (found.error or 0.0)
    return Found(plus + factor * found.value, error, found.freedom)


def turned(found: Found) -> Found:
    """Return one less a found share."""
    return Found(1 - found.value, found.error, found.freedom)


@cache
def lost(kits: int, load: float, shape: str, cv: float = 1.0) -> Found:
    """Share that finds no kit; with no maximum_wait at all they are done otherwise at once."""
    case = long_demand(load, shape, 300_000, cv, "0 s")
    stock = surge_sim.Stock(kits=kits, batteries=kits, bays=kits)
    log = surge_sim.play(*case._replace(stock=stock))
    return batch_mean(log.in_hand_s < 0)


DAYS = 1500


@cache
def sine_log() -> Any:
    """Days with rate 12 + 8 sin(2 pi t / 24) per hour and 30 min of service, each from empty.

    One log holds them all, with a day's gap between two, so that each starts with all kits there.
    """
    rng = generator(42)
    due = []
    for day in range(DAYS):
        t = np.sort(rng.uniform(0, 24, rng.poisson(24 * 20)))
        t = t[rng.uniform(0, 20, len(t)) < 12 + 8 * np.sin(2 * np.pi * t / 24)]
        due.append(2 * day * DAY + whole(t * HOUR))
    due_s = np.concatenate(due)
    return line_demand(due_s, np.maximum(whole(rng.exponential(30 * MINUTE, len(due_s))), 1))


@cache
def sine_days(kits: int) -> Found:
    """Share of all entries of the days that wait 5 min or less."""
    case = sine_log()
    in_time = line_waits(case, kits) <= 5 * MINUTE
    of_day = case.demand.due_s // (2 * DAY)
    return ratio_of(np.bincount(of_day, in_time, DAYS), np.bincount(of_day, minlength=DAYS))


@cache
def steady_log() -> Any:
    """12 entries an hour of 30 min, exponential."""
    mean_s, entries = 30 * MINUTE, 150_000
    return line_demand(
        poisson_log(99, 6.0, mean_s, entries), services(99, "exponential", mean_s, entries)
    )


@cache
def prompt(kits: int) -> Found:
    """Share that waits 5 min or less."""
    return batch_mean(line_waits(steady_log(), kits) <= 5 * MINUTE)


WAITS: list[Row] = [
    ("M/M/2, 9 in, 5 out: mean time", "1.053", src.MARZOLLA, SECOND,
     lambda: scaled(waits(2, 1.8, entries=600_000), 0.2, 0.2), 0.03),
    ("M/M/4, 9 in, 5 out: mean time", "0.212", src.MARZOLLA, SECOND,
     lambda: scaled(waits(4, 1.8), 0.2, 0.2), 0.02),
    ("M/M/4, 9 in, 5 out: mean waiting", "0.105", src.MARZOLLA, SECOND,
     lambda: scaled(waits(4, 1.8), 1.8), 0.03),
    ("share waiting, 120 per h of 3 min, 10 kits", "0.101299", src.RECURSION, AGAIN,
     lambda: late(10, 6.0), 0.03),
    ("share waiting, 30 per h of 5 min, 5 kits", "0.130371", src.RECURSION, AGAIN,
     lambda: late(5, 2.5), 0.02),
    ("share waiting, 30 per h of 5 min, 6 kits", "0.047445", src.RECURSION, AGAIN,
     lambda: late(6, 2.5), 0.03),
    ("M/M/3, 300 a year of 2 days: mean wait [d]", "0.4288", src.BRONSON, PUBLISHED,
     lambda: scaled(waits(3, 300 / 182.5), 2.0), 0.03),
    ("emergency room, 1 doctor: mean wait [h]", "0.6667", src.HILLIER, FROM_MEMORY,
     lambda: scaled(waits(1, 2 / 3), 1 / 3), 0.02),
    ("emergency room, 1 doctor: wait over half an hour", "0.4044", src.HILLIER, FROM_MEMORY,
     lambda: late(1, 2 / 3, 1.5), 0.02),
    ("emergency room, 1 doctor: wait over an hour", "0.2453", src.HILLIER, FROM_MEMORY,
     lambda: late(1, 2 / 3, 3.0), 0.02),
    ("emergency room, 2 doctors: mean wait [h]", "0.041667", src.HILLIER, FROM_MEMORY,
     lambda: scaled(waits(2, 2 / 3), 1 / 3), 0.02),
    ("emergency room, 2 doctors: wait over half an hour", "0.0226", src.HILLIER, FROM_MEMORY,
     lambda: late(2, 2 / 3, 1.5), 0.04),
    ("M/D/1 at 80 %: mean wait in service times", "2.0", src.KHINCHINE, AGAIN,
     lambda: waits(1, 0.8, "constant"), 0.02),
    ("M/D/2 at 80 %: share waiting", "0.70190", src.CROMMELIN, AGAIN,
     lambda: late(2, 1.6, 0.0, "constant"), 0.01),
    ("M/D/2 at 80 %: mean wait in service times", "0.90328", src.CROMMELIN, AGAIN,
     lambda: waits(2, 1.6, "constant"), 0.03),
    ("M/D/5 at 80 %: share waiting", "0.53362", src.CROMMELIN, AGAIN,
     lambda: late(5, 4.0, 0.0, "constant"), 0.01),
    ("M/D/5 at 80 %: mean wait in service times", "0.28906", src.CROMMELIN, AGAIN,
     lambda: waits(5, 4.0, "constant"), 0.03),
    ("M/D/10 at 90 %: share waiting", "0.64686", src.CROMMELIN, AGAIN,
     lambda: late(10, 9.0, 0.0, "constant"), 0.015),
    ("M/D/10 at 90 %: mean wait in service times", "0.34458", src.CROMMELIN, AGAIN,
     lambda: waits(10, 9.0, "constant"), 0.06),
    ("M/G/1 at 60 %, lognormal of cv 1.5: mean wait in service times", "2.4375",
     src.KHINCHINE, AGAIN, lambda: waits(1, 0.6, "lognormal", 500_000, 1.5), 0.03),
    ("M/G/1 at 70 %, gamma of cv 0.5: mean wait in service times", "1.458333",
     src.KHINCHINE, AGAIN, lambda: waits(1, 0.7, "gamma", 200_000, 0.5), 0.02),
]  # fmt: skip
LOSSES: list[Row] = [
    ("share lost, 5 kits, 3 erlang, exponential", "0.110054", src.RECURSION, AGAIN,
     lambda: lost(5, 3.0, "exponential"), 0.02),
    ("share lost, 5 kits, 3 erlang, constant (the shape does not matter)", "0.110054",
     src.RECURSION, AGAIN, lambda: lost(5, 3.0, "constant"), 0.02),
    ("share lost, 5 kits, 3 erlang, lognormal of cv 1.5", "0.110054", src.RECURSION, AGAIN,
     lambda: lost(5, 3.0, "lognormal", 1.5), 0.02),
    ("share lost, 10 kits, 6 erlang", "0.043142", src.RECURSION, AGAIN,
     lambda: lost(10, 6.0, "exponential"), 0.02),
    ("share lost, 15 kits, 8.108 erlang", "0.01", src.TRAFFIC, COMMON,
     lambda: lost(15, 8.108, "exponential"), 0.05),
]  # fmt: skip
PROMPT: list[Row] = [
    ("steady rate, 8 kits: share waiting 5 min or less", "0.74421", src.RECURSION, AGAIN,
     lambda: prompt(8), 0.01),
    ("steady rate, 9 kits: share waiting 5 min or less", "0.88113", src.RECURSION, AGAIN,
     lambda: prompt(9), 0.01),
    ("steady rate, 10 kits: share waiting 5 min or less", "0.94799", src.RECURSION, AGAIN,
     lambda: prompt(10), 0.01),
    ("steady rate, 11 kits: share waiting 5 min or less", "0.97861", src.RECURSION, AGAIN,
     lambda: prompt(11), 0.01),
    *(
        (f"changing rate, {kits} kits: share waiting 5 min or less (entry log)", value,
         src.FORWARD, AGAIN, lambda kits=kits: sine_days(kits), 0.01)
        for kits, value in ((9, "0.511113"), (10, "0.670068"), (11, "0.800073"),
                            (12, "0.888134"), (13, "0.941042"))
    ),
]  # fmt: skip


def numbered(letter: str, group: str, *parts: tuple[str, list[Row]]) -> list[Check]:
    """Make checks of surge_sim out of what they would not notice and their rows."""
    rows = [(hidden, row) for hidden, part in parts for row in part]
    return [
        Check(f"{letter}{n:02d}", group, quantity, value, source, kind, By.TOOL, compute, hidden,
              sharp=sharp)
        for n, (hidden, (quantity, value, source, kind, compute, sharp)) in enumerate(rows, 1)
    ]  # fmt: skip


CHECKS = numbered(
    "Q", "surge_sim as a line with kits for servers",
    (unnoticed.LINE, WAITS), (unnoticed.LOST, LOSSES), (unnoticed.LINE, PROMPT),
)  # fmt: skip
