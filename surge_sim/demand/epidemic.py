"""Admissions from an epidemic curve: susceptible, exposed, infectious, removed (SEIR)."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from surge_sim.scenario.patients import Epidemic

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


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
