"""Which wearers need a large hood.

A named wearer needs one size for a whole shift. Of entries without a named wearer each is another
person's.
"""

from __future__ import annotations

import numpy as np

from surge_sim.demand.plan import Plan
from surge_sim.demand.table import BoolArray, IntArray
from surge_sim.randomness import Purpose, Streams

#: blocks of the stream: entries without a named wearer, wearers of a log, and from _SHIFTS on those
#: of each role and shift, told apart by the second at which the shift ends
_ENTRIES, _LOG, _SHIFTS, _SECONDS = 0, 1, 2, 2**40


def large_hoods(
    plan: Plan, streams: Streams, wearer: IntArray, shift_end_s: IntArray, wearers: IntArray | None
) -> BoolArray:
    """Draw whether the wearer of each entry needs a large hood, shape (entries,).

    Parameters
    ----------
    plan : Plan
        `kit.large_hood_share` is that of its settings; 0 and 1 draw nothing.
    streams : Streams
        Of the surge.
    wearer : ndarray of int64, shape (entries,)
        Number of the named wearer of each entry, or -1.
    shift_end_s : ndarray of int64, shape (wearers,)
        End of each wearer's shift [s].
    wearers : ndarray of int64, shape (wearers, 2), optional
        Role and group of patients of each; None in a log.

    Returns
    -------
    ndarray of bool, shape (entries,)
        What comes later moves no draw.
    """
    share = plan.settings.kit.large_hood_share
    if not 0 < share < 1:
        return np.full(len(wearer), share >= 1)
    large = streams.stream(Purpose.HOOD_SIZES, _ENTRIES).random(len(wearer)) < share
    named = wearer >= 0
    large[named] = (_of_wearers(streams, shift_end_s, wearers) < share)[wearer[named]]
    return large


def _of_wearers(streams: Streams, shift_end_s: IntArray, wearers: IntArray | None) -> np.ndarray:
    """Draw a number from 0 to 1 for each named wearer."""
    if wearers is None:
        return streams.stream(Purpose.HOOD_SIZES, _LOG).random(len(shift_end_s))
    drawn = np.zeros(len(shift_end_s))
    role, group = wearers.T
    # groups of rooms and, below 0, of boarded patients: either may have more without moving another
    place = np.where(group >= 0, 2 * group, -1 - 2 * group)
    block = (_SHIFTS + role) * _SECONDS + np.minimum(shift_end_s, _SECONDS - 1)
    for one in np.unique(block):
        those = np.flatnonzero(block == one)
        numbers = streams.stream(Purpose.HOOD_SIZES, int(one)).random(int(place[those].max()) + 1)
        drawn[those] = numbers[place[those]]
    return drawn
