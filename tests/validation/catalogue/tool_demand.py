"""surge_sim's patients: rooms, cleared air, epidemics, open series of cases, lengths of stay."""

from __future__ import annotations

from functools import cache

import numpy as np
from lifelines import ExponentialFitter, LogNormalFitter, WeibullFitter

from tests.validation.catalogue import sources as src
from tests.validation.catalogue import unnoticed
from tests.validation.catalogue.theory_rest import CANADA_TABLE, CDC_TABLE
from tests.validation.catalogue.tool_lines import AGAIN, PUBLISHED, Row, numbered
from tests.validation.check import By, Check, Found, Kind, plain
from tests.validation.formulas import epidemics
from tests.validation.formulas.queues import erlang_b
from tests.validation.open_data import medpar, sars_census_expected, typed_in
from tests.validation.scenes import DAY, HOUR, batch_mean, census, mean_of, surges, ward

DATA = Kind.DATA
#: people in the epidemics
PEOPLE = 30_000


def cleared_minutes(air_changes: int, share: str, about: int) -> int:
    """Whole minutes until a room opens again: one room, and a patient at each half minute.

    The first patient leaves after an hour; the first of the others who gets the room tells
    between which half minutes it opened. Those who find it shut are diverted.
    """
    tries = range(max(about - 3, 0), about + 4)
    come = [{"patients": 1, "at": "0 s", "patient_class": "first"}]
    come += [
        {"patients": 1, "at": f"{HOUR + 60 * m + 30} s", "patient_class": "next"} for m in tries
    ]
    scene = ward("2 d", {"clusters": come}, "1 h")
    scene["classes"] = {
        "first": {"share": "50 %", "length_of_isolation": "1 h", "entries": {"nurse": "0 per day"}},
        "next": {"share": "50 %", "length_of_isolation": "40 h", "entries": {"nurse": "0 per day"}},
    }
    scene["rooms"] = {
        "count": "1", "when_full": "divert", "air_changes": f"{air_changes} per h",
        "clearance": share,
    }  # fmt: skip
    [trace] = surges(scene, 1)
    room = trace.patients.room
    assert room[0] == 0
    return tries[int(np.flatnonzero(room[1:] == 0)[0])]


def _air() -> list[Check]:
    rows = [
        (changes, share, value, source, kind)
        for table, shares, source, kind in (
            (CDC_TABLE, ("99 %", "99.9 %"), src.CDC_AIR, Kind.SECOND),
            (CANADA_TABLE, ("90 %", "99 %", "99.9 %"), src.CANADA_AIR, Kind.PUBLISHED),
        )
        for changes, values in table.items()
        for share, value in zip(shares, values, strict=True)
    ]
    return [
        Check(
            f"C{n:02d}", "surge_sim's rooms: minutes shut until the air is cleared",
            f"minutes to clear {share} at {changes} air changes", str(value), source,
            kind, By.TOOL,
            plain(lambda n=changes, s=share, v=value: cleared_minutes(n, s, v)),
            unnoticed.SHUT_ROOM, sharp=0.0,
        )
        for n, (changes, share, value, source, kind) in enumerate(rows, 1)
    ]  # fmt: skip


@cache
def diverted(rooms: int, load: float, shape: str) -> Found:
    """Share of patients turned away; stays have mean 144 min, a tenth of a day."""
    stay: object = {"shape": shape, "mean": "144 min"}
    if shape in ("lognormal", "gamma"):
        stay = {"shape": shape, "mean": "144 min", "cv": "150 %"}
    if shape == "fixed":
        stay = "144 min"
    scene = ward(
        "3000 d", {"baseline": f"{10 * load} per day"}, stay,
        # a clearing of 1 % at 1,000 air changes takes no whole second
        rooms={"count": str(rooms), "when_full": "divert", "air_changes": "1000 per h",
               "clearance": "1 %"},
    )  # fmt: skip
    [trace] = surges(scene, 1)
    return batch_mean(trace.patients.room == -2)


@cache
def admitted_share(reproduction: float, latent: str) -> Found:
    """Admissions of an epidemic in 30,000 people over its whole course, as a share of them."""
    scene = ward(
        "700 d",
        {
            "epidemic": {
                "population": f"{PEOPLE}", "reproduction_number": f"{reproduction}",
                "latent": latent, "infectious": "5 d", "admitted": "100 %", "first_cases": "1",
            }
        },
        "1 h",
    )  # fmt: skip
    people = [len(trace.patients.arrive_s) for trace in surges(scene, 12)]
    # counts are Poisson by the model: their standard error is known, few surges would guess it
    return Found(float(np.mean(people)) / PEOPLE, float(np.mean(people) / 12) ** 0.5 / PEOPLE)


