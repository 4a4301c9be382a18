"""How far the current falls at the end of a charge; by itself, since a check needs no compiler."""

from __future__ import annotations

import math

#: twice as much is still a number
_MOST = 1e300


def logarithm_of_fall(cc_charge: float, constant_current_time: float) -> float:
    """Return by how much the current falls from the knee to the end of the charge, as a logarithm.

    With f this number, the mean current after the knee is (1 - exp(-f)) / f of the constant one.
    It is what the knee says, too: (1 - cc_charge) / (1 - constant_current_time) over
    cc_charge / constant_current_time.
    """
    ratio = cc_charge / constant_current_time * (1 - constant_current_time) / (1 - cc_charge)
    if ratio <= 1 + 1e-9:
        return 0.0
    # where the current is constant for no time to speak of, it falls far, but not without end
    ratio = min(ratio, _MOST)
    # f = ratio x (1 - exp(-f)); the upper bound is the ratio, where the exponential counts nothing
    low, high = 0.0, ratio
    while True:
        middle = (low + high) / 2
        if middle in (low, high):
            return high
        low, high = (middle, high) if middle < -ratio * math.expm1(-middle) else (low, middle)
