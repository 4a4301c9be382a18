"""Epidemics: final size, peak, overshoot, small outbreaks, and the curve by integration."""

from __future__ import annotations

from functools import cache
from math import exp, log

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, minimize_scalar


def final_share(reproduction: float) -> float:
    """Share of a susceptible population that is infected in the end: z = 1 - exp(-R0 z)."""
    return float(brentq(lambda z: z - 1 + exp(-reproduction * z), 1e-9, 1 - 1e-15))


def peak_share(reproduction: float) -> float:
    """Greatest share infectious at once in the SIR model: 1 - (1 + ln R0) / R0."""
    return 1 - (1 + log(reproduction)) / reproduction


def overshoot(reproduction: float) -> float:
    """Share infected beyond the herd-immunity threshold 1 - 1 / R0."""
    return final_share(reproduction) - (1 - 1 / reproduction)


def greatest_overshoot() -> tuple[float, float]:
    """Largest overshoot over all R0, and the R0 where it is."""
    found = minimize_scalar(lambda r: -overshoot(r), bounds=(1.2, 5), method="bounded",
                            options={"xatol": 1e-9})  # fmt: skip
    return float(-found.fun), float(found.x)


def outbreak_sizes(people: int, contact: float, recovery: float) -> list[float]:
    """P(1), ... P(people) infected in all, from one case, by the jump chain of the SIR model."""

    @cache
    def ends_at(susceptible: int, infected: int, size: int) -> float:
        if infected == 0:
            return 1.0 if people - susceptible == size else 0.0
        infect = contact * susceptible * infected
        recover = recovery * infected
        chance = infect / (infect + recover)
        on = chance * ends_at(susceptible - 1, infected + 1, size) if susceptible else 0.0
        return on + (1 - chance) * ends_at(susceptible, infected - 1, size)

    return [ends_at(people - 1, 1, size) for size in range(1, people + 1)]


def seir(
    reproduction: float,
    latent: float,
    infectious: float,
    people: float,
    first: float,
    length: float,
) -> tuple[float, float, float]:
    """Susceptible-exposed-infectious-removed curve by integration; `first` infectious at 0.

    Returns
    -------
    tuple of float
        Share infected in the end (without the first cases), greatest share infectious at once,
        and the time when that is.
    """

    def change(_: float, y: np.ndarray) -> list[float]:
        s, e, i = y
        new = reproduction / infectious * s * i / people
        return [-new, new - e / latent, e / latent - i / infectious]

    done = solve_ivp(change, (0, length), [people - first, 0.0, first], rtol=1e-10, atol=1e-9,
                     max_step=length / 4000)  # fmt: skip
    ill = done.y[2]
    return (
        float((people - first - done.y[0, -1]) / people),
        float(ill.max() / people),
        float(done.t[ill.argmax()]),
    )