def final_share(reproduction: float) -> float:
    """Share of 30,000 infected beyond one first case: s = (1 - 1/N) exp(-R0 (1 - s))."""
    one = 1 / PEOPLE
    left = 0.2
    for _ in range(2000):
        left = (1 - one) * np.exp(-reproduction * (1 - left))
    return float(1 - one - left)


@cache
def greatest_census(reproduction: float, latent_h: int) -> Found:
    """Census at the moment of the expected peak; stays as long as people are infectious.

    The first cases are ill before the horizon and are not admitted: by then they are gone.
    """
    scene = ward(
        "400 d",
        {
            "epidemic": {
                "population": f"{PEOPLE}", "reproduction_number": f"{reproduction}",
                "latent": f"{latent_h} h", "infectious": "5 d", "admitted": "100 %",
                "first_cases": "10",
            }
        },
        {"shape": "exponential", "mean": "5 d"},
    )  # fmt: skip
    at_s = round(epidemics.seir(reproduction, latent_h / 24, 5, PEOPLE, 10, 400)[2] * DAY)
    there = [int(census(trace.patients, [at_s])[0]) for trace in surges(scene, 12)]
    # an unlimited pool filled by a Poisson stream holds a Poisson number
    return Found(float(np.mean(there)) / PEOPLE, float(np.mean(there) / 12) ** 0.5 / PEOPLE)


def sars_ward(stay: object) -> tuple[dict[str, object], dict[str, str]]:
    """Return a ward that takes every SARS case of Canada in 2003, and its file of counts."""
    scene = ward("110 d", {"daily_counts": {"file": "cases.csv", "exact": "yes"}}, stay,
                 start="2003-02-23 00:00")  # fmt: skip
    return scene, {"cases.csv": typed_in("sars_2003_daily_cases.csv")}


@cache
def sars_census_fixed() -> np.ndarray:
    """Census at the end of each day, every stay 24 d."""
    scene, files = sars_ward("24 d")
    [trace] = surges(scene, 1, files)
    return census(trace.patients, DAY * np.arange(1, 111) - 1)


def sars_census_exponential(day: int) -> Found:
    """Census at the end of a day, exponential stays of mean 23.5 d, mean over 600 surges."""
    scene, files = sars_ward({"shape": "exponential", "mean": "564 h"})
    return mean_of([int(census(one.patients, [DAY * (day + 1) - 1])[0])
                    for one in surges(scene, 600, files)])  # fmt: skip


@cache
def in_bed() -> np.ndarray:
    """Beds taken at the end of each day, one patient-day for each boy in bed."""
    scene = ward("14 d", {"daily_counts": {"file": "school.csv", "exact": "yes"}}, "24 h")
    [trace] = surges(scene, 1, {"school.csv": typed_in("school_influenza_1978.csv")})
    return census(trace.patients, DAY * np.arange(1, 15) - 1)


@cache
def stays_h(kind: str) -> np.ndarray:
    """100,000 lengths of isolation [h], drawn through a scenario."""
    forms: dict[str, tuple[object, dict[str, str]]] = {
        "rule out": ({"shape": "lognormal", "p25": "47.1 h", "p75": "97.5 h"}, {}),
        "ward": ({"shape": "lognormal", "p25": "3 d", "p75": "9 d"}, {}),
        "intensive": ({"shape": "lognormal", "median": "7 d", "p75": "278.7 h"}, {}),
        "weibull": ({"shape": "weibull", "mean": "100 h", "cv": "52.272 %"}, {}),
        "exponential": ({"shape": "exponential", "mean": "564 h"}, {}),
        "medpar": ({"file": "los.csv", "column": "los", "unit": "d"},
                   {"los.csv": medpar().to_csv(index=False)}),
    }  # fmt: skip
    form, files = forms[kind]
    scene = ward("1 d", {"clusters": [{"patients": "100000", "at": "0 s"}]}, form)
    [trace] = surges(scene, 1, files)
    return (trace.patients.leave_s - trace.patients.arrive_s) / HOUR


def over(kind: str, hours: float) -> Found:
    """Share of stays longer than some hours."""
    return mean_of(stays_h(kind) > hours)


def fitted(fitter: type, kind: str, name: str) -> Found:
    """Fit a distribution with lifelines and return a parameter with its standard error."""
    model = fitter().fit(stays_h(kind)[:20_000])
    row = model.summary.loc[name]
    return Found(float(row["coef"]), float(row["se(coef)"]))


