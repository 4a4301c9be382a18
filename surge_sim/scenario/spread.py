"""How a time varies: fixed, a named shape given in one of two ways, or the values themselves."""

from __future__ import annotations

import math
import re
from statistics import NormalDist
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    PlainSerializer,
    TypeAdapter,
    WithJsonSchema,
    model_validator,
)

from surge_sim import units
from surge_sim.scenario.quantities import Duration, FieldError, Percent

Shape = Literal["fixed", "lognormal", "gamma", "weibull", "exponential", "empirical"]
#: shapes that two quantiles can give
BY_QUANTILES: tuple[Shape, ...] = ("lognormal", "gamma", "weibull")
_QUANTILE_KEY = re.compile(r"p(\d{1,2}(?:\.\d+)?)")
_WAYS = (
    "Write `12 min`, or `{shape: lognormal, mean: 12 min, cv: 60 %}`, or "
    "`{shape: gamma, median: 10 min, p90: 25 min}`."
)
_EXAMPLE = "Write for example `median: 10 min, p90: 25 min`."
#: widest spread: a log-standard-deviation beyond this has no use for times at a bedside
_WIDEST_SIGMA = 3.0
#: a smaller one changes no time by a second, and much below it no shape can be fitted
_LEAST_CV = 1e-6


class Quantile(NamedTuple):
    """``p`` of the times (0..1) are at most ``time_s`` [s]."""

    p: float
    time_s: int


def _share_named(key: str) -> float:
    """Read ``median`` as 0.5 and ``p90`` as 0.9; 0 for another key."""
    named = _QUANTILE_KEY.fullmatch(key)
    return 0.5 if key == "median" else float(named[1]) / 100 if named else 0.0


def _share_of_key(key: str) -> float:
    share = _share_named(key)
    if not 0 < share < 1:
        right = f"Known here: shape, mean, cv, median, p1 to p99, values, file.\n  {_WAYS}"
        raise FieldError("is not known here", right)
    return share


def quantile_key(p: float) -> str:
    """Return the key under which a quantile is written: ``median``, ``p90``."""
    return "median" if p == 0.5 else f"p{units.number_text(round(p * 100, 6))}"


_BY_SHARE = TypeAdapter(dict[Annotated[float, BeforeValidator(_share_of_key)], Duration])


def _quantiles(raw: Any) -> Any:
    """Read times by their keys; the shares come out in rising order."""
    if not isinstance(raw, dict):
        return raw
    return tuple(Quantile(*one) for one in sorted(_BY_SHARE.validate_python(raw).items()))


