"""How a time varies: fixed, a named shape given in one of two ways, or the values themselves."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from statistics import NormalDist
from typing import Annotated, Any, Literal, NamedTuple, get_args

from pydantic import BeforeValidator, WithJsonSchema

from surge_sim import units
from surge_sim.errors import echo
from surge_sim.scenario.quantities import Duration, Percent, Section

Shape = Literal["fixed", "lognormal", "gamma", "weibull", "exponential", "empirical"]
_QUANTILE_KEY = re.compile(r"p(\d{1,2}(?:\.\d+)?)")
_WAYS = (
    "Write `12 min`, or `{shape: lognormal, mean: 12 min, cv: 60 %}`, or "
    "`{shape: gamma, median: 10 min, p90: 25 min}`."
)
#: widest spread: a log-standard-deviation beyond this has no use for times at a bedside
_WIDEST_SIGMA = 3.0


class Quantile(Section):
    """``p`` of the times (0..1) are at most ``time_s`` [s]."""

    p: float
    time_s: int


class TimeSpread(Section):
    """A distribution of times [s].

    Written ``12 min`` (fixed), ``{shape: lognormal, mean: 12 min, cv: 60 %}``,
    ``{shape: gamma, median: 10 min, p90: 25 min}`` (any two of ``median``, ``p1``..``p99``),
    ``{shape: exponential, mean: 12 min}``, ``{values: [3 min, 5 min, 9 min]}`` or
    ``{file: stays.csv, column: los, unit: d}`` (read by the loader into ``values``).
    """

    shape: Shape
    mean: Duration | None = None
    cv: Percent | None = None
    quantiles: tuple[Quantile, ...] = ()
    values: tuple[Duration, ...] = ()


class Problem(NamedTuple):
    """One thing wrong inside a spread: the key within it ('' for the whole), and what is right."""

    key: str
    found: str
    right: str


class SpreadError(ValueError):
    """Everything that is wrong with one spread of times."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__("; ".join(problem.found for problem in problems))
        self.problems = problems


def read_time_spread(raw: Any) -> Any:
    """Bring any of the written forms to a :class:`TimeSpread`; gathers every fault first."""
    if isinstance(raw, TimeSpread):
        return raw
    if not isinstance(raw, dict):
        try:
            return TimeSpread.model_construct(shape="fixed", mean=units.parse_duration(raw))
        except units.QuantityError as error:
            right = f"{error.must}\n  {_WAYS}"
            raise SpreadError([Problem("", "", right)]) from None
    return _Reader(raw).read()


