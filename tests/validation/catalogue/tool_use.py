"""surge_sim's use of kits when there are more than enough: unlimited pools, base stock."""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.stats import poisson

from tests.validation.catalogue import sources as src
from tests.validation.catalogue import unnoticed
from tests.validation.catalogue.tool_lines import AGAIN, OWN, Row, numbered
from tests.validation.check import Check, Found
from tests.validation.formulas.changing import SineUse
from tests.validation.scenes import (
    DAY,
    HOUR,
    IntArray,
    batch_mean,
    generator,
    line,
    mean_of,
    services,
    whole,
)

USE = SineUse(30, 20, 5)
PERIOD_S = 2 * np.pi / 5 * HOUR


def in_use(log: object, at_s: IntArray) -> IntArray:
    """Kits in use at some moments (who takes one off then counts no more)."""
    begun = np.sort(log.in_hand_s)  # type: ignore[attr-defined]
    ended = np.sort(log.end_s)  # type: ignore[attr-defined]
    return np.searchsorted(begun, at_s, "right") - np.searchsorted(ended, at_s, "right")


@cache
def wave_use(shape: str, periods: int = 4000) -> object:
    """Play 30 + 20 sin 5t entries an hour with more kits than are ever needed; service 1 h."""
    rng = generator(77)
    length = periods * PERIOD_S / HOUR
    t = np.sort(rng.uniform(0, length, rng.poisson(50 * length)))
    t = t[rng.uniform(0, 50, len(t)) < 30 + 20 * np.sin(5 * t)]
    due_s = whole(t * HOUR)
    return line(150, due_s, services(77, shape, HOUR, len(due_s))).log


def use_at(shape: str, t: float) -> Found:
    """Mean kits in use at time t of a period."""
    number = np.arange(4000) + 20
    at_s = whole(number[:-40] * PERIOD_S + t * HOUR)
    return batch_mean(in_use(wave_use(shape), at_s), skip=0)


@cache
def steady_use(shape: str, mean: int) -> IntArray:
    """Kits in use at the hours of a long log: `mean` entries an hour of mean 1 h."""
    rng = generator(170 + mean)
    due_s = whole(np.cumsum(rng.exponential(HOUR / mean, 300_000)))
    log = line(4 * mean + 30, due_s, services(170 + mean, shape, HOUR, 300_000, 1.5)).log
    return in_use(log, np.arange(20 * HOUR, int(due_s[-1]), HOUR))


def more_than(shape: str, mean: int, kits: int) -> Found:
    """Share of time with more than some kits in use."""
    return batch_mean(steady_use(shape, mean) > kits, skip=0)


@cache
def filled() -> Found:
    """Kits in use 30 min after an empty start, 12 entries an hour of 30 min, 3,600 starts."""
    rng = generator(31)
    due = []
    for start in range(3600):
        gaps = np.cumsum(rng.exponential(300, 60))
        due.append(start * DAY + whole(gaps[gaps < 1800]))
    due_s = np.concatenate(due)
    log = line(40, due_s, services(31, "exponential", 1800, len(due_s))).log
    return mean_of(in_use(log, np.arange(3600) * DAY + 1800))


ROWS: list[Row] = [
    *(
        (f"unlimited pool, sine rate, exponential use: mean in use at {t} h", value, src.SINE,
         AGAIN, lambda t=t: use_at("exponential", t), 0.01)
        for t, value in ((0, "26.15385"), (0.2, "28.56920"), (0.4, "32.30002"),
                         (0.6, "33.91622"), (1, "28.17136"))
    ),
    *(
        (f"unlimited pool, sine rate, constant use: mean in use at {t} h", value, src.SINE_G,
         AGAIN, lambda t=t: use_at("constant", t), 0.01)
        for t, value in ((0, "27.13465"), (0.2, "25.22422"), (0.4, "27.70462"), (1, "32.86535"))
    ),
    ("30 min after empty, 12 per h of 30 min: mean in use", "3.79272", src.AMPLE, OWN,
     filled, 0.015),
    *(
        (f"{shape} use, mean {mean} in use: share of time with more than {kits}",
         f"{poisson.sf(kits, mean):.5f}", src.POISSON, AGAIN,
         lambda s=shape, m=mean, k=kits: more_than(s, m, k), 0.05)
        for mean, kits in ((5, 8), (10, 14), (20, 28)) for shape in ("constant", "lognormal")
    ),
]  # fmt: skip
CHECKS: list[Check] = numbered(
    "U", "surge_sim with more kits than are needed", (unnoticed.AMPLE, ROWS)
)