class TimeSpread(BaseModel):
    """A distribution of times [s].

    Written ``12 min`` (fixed), ``{shape: lognormal, mean: 12 min, cv: 60 %}``,
    ``{shape: gamma, median: 10 min, p90: 25 min}`` (any two of ``median``, ``p1``..``p99``),
    ``{shape: exponential, mean: 12 min}``, ``{values: [3 min, 5 min, 9 min]}`` or
    ``{file: stays.csv, column: los, unit: d}`` (read by the loader into ``values``).
    """

    model_config = ConfigDict(frozen=True, allow_inf_nan=False, defer_build=True)

    shape: Shape
    mean: Duration | None = None
    cv: Percent | None = None
    quantiles: Annotated[tuple[Quantile, ...], BeforeValidator(_quantiles)] = ()
    values: tuple[Duration, ...] = ()

    @model_validator(mode="before")
    @classmethod
    def _as_fields(cls, raw: Any) -> Any:
        """Bring what is written to fields: a single time is fixed, other keys are quantiles."""
        if not isinstance(raw, dict):
            try:
                return {"shape": "fixed", "mean": units.parse_duration(raw)}
            except units.QuantityError as error:
                raise FieldError("", f"{error.must}\n  {_WAYS}") from None
        there = {key: value for key, value in raw.items() if value is not None}
        if isinstance(there.get("quantiles"), tuple):
            return raw
        fields = {key: there.pop(key) for key in ("shape", "mean", "cv", "values") if key in there}
        if "shape" not in fields:
            if "values" not in fields:
                raise FieldError("has no `shape`", _WAYS)
            fields["shape"] = "empirical"
        shares = [share for key in there if (share := _share_named(key))]
        if len(set(shares)) < len(shares):
            right = "Keep one of them: `median` is `p50`, and `p05` is `p5`."
            raise FieldError("gives one quantile under two names", right)
        return {**fields, "quantiles": there} if there else fields

    @model_validator(mode="after")
    def _one_way(self) -> TimeSpread:
        """One way, and only one, to give the spread, and numbers that a distribution can have."""
        given = self.model_fields_set
        by_mean, by_values = given & {"mean", "cv"}, "values" in given
        if bool(by_mean) + bool(self.quantiles) + by_values > 1:
            right = "Give either mean and cv, or two quantiles, or values, and leave out the rest."
            raise FieldError("gives the spread in more than one way", f"{right}\n  {_WAYS}")
        if by_values and self.shape != "empirical":
            right = "A list of values has the shape `empirical`.\n  Leave `shape` out."
            raise FieldError("", right, "shape")
        if self.shape == "empirical":
            if not self.values:
                right = "Write them: `values: [3 min, 5 min]`, or `file: stays.csv`."
                raise FieldError("has no values", right)
        elif self.shape in ("fixed", "exponential"):
            if by_mean != {"mean"}:
                right = (
                    "Give the mean and nothing else."
                    f"\n  Write for example `{{shape: {self.shape}, mean: 12 min}}`."
                )
                raise FieldError(f"is {self.shape}, but not by its mean", right)
            if self.shape == "exponential":
                self._check_mean()
        elif by_mean:
            self._check_mean_and_cv()
        else:
            self._check_quantiles()
        return self

    def _check_mean(self) -> None:
        if self.mean is not None and self.mean <= 0:
            right = "The mean must be above 0.\n  Write for example `mean: 12 min`."
            raise FieldError("", right, "mean")

    def _check_mean_and_cv(self) -> None:
        if self.mean is None or self.cv is None:
            right = "Give the mean and the coefficient of variation (cv), or two quantiles."
            only = "cv" if self.mean is None else "mean"
            raise FieldError(f"has {only} only", f"{right}\n  {_WAYS}")
        self._check_mean()
        if not _LEAST_CV <= self.cv <= 10:
            right = (
                "The coefficient of variation must be from 0.0001 % to 1000 %.\n"
                "  Write for example `cv: 60 %`, or a fixed time."
            )
            raise FieldError("", right, "cv")

    def _check_quantiles(self) -> None:
        if len(self.quantiles) != 2:
            count = {0: "gives no numbers", 1: "has one quantile only"}
            found = count.get(len(self.quantiles), "has more than two quantiles")
            raise FieldError(found, f"Give two quantiles, or mean and cv.\n  {_WAYS}")
        low, high = sorted(self.quantiles)
        # only 'higher p, longer time' is a distribution, so a p90 below the median is none
        if not 0 < low.time_s < high.time_s or low.p == high.p:
            short, long = (
                f"{quantile_key(one.p)} of {units.duration_text(one.time_s)}" for one in (low, high)
            )
            raise FieldError(
                f"has a {long}, not above its {short}" if low.time_s else f"has a {short}",
                "Quantiles must be above 0, and the higher one longer than the lower one.\n"
                f"  {_EXAMPLE}",
            )
        if _lognormal(self)[1] > _WIDEST_SIGMA:
            right = f"No spread of times is that wide; check both.\n  {_EXAMPLE}"
            raise FieldError("has quantiles too far apart", right)


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
    """Say a spread's mean [s]; of one given by quantiles the median of the lognormal reading."""
    if spread.quantiles:
        return math.exp(_lognormal(spread)[0])
    if spread.values:
        return sum(spread.values) / len(spread.values)
    return spread.mean or 0.0


def mean_at_most(spread: TimeSpread) -> float:
    """Return the mean of a spread [s]; of one given by quantiles the long-tailed reading."""
    if not spread.quantiles:
        return typical(spread)
    log_median, sigma = _lognormal(spread)
    return math.exp(log_median + sigma**2 / 2)


def _lognormal(spread: TimeSpread) -> tuple[float, float]:
    """Mean and standard deviation of the logarithm, if a spread by quantiles is lognormal."""
    low, high = spread.quantiles
    at_low, at_high = (NormalDist().inv_cdf(one.p) for one in (low, high))
    sigma = math.log(high.time_s / low.time_s) / (at_high - at_low)
    return math.log(low.time_s) - at_low * sigma, sigma


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
    TimeSpread, PlainSerializer(write_time_spread), WithJsonSchema({"quantity": "times"})
]