class _Reader:
    """Reads one mapping; collects what is wrong with it."""

    def __init__(self, raw: dict[str, Any]) -> None:
        self.raw = raw
        self.problems: list[Problem] = []
        self.quantiles: list[Quantile] = []

    def read(self) -> TimeSpread:
        fields: dict[str, Any] = {}
        for key, value in self.raw.items():
            self._take(key, value, fields)
        if not self.problems:
            self._check_way(fields)
        if self.problems:
            raise SpreadError(self.problems)
        fields["quantiles"] = tuple(sorted(self.quantiles, key=lambda quantile: quantile.p))
        return TimeSpread.model_construct(**fields)

    def _wrong(self, key: str, found: str, right: str) -> None:
        self.problems.append(Problem(key, found, right))

    def _take(self, key: str, value: Any, fields: dict[str, Any]) -> None:
        if value is None or (key == "quantiles" and not value):
            return
        quantile = 50.0 if key == "median" else None
        if match := _QUANTILE_KEY.fullmatch(key):
            quantile = float(match[1])
        try:
            if key == "shape":
                self._take_shape(value, fields)
            elif key == "mean":
                fields["mean"] = units.parse_duration(value)
            elif key == "cv":
                fields["cv"] = units.parse_percent(value)
            elif key == "values":
                if not isinstance(value, list | tuple) or not value:
                    self._wrong(
                        key, "", "Write a list of times, for example `values: [3 min, 5 min]`."
                    )
                else:
                    fields["values"] = tuple(self._one_of(value))
            elif key == "quantiles":
                self.quantiles += [Quantile.model_validate(one) for one in value]
            elif quantile is not None and 0 < quantile < 100:
                seconds = units.parse_duration(value)
                self.quantiles.append(Quantile.model_construct(p=quantile / 100, time_s=seconds))
            else:
                self._wrong(
                    key,
                    "is not known here",
                    f"Known here: shape, mean, cv, median, p1 to p99, values, file.\n  {_WAYS}",
                )
        except units.QuantityError as error:
            self._wrong(key, "", error.right(key))

    def _one_of(self, values: list[Any] | tuple[Any, ...]) -> Iterator[int]:
        for number, one in enumerate(values, start=1):
            try:
                yield units.parse_duration(one)
            except units.QuantityError as error:
                self._wrong("values", f"has '{echo(one)}' as number {number}", error.right())
                return

    def _take_shape(self, value: Any, fields: dict[str, Any]) -> None:
        if value not in get_args(Shape):
            names = ", ".join(get_args(Shape))
            self._wrong("shape", "", f"Known shapes: {names}.\n  {_WAYS}")
        fields["shape"] = value

    def _check_way(self, fields: dict[str, Any]) -> None:
        """One way, and only one, to give the spread."""
        by_mean = "mean" in fields or "cv" in fields
        ways = [by_mean, bool(self.quantiles), "values" in fields]
        if sum(ways) > 1:
            self._wrong(
                "",
                "gives the spread in more than one way",
                "Give either mean and cv, or "
                f"two quantiles, or values, and leave out the rest.\n  {_WAYS}",
            )
            return
        if "values" in fields:
            if fields.setdefault("shape", "empirical") != "empirical":
                self._wrong(
                    "shape", "", "A list of values has the shape `empirical`.\n  Leave `shape` out."
                )
            return
        shape = fields.get("shape")
        if shape is None:
            self._wrong("", "has no `shape`", _WAYS)
        elif shape == "empirical":
            self._wrong(
                "",
                "has no values",
                "Write the values, for example `values: [3 min, 5 min]`, or `file: stays.csv`.",
            )
        elif shape in ("fixed", "exponential"):
            if "mean" not in fields or "cv" in fields:
                self._wrong(
                    "",
                    f"is {shape}, but not by its mean",
                    "Give the mean and nothing else."
                    f"\n  Write for example `{{shape: {shape}, mean: 12 min}}`.",
                )
            elif shape == "exponential":
                self._check_mean(fields)
        elif by_mean:
            self._check_mean_and_cv(fields)
        else:
            self._check_quantiles()

    def _check_mean(self, fields: dict[str, Any]) -> None:
        if fields["mean"] <= 0:
            self._wrong(
                "mean", "", "The mean must be above 0.\n  Write for example `mean: 12 min`."
            )

    def _check_mean_and_cv(self, fields: dict[str, Any]) -> None:
        if "mean" not in fields or "cv" not in fields:
            self._wrong(
                "",
                f"has {'mean' if 'mean' in fields else 'cv'} only",
                "Give the mean "
                f"and the coefficient of variation (cv), or two quantiles.\n  {_WAYS}",
            )
            return
        self._check_mean(fields)
        if not 0 < fields["cv"] <= 10:
            self._wrong(
                "cv",
                "",
                "The coefficient of variation must be above 0 % and 1000 % at "
                "most.\n  Write for example `cv: 60 %`, or a fixed time.",
            )

    def _check_quantiles(self) -> None:
        if len(self.quantiles) != 2:
            count = {0: "gives no numbers", 1: "has one quantile only"}
            found = count.get(len(self.quantiles), "has more than two quantiles")
            self._wrong("", found, f"Give two quantiles, or mean and cv.\n  {_WAYS}")
            return
        low, high = sorted(self.quantiles, key=lambda quantile: quantile.p)
        # only 'higher p, longer time' is a distribution, so a p90 below the median is none
        if not 0 < low.time_s < high.time_s or low.p == high.p:
            short, long = (
                f"{quantile_key(one.p)} of {units.duration_text(one.time_s)}" for one in (low, high)
            )
            self._wrong(
                "",
                f"has a {long}, not above its {short}" if low.time_s else f"has a {short}",
                "Quantiles must be above 0, and the higher one longer than the lower one.\n"
                "  Write for example `median: 10 min, p90: 25 min`.",
            )
            return
        normal = NormalDist()
        steps = normal.inv_cdf(high.p) - normal.inv_cdf(low.p)
        if math.log(high.time_s / low.time_s) / steps > _WIDEST_SIGMA:
            self._wrong(
                "",
                "has quantiles too far apart",
                "No spread of times is that wide; "
                "check both.\n  Write for example `median: 10 min, p90: 25 min`.",
            )


def most_of(spread: TimeSpread) -> float | None:
    """Longest time of a spread [s]; None where there is no longest."""
    if spread.values:
        return max(spread.values)
    return spread.mean if spread.shape == "fixed" else None


def least_of(spread: TimeSpread) -> float:
    """Shortest time of a spread [s]."""
    if spread.values:
        return min(spread.values)
    return (spread.mean or 0.0) if spread.shape == "fixed" else 0.0


def typical(spread: TimeSpread) -> float:
    """Say a spread's mean [s], or its middle quantile where no mean is given."""
    if spread.mean is not None:
        return spread.mean
    if spread.values:
        return sum(spread.values) / len(spread.values)
    return spread.quantiles[0].time_s if spread.quantiles else 0.0


def quantile_key(p: float) -> str:
    """Return the key under which a quantile is written: ``median``, ``p90``."""
    return "median" if p == 0.5 else f"p{units.number_text(round(p * 100, 6))}"


def write_time_spread(spread: TimeSpread) -> Any:
    """Write a spread of times as it stands in a scenario file."""
    if spread.shape == "fixed":
        return units.duration_text(spread.mean or 0)
    if spread.shape == "empirical":
        return {"values": [units.duration_text(value) for value in spread.values]}
    written = {"shape": str(spread.shape)}
    if spread.mean is not None:
        written["mean"] = units.duration_text(spread.mean)
    if spread.cv is not None:
        written["cv"] = units.share_text(spread.cv)
    for quantile in spread.quantiles:
        written[quantile_key(quantile.p)] = units.duration_text(quantile.time_s)
    return written


Times = Annotated[
    TimeSpread, BeforeValidator(read_time_spread), WithJsonSchema({"quantity": "times"})
]
