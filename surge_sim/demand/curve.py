"""How many patients are expected to be admitted, slot by slot.

Baseline, wave, epidemic and daily counts, with the weights of hours and weekdays.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.clock import DailyShape, hour_edges_s, hours_and_weekdays, mean_one
from surge_sim.scenario.patients import Arrivals, Epidemic, Wave
from surge_sim.scenario.timeline import Change, ExtraPatients
from surge_sim.units import DAY_S

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class Curve(NamedTuple):
    """Expected admissions; the rate is even within a slot."""

    #: edges of the slots, from 0 to the horizon [s], shape (slots + 1,)
    edges_s: IntArray
    #: expected admissions [patients] that are drawn as Poisson counts, shape (slots,)
    drawn: FloatArray
    #: expected admissions [patients] out of exact daily counts, shape (slots,)
    exact: FloatArray

    @property
    def expected(self) -> FloatArray:
        """Expected admissions [patients], shape (slots,)."""
        return self.drawn + self.exact


def _wave(wave: Wave, edges_s: IntArray) -> FloatArray:
    """Expected patients of the wave between the edges: its exact integral."""
    scaled = (edges_s - wave.peak) / (wave.width * math.sqrt(2))
    below = np.array([math.erf(x) for x in scaled.tolist()])
    total = wave.extra_at_peak / DAY_S * wave.width * math.sqrt(math.pi / 2)
    return np.asarray(total * np.diff(below))


@lru_cache(maxsize=64)
def epidemic_course(epidemic: Epidemic, horizon_s: int) -> Callable[[FloatArray], FloatArray]:
    """Solve the equations of the epidemic.

    Kermack and McKendrick, Proc R Soc Lond A 1927;115:700-721, with an exposed stage: mixing is
    even, R0 = rate of infecting x infectious time. Without a latent time there is no exposed
    stage. The first cases are infectious at second 0 and are taken from those not immune.

    Parameters
    ----------
    epidemic : Epidemic
        Population, times and shares.
    horizon_s : int
        Length of the horizon [s].

    Returns
    -------
    function
        From times [s] within the horizon, shape (times,), to the susceptible, exposed and
        infectious shares of the population, shape (3, times).
    """
    from scipy.integrate import solve_ivp

    removing = 1 / epidemic.infectious
    infecting = epidemic.reproduction_number * removing
    breaking_out = 1 / epidemic.latent if epidemic.latent else None
    open_share = 1 - epidemic.immune
    first = min(epidemic.first_cases / epidemic.population, open_share)

    def change(_: float, state: FloatArray) -> list[float]:
        susceptible, exposed, infectious = state.tolist()
        infected = infecting * susceptible * infectious
        if breaking_out is None:
            return [-infected, 0.0, infected - removing * infectious]
        ill = breaking_out * exposed
        return [-infected, infected - ill, ill - removing * infectious]

    answer = solve_ivp(
        change,
        (0.0, float(horizon_s)),
        [open_share - first, 0.0, first],
        method="DOP853",
        dense_output=True,
        rtol=1e-8,
        atol=1e-12,
    )
    if not answer.success or answer.sol is None:
        raise ValueError(f"the epidemic's equations have no solution: {answer.message}")
    course: Callable[[FloatArray], FloatArray] = answer.sol
    return course


def epidemic_admissions(epidemic: Epidemic, edges_s: IntArray) -> FloatArray:
    """Return the expected admissions between the edges.

    Of those who become infectious the admitted share is admitted, each after the time from onset
    to admission. The first cases, ill already when the horizon begins, are not admitted.

    Parameters
    ----------
    epidemic : Epidemic
        Population, times and shares.
    edges_s : ndarray of int64, shape (slots + 1,)
        Edges of the slots, from 0 to the horizon [s].

    Returns
    -------
    ndarray of float64, shape (slots,)
        Expected admissions [patients].
    """
    course = epidemic_course(epidemic, int(edges_s[-1]))
    at_s = np.maximum(edges_s - epidemic.onset_to_admission, 0).astype(np.float64)
    susceptible, exposed, _ = course(at_s)
    # who is neither susceptible nor exposed any more has fallen ill
    admitted = -epidemic.admitted * epidemic.population * np.diff(susceptible + exposed)
    return np.asarray(np.maximum(admitted, 0.0))


def whole_counts(arrivals: Arrivals) -> IntArray:
    """Return the patients of each day of exact daily counts, shape (days,).

    Shares of a count are carried over to the next days, so that nobody is lost by rounding.
    """
    daily = arrivals.daily_counts
    if daily is None or not daily.exact:
        return np.zeros(0, dtype=np.int64)
    summed = np.cumsum(np.asarray(daily.counts, dtype=np.float64)) * daily.share
    whole = np.floor(summed + 0.5 - 1e-9).astype(np.int64)
    return np.asarray(np.diff(whole, prepend=0))


@lru_cache(maxsize=256)
def expected_curve(arrivals: Arrivals, start: datetime, horizon_s: int) -> Curve:
    """Work out the expected admissions of the horizon.

    Baseline, wave, epidemic and daily counts add up; hour-of-day and day-of-week weights multiply
    them (both of mean 1, the hour of a slot by the calendar of ``start``). Daily counts are
    of days of 24 hours from second 0; days past the end of the list have no patients. Exact
    counts follow the hour-of-day weights only: they are what they are on each day. Clusters and
    patients present at the start are not in the curve.

    Parameters
    ----------
    arrivals : Arrivals
        The section of the scenario.
    start : datetime
        Calendar time of second 0.
    horizon_s : int
        Length of the horizon [s].

    Returns
    -------
    Curve
        Slots of one clock hour. Arrays are read-only.
    """
    daily, edges_s = arrivals.daily_counts, hour_edges_s(start, horizon_s)
    if daily is not None:
        edges_s = np.unique(np.concatenate((edges_s, np.arange(0, horizon_s, DAY_S))))
    from_s, length_s = edges_s[:-1], np.diff(edges_s)
    steady, exact = arrivals.baseline / DAY_S * length_s, np.zeros(len(from_s))
    if arrivals.wave is not None:
        steady = steady + _wave(arrivals.wave, edges_s)
    if arrivals.epidemic is not None:
        steady = steady + epidemic_admissions(arrivals.epidemic, edges_s)
    if daily is not None and daily.exact:
        busy = DailyShape(arrivals.hours_of_day, start).busy(edges_s)
        exact = _of_day(whole_counts(arrivals), from_s) * np.diff(busy) / DAY_S
    elif daily is not None:
        rate = np.asarray(daily.counts, dtype=np.float64) * daily.share
        steady = steady + _of_day(rate, from_s) * length_s / DAY_S
    hour, weekday = hours_and_weekdays(start, from_s)
    by_hour = np.ones(24) if arrivals.hours_of_day is None else mean_one(arrivals.hours_of_day)
    by_weekday = mean_one(list(arrivals.days_of_week.model_dump().values()))
    drawn = steady * by_hour[hour] * by_weekday[weekday]
    for array in (edges_s, drawn, exact):
        array.setflags(write=False)
    return Curve(edges_s, drawn, exact)


def _of_day(values: NDArray[Any], from_s: IntArray) -> NDArray[Any]:
    """Take the value of the day in which each slot begins; 0 past the end of the list."""
    return np.append(values, 0)[np.minimum(from_s // DAY_S, len(values))]


def extra_patients(curve: Curve, changes: Sequence[Change]) -> tuple[IntArray, FloatArray] | None:
    """Return the expected patients that changes bring beside those of the curve.

    Parameters
    ----------
    curve : Curve
        Expected admissions without changes.
    changes : sequence of Change
        Those with extra patients multiply the arrivals; where two overlap, both do.

    Returns
    -------
    edges_s, expected : ndarray, shapes (slots + 1,) and (slots,)
        Slots of the curve, cut where a change begins or ends [s], and patients in each; None
        if there are none.
    """
    events = [event for event in changes if isinstance(event, ExtraPatients)]
    cuts = [at_s for event in events for at_s in (event.at, event.at + event.lasts)]
    inside = [at_s for at_s in cuts if at_s < curve.edges_s[-1]]
    edges_s = np.unique(np.concatenate((curve.edges_s, np.array(inside, dtype=np.int64))))
    slot = np.searchsorted(curve.edges_s, edges_s[:-1], side="right") - 1
    part = np.diff(edges_s) / np.diff(curve.edges_s)[slot]
    factor = np.ones(len(slot))
    for event in events:
        during = (edges_s[:-1] >= event.at) & (edges_s[:-1] < event.at + event.lasts)
        factor[during] *= event.arrivals
    expected = curve.expected[slot] * part * (factor - 1)
    return (edges_s, expected) if expected.any() else None