LIFELINES = "lifelines, maximum-likelihood fit"
FULL: list[Row] = [
    *(
        (f"share diverted, {rooms} rooms, {load:g} erlang, {shape} stays",
         f"{erlang_b(rooms, load):.6f}", src.RECURSION, AGAIN,
         lambda r=rooms, a=load, s=shape: diverted(r, a, s), 0.03)
        for rooms, load, shape in ((5, 3.0, "exponential"), (5, 3.0, "fixed"),
                                   (10, 6.0, "lognormal"), (10, 6.0, "gamma"))
    ),
]  # fmt: skip
COURSES: list[Row] = [
    *(
        (f"epidemic of R0 {r}, latent {latent}: share infected in the end", f"{final_share(r):.6f}",
         src.ARINO, AGAIN,
         lambda r=r, latent=latent: admitted_share(r, latent), 0.01)
        for r, latent in ((1.5, "48 h"), (2.0, "12 h"), (3.0, "72 h"), (5.0, "48 h"))
    ),
]  # fmt: skip
PEAKS: list[Row] = [
    *(
        (f"epidemic of R0 {r}, latent {hours} h: greatest share infectious",
         f"{epidemics.seir(r, hours / 24, 5, PEOPLE, 10, 400)[1]:.4f}",
         src.SEIR, Kind.OWN,
         lambda r=r, hours=hours: greatest_census(r, hours), 0.01)
        for r, hours in ((2.0, 12), (2.0, 72), (3.0, 72))
    ),
]  # fmt: skip
CASES: list[Row] = [
    ("SARS, Canada 2003, stays of 24 d: greatest census", "114", src.DE_VRIES, DATA,
     lambda: Found(float(sars_census_fixed().max())), 0.0),
    ("SARS: day of the greatest census (8 April is day 45)", "45", src.DE_VRIES, DATA,
     lambda: Found(float(sars_census_fixed().argmax() + 1)), 0.0),
    ("SARS: cases admitted in all", "250", src.DE_VRIES, DATA,
     lambda: Found(float(len(surges(*_one(sars_ward("24 d")))[0].patients.arrive_s))), 0.0),
    ("SARS, exponential stays of 23.5 d: expected census on 29 May",
     f"{sars_census_expected(23.5, 95, True):.3f}", src.DE_VRIES, DATA,
     lambda: sars_census_exponential(95), 0.01),
    ("influenza in a boarding school: greatest number in bed", "298", src.SCHOOL, DATA,
     lambda: Found(float(in_bed().max())), 0.0),
    ("influenza in a boarding school: bed-days", "1559", src.SCHOOL, DATA,
     lambda: Found(float(in_bed().sum())), 0.0),
]  # fmt: skip
LENGTHS: list[Row] = [
    ("stay of rule-out patients: share over 48 h", "0.742", src.LIPPINCOTT, AGAIN,
     lambda: over("rule out", 48), 0.01),
    ("stay of rule-out patients: share over 97.5 h (upper quartile)", "0.25", src.LIPPINCOTT,
     PUBLISHED, lambda: over("rule out", 97.5), 0.02),
    ("stay of rule-out patients: sigma of the log, fitted by lifelines", "0.5394",
     src.LIPPINCOTT, AGAIN, lambda: fitted(LogNormalFitter, "rule out", "sigma_"), 0.02),
    ("stay on the ward: median [h], fitted by lifelines as log", f"{np.log(27**0.5 * 24):.4f}",
     src.REES, AGAIN, lambda: fitted(LogNormalFitter, "ward", "mu_"), 0.02),
    ("stay of Weibull shape 2: shape fitted by lifelines", "2.000", LIFELINES, Kind.SOFTWARE,
     lambda: fitted(WeibullFitter, "weibull", "rho_"), 0.02),
    ("exponential stay of 564 h: mean fitted by lifelines", "564", LIFELINES, Kind.SOFTWARE,
     lambda: fitted(ExponentialFitter, "exponential", "lambda_"), 0.02),
    ("lengths of stay of table medpar: mean [d]", "9.854", src.MEDPAR, DATA,
     lambda: mean_of(stays_h("medpar") / 24), 0.01),
    ("lengths of stay of table medpar: share over 8 d", f"{(medpar()['los'] > 8).mean():.4f}",
     src.MEDPAR, DATA, lambda: over("medpar", 8 * 24), 0.01),
]  # fmt: skip


def _one(
    case: tuple[dict[str, object], dict[str, str]],
) -> tuple[dict[str, object], int, dict[str, str]]:
    return case[0], 1, case[1]


CHECKS = [
    *_air(),
    *numbered(
        "P", "surge_sim's patients",
        (unnoticed.DIVERTED, FULL),
        (unnoticed.EPIDEMIC_IN_ALL, COURSES),
        (unnoticed.EPIDEMIC_PEAK, PEAKS),
        (unnoticed.SERIES, CASES),
        (unnoticed.STAYS, LENGTHS),
    ),
]  # fmt: skip
