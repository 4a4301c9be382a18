"""surge_sim's answers, ``run`` and ``size``, where theory has them, and its intervals."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

import surge_sim
from surge_sim.statistics import intervals
from tests.validation.catalogue import sources as src
from tests.validation.catalogue import unnoticed
from tests.validation.catalogue.tool_lines import AGAIN, FROM_MEMORY, Row, numbered
from tests.validation.check import Check, Found, Kind
from tests.validation.formulas.changing import Pooled, changing_line, hourly_means
from tests.validation.open_data import medpar, sars, typed_in
from tests.validation.scenes import DAY, loaded, plain_pool

HOURS = tuple(float(hour) for hour in range(1, 24))


def pool_ward(kits: int, horizon: str, per_hour: float, visit: str, **changes: Any) -> Any:
    """Return a scenario of one patient who is visited all the time: a line made from a ward."""
    scene = plain_pool(
        kits, DAY,
        arrivals={"initial_census": "1", "initial_stay": "full"},
        classes={"all": {"share": "100 %", "length_of_isolation": "3000 d",
                         "entries": {"nurse": f"{24 * per_hour} per day"}}},
        roles={"nurse": {"room_time": {"shape": "exponential", "mean": visit}}},
        stock={"kits": kits, "batteries": 60, "bays": 60},
    )  # fmt: skip
    scene["horizon"] = horizon
    for section, value in changes.items():
        scene[section] = {**scene.get(section, {}), **value}
    return scene


def error_of(interval: Any, surges: int) -> float:
    """Standard error behind a two-sided 95 % interval of a mean over surges."""
    half = max(interval.high - interval.estimate, interval.estimate - interval.low)
    return float(half / stats.t.ppf(0.975, surges - 1))


@cache
def exact_day(kits: int) -> Pooled:
    """Hourly rates of the sine day, 30 min of service, from empty."""
    rates = hourly_means()
    return changing_line(lambda t: rates[min(int(t), 23)], 2.0, kits, 24.0, 5 / 60, breaks=HOURS)


@cache
def simulated_day(kits: int, surges: int = 600) -> Any:
    """Run the same day as an ordinary scenario: weights by hour of the day."""
    scene = pool_ward(kits, "1 d", 12.0, "30 min")
    scene["roles"]["nurse"]["hours_of_day"] = [f"{rate:.6f}" for rate in hourly_means()]
    return surge_sim.run(loaded(scene), surges=surges)


def in_time(kits: int) -> Found:
    """Share of entries within 5 min, with the error behind the printed interval."""
    share = simulated_day(kits).service_level
    return Found(share.estimate, error_of(share, 600), 599)


def mean_wait(kits: int) -> Found:
    """Mean wait [min]; of more surges, as its interval is wide for being skewed."""
    mean = simulated_day(kits, 900).wait_minutes["mean"]
    return Found(mean.estimate, error_of(mean, 900), 899)


@cache
def kits_needed(per_hour: float, visit: str, wait: str, share: str, horizon: str) -> Found:
    """Kits that ``size`` recommends for 7 surges of 10.

    The horizon is so long that one kit less keeps the target in about half of the surges or
    fewer, and the right number in at least 97 of 100: a wrong answer has a chance below 1e-5.
    """
    scene = pool_ward(
        3, horizon, per_hour, visit,
        target={"wait": wait, "service_level": share, "share_of_surges": "70 %"},
    )  # fmt: skip
    found = surge_sim.size(loaded(scene), vary=("kits",), choose=20, surges=60)
    return Found(float(found.recommended.kits))


def visited(horizon: str, arrivals: dict[str, Any], stay: Any) -> dict[str, Any]:
    """Return a ward whose patients are visited ten times a day by an ample number of kits."""
    scene = pool_ward(60, horizon, 1.0, "5 min")
    scene["arrivals"] = arrivals
    scene["classes"]["all"] |= {"length_of_isolation": stay, "entries": {"nurse": "10 per day"}}
    return scene


def entries(scene: dict[str, Any], files: dict[str, str], surges: int) -> Found:
    """Mean entries per surge through the whole chain."""
    result = surge_sim.run(loaded(scene, files), surges=surges)
    mean = result.per_surge("entries")
    return Found(mean.estimate, error_of(mean, surges), surges - 1)


@cache
def medpar_entries() -> Found:
    """2 patients a day for 60 d, stays of table medpar, 10 visits a day."""
    scene = visited(
        "60 d", {"baseline": "2 per day"}, {"file": "los.csv", "column": "los", "unit": "d"}
    )
    return entries(scene, {"los.csv": medpar().to_csv(index=False)}, 60)


def medpar_expected() -> float:
    """Patients come evenly, so one of stay S leaves S - S^2 / (2 H) days inside (S < H)."""
    stay = medpar()["los"].to_numpy(float)
    inside = np.where(stay < 60, stay - stay**2 / 120, 30.0)
    return float(2 * 60 * inside.mean() * 10)


@cache
def sars_entries() -> Found:
    """Every SARS case of Canada 2003, stays of 24 d, 10 visits a day."""
    scene = visited("110 d", {"daily_counts": {"file": "cases.csv", "exact": "yes"}}, "24 d")
    scene["start"] = "2003-02-23 00:00"
    return entries(scene, {"cases.csv": typed_in("sars_2003_daily_cases.csv")}, 12)


def sars_expected() -> float:
    """Bed-days inside the horizon (cases come evenly over their day), times 10."""
    days_left = 110 - np.arange(110) - 0.5
    return float(10 * (sars()["patients"].to_numpy() @ np.minimum(24.0, days_left)))


STATSMODELS = "statsmodels, {} "
RUNS: list[Row] = [
    *(
        (f"changing rate, {kits} kits: share in 5 min, `run` of an ordinary scenario",
         f"{exact_day(kits).in_time:.5f}", src.FORWARD, AGAIN, lambda k=kits: in_time(k), 0.02)
        for kits in (9, 11, 13)
    ),
    *(
        (f"changing rate, {kits} kits: mean wait [min], `run` of an ordinary scenario",
         f"{60 * exact_day(kits).mean_wait:.4f}", src.FORWARD, AGAIN,
         lambda k=kits: mean_wait(k), 0.08)
        for kits in (9, 11, 13)
    ),
]  # fmt: skip
SIZINGS: list[Row] = [
    ("kits for 90 % not delayed, 30 per h of 5 min, by `size`", "6", src.RECURSION, AGAIN,
     lambda: kits_needed(30.0, "5 min", "0 min", "90 %", "1 d"), 0.0),
    ("kits for 95 % within 5 min, 12 per h of 30 min, by `size` (10 just miss)", "11",
     src.RECURSION, AGAIN, lambda: kits_needed(12.0, "30 min", "5 min", "95 %", "5 d"), 0.0),
]  # fmt: skip
ENTRIES: list[Row] = [
    ("table medpar through the whole chain: entries per surge", f"{medpar_expected():.1f}",
     src.MEDPAR, Kind.DATA, medpar_entries, 0.02),
    ("SARS series through the whole chain: entries per surge", f"{sars_expected():.0f}",
     src.DE_VRIES, Kind.DATA, sars_entries, 0.01),
]  # fmt: skip
FORMULAS: list[Row] = [
    ("0 of 100: upper limit, 95 %", "0.03", src.HANLEY, FROM_MEMORY,
     lambda: Found(intervals.upper_limit(0, 100, 0.05)), 0.0),
    *(
        (f"{k} of {n}: lower limit, one-sided 95 %",
         f"{proportion_confint(k, n, 0.1, 'beta')[0]:.6f}",
         "statsmodels, exact interval of a proportion", Kind.SOFTWARE,
         lambda k=k, n=n: Found(intervals.lower_limit(k, n, 0.05)), 0.0)
        for k, n in ((190, 200), (465, 500), (29, 29))
    ),
    ("190 of 200: lower limit, one-sided 95 %, printed", "0.9167", src.CLOPPER, AGAIN,
     lambda: Found(intervals.lower_limit(190, 200, 0.05)), 0.0),
]  # fmt: skip
TARGET: list[Row] = [
    ("limits of surges on target in `run` and in scipy: greatest difference", "0.0000",
     "scipy.stats, exact binomial interval", Kind.SOFTWARE, lambda: limits_apart(), 0.0),
]  # fmt: skip
IN_TIME: list[Row] = [
    ("interval of the service level in `run` and by jackknife: ratio of the errors", "1.0",
     src.IGLEHART, Kind.RECOMPUTED, lambda: jackknife_ratio(), 0.0),
]  # fmt: skip


def limits_apart() -> Found:
    """Printed limits against scipy's, for three stocks."""
    apart = []
    for kits in (9, 11, 13):
        result = simulated_day(kits)
        share = result.share_on_target
        exact = stats.binomtest(result.passes, 600).proportion_ci(0.95, "exact")
        apart += [abs(share.low - exact.low), abs(share.high - exact.high)]
    return Found(round(max(apart), 9))


def jackknife_ratio() -> Found:
    """Standard error behind the printed interval over the jackknife's, leaving out one surge."""
    result = simulated_day(11)
    table = result.surges
    part = (table["service_level"] * table["entries"]).to_numpy()
    whole = table["entries"].to_numpy(float)
    left_out = (part.sum() - part) / (whole.sum() - whole)
    error = np.sqrt((len(part) - 1) / len(part) * ((left_out - left_out.mean()) ** 2).sum())
    return Found(round(error_of(result.service_level, 600) / float(error), 2))


CHECKS: list[Check] = numbered(
    "Y", "surge_sim's answers and intervals",
    (unnoticed.DAY_OF_RUN, RUNS),
    (unnoticed.SIZED, SIZINGS),
    (unnoticed.ENTRIES_IN_ALL, ENTRIES),
    (unnoticed.LIMITS, FORMULAS),
    (unnoticed.LIMITS_OF_RUN, TARGET),
    (unnoticed.ERROR_OF_RUN, IN_TIME),
)  # fmt: skip
