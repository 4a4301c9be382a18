"""A scenario file read as its words say, into plain numbers: seconds, shares, counts per second."""

from __future__ import annotations

import math
import re
from datetime import datetime
from typing import Any

import numpy as np
import yaml
from scipy import integrate, optimize, stats

UNITS = {"s": 1, "min": 60, "h": 3_600, "d": 86_400, "weeks": 604_800}
DAY_S, HOUR_S = 86_400, 3_600
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def seconds(words: Any) -> float:
    """`1 h 30 min` -> 5400."""
    pairs = re.findall(r"([\d.]+)\s*([a-z]+)", str(words))
    return sum(float(number) * UNITS[unit] for number, unit in pairs)


def share(words: Any) -> float:
    """`30 %` -> 0.3."""
    return float(str(words).removesuffix("%")) / 100


def per_second(words: Any) -> float:
    """`4 per day` -> 4 / 86400."""
    number, unit = re.fullmatch(r"([\d.]+) per (day|h)", str(words)).groups()  # type: ignore[union-attr]
    return float(number) / {"day": DAY_S, "h": HOUR_S}[unit]


def clock_s(words: Any) -> int:
    """`07:30` -> 27000; YAML reads some such times as numbers of base 60."""
    if isinstance(words, int):
        return words * 60
    hours, minutes = str(words).split(":")
    return int(hours) * HOUR_S + int(minutes) * 60


def read(text: str) -> dict[str, Any]:
    """Return the file as it is written."""
    file: dict[str, Any] = yaml.safe_load(text)
    return file


def start_of(file: dict[str, Any]) -> datetime:
    """Return the first moment of the surge."""
    return datetime.fromisoformat(str(file["start"]).replace(" ", "T"))


def shape_of(weights: list[float] | None, count: int) -> np.ndarray:
    """Relative weights, scaled to a mean of 1; missing: even."""
    values = np.ones(count) if weights is None else np.array(weights, dtype=float)
    return values * count / values.sum()


def times(words: Any) -> Any:
    """Return the distribution that a time names: something with a ``cdf`` of seconds."""
    if isinstance(words, str):
        return Values([seconds(words)])
    if "values" in words:
        return Values([seconds(one) for one in words["values"]])
    shape = words["shape"]
    mean, cv = seconds(words.get("mean", "0 s")), share(words.get("cv", "0 %"))
    if shape == "fixed":
        return Values([mean])
    if shape == "exponential":
        return stats.expon(scale=mean)
    points = sorted(
        (0.5 if key == "median" else float(key[1:]) / 100, seconds(value))
        for key, value in words.items()
        if re.fullmatch(r"median|p[\d.]+", key)
    )
    if shape == "lognormal" and points:
        (low, low_s), (high, high_s) = points
        sigma = math.log(high_s / low_s) / (stats.norm.ppf(high) - stats.norm.ppf(low))
        return stats.lognorm(sigma, scale=low_s * math.exp(-sigma * stats.norm.ppf(low)))
    if points:
        raise NotImplementedError(f"two quantiles of {shape}")
    if shape == "lognormal":
        sigma = math.sqrt(math.log(1 + cv * cv))
        return stats.lognorm(sigma, scale=mean * math.exp(-sigma * sigma / 2))
    if shape == "gamma":
        return stats.gamma(1 / cv**2, scale=mean * cv**2)
    if shape == "weibull":
        k = optimize.brentq(lambda k: stats.weibull_min.std(k) / stats.weibull_min.mean(k) - cv,
                            0.3, 30)  # fmt: skip
        return stats.weibull_min(k, scale=mean / stats.weibull_min.mean(k))
    raise NotImplementedError(shape)


class Values:
    """Times that were measured: each as likely as any other."""

    def __init__(self, values: list[float]) -> None:
        self.values = np.sort(np.array(values))

    def cdf(self, at: Any) -> np.ndarray:
        """Share of the values that are no longer."""
        return np.searchsorted(self.values, np.asarray(at), side="right") / len(self.values)

    def ppf(self, at: float) -> float:
        """Return the longest, for shares near 1."""
        assert at > 0.999
        return float(self.values[-1])


class Residual:
    """What is left of a stay of somebody who is found present in a steady unit.

    By the integral of the share of stays that go on: numerical, on a fine grid.
    """

    def __init__(self, stay: Any) -> None:
        self.grid_s = np.linspace(0.0, stay.ppf(1 - 1e-8), 400_001)
        going_on = 1 - stay.cdf(self.grid_s)
        self.area_s = integrate.cumulative_trapezoid(going_on, self.grid_s, initial=0.0)
        #: mean of the whole stay
        self.mean_s = float(self.area_s[-1])

    def cdf(self, at: Any) -> np.ndarray:
        """Share that leaves within so long."""
        return np.interp(at, self.grid_s, self.area_s / self.mean_s)
