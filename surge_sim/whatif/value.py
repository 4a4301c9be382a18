"""What knowing an input exactly before buying is worth, in money.

Something has to be weighed against the money that a purchase costs, or nothing would be bought:
surges that miss the target. The scenario names no price for one, but a share of surges that must
be on target. So the price of a missed surge is the lowest at which it pays to buy a stock that
reaches that share (`price_of_missing`); anybody may state another. Then the stock to buy is the
one with the least expected cost: its price, and the price of a missed surge times the chance of
one. The price is paid once and a surge may come more than once, so the price of a missed surge
covers all surges that the purchase serves.

Whoever knows the input buys the best stock for its value; whoever does not buys the best for all
of its values. How far the second costs more, on average, is the expected value of partial perfect
information. It is estimated from plain surges by regression: Strong, Oakley and Brennan,
"Estimating multiparameter partial expected value of perfect information from a probabilistic
sensitivity analysis sample: a nonparametric regression approach", Medical Decision Making 34,
2014 (from memory), here with polynomials of the input's rank, of a degree that grows with the
surges. The rule of buying is found on nine tenths of the surges and paid on the other tenth, in
turn, so that noise is not taken for knowledge. Who does not know has the best stock of all these
surges. So what is found is, on average, no more than the true value.
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray

from surge_sim.statistics.intervals import Interval, mean_interval

FloatArray = NDArray[np.float64]

#: parts of the surges, each of which pays in turn
FOLDS = 10
#: surges without which there is nothing to learn a rule from
LEAST = 5 * FOLDS


def price_of_missing(money: FloatArray, missed: FloatArray, share: float) -> float | None:
    """Return the lowest price of a missed surge at which it pays to buy for the target.

    Parameters
    ----------
    money : ndarray of float64, shape (stocks,)
        What each stock costs, rising.
    missed : ndarray of float64, shape (stocks,)
        Share of surges that miss the target with it [0..1].
    share : float
        Share of surges that must be on target [0..1].

    Returns
    -------
    float or None
        0 where the first stock reaches the share; None where no stock does.
    """
    most = 1.0 - share + 1e-9
    if missed[0] <= most:
        return 0.0
    if missed.min() > most:
        return None
    # from stock to stock along the lower hull: the best exchange of money for missed surges
    here, price = 0, 0.0
    while missed[here] > most:
        saved = missed[here] - missed[here + 1 :]
        paid = money[here + 1 :] - money[here]
        rates = np.where(saved > 0, paid / np.where(saved > 0, saved, 1.0), np.inf)
        best = rates.min()
        # of equal ones the farthest
        here += 1 + int(np.flatnonzero(rates <= best * (1 + 1e-12))[-1])
        price = float(best)
    return price


def losses_of(money: FloatArray, needs: NDArray[np.int64], price: float) -> FloatArray:
    """Return what each stock costs in each surge, shape (surges, stocks).

    Parameters
    ----------
    money : ndarray of float64, shape (stocks,)
        What each stock costs.
    needs : ndarray of int64, shape (surges,)
        The first stock that keeps the target; the number of stocks where none does.
    price : float
        Of a missed surge.
    """
    return money + price * (np.arange(len(money)) < needs[:, None])


def value_of_knowing(losses: FloatArray, values: FloatArray, confidence: float = 0.95) -> Interval:
    """Return what knowing an input before the choice saves, on average, with limits.

    Parameters
    ----------
    losses : ndarray of float64, shape (surges, choices)
        What each choice costs in each surge.
    values : ndarray of float64, shape (surges,)
        The input in each surge.
    confidence : float
        Of the limits [0..1].

    Returns
    -------
    Interval
        A low estimate: noise in the rule lowers it, and may bring it below 0.
    """
    surges, without = len(losses), int(np.argmin(losses.mean(axis=0)))
    if surges < LEAST:
        return Interval(None, None, None)
    rank = np.argsort(np.argsort(values, kind="stable"), kind="stable")
    # 4 for 400 surges: more terms follow a step better, and let more noise through
    degree = max(round(surges ** (1 / 3) / 2), 2)
    basis = legendre.legvander((2.0 * rank + 1.0) / surges - 1.0, degree)
    saved = np.empty(surges)
    for fold in range(FOLDS):
        pays = np.arange(surges) % FOLDS == fold
        rule, *_ = np.linalg.lstsq(basis[~pays], losses[~pays], rcond=None)
        knowing = np.argmin(basis[pays] @ rule, axis=1)
        paid = losses[pays]
        saved[pays] = paid[:, without] - paid[np.arange(len(paid)), knowing]
    return mean_interval(saved, confidence)
