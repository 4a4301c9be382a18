"""Counts that are given in Python: what cannot be used is said in a sentence."""

from __future__ import annotations

import numpy as np
import pytest

from surge_sim import Stock, compare, load_scenario, run
from tests.conftest import ROOT

SCENARIO = load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")


@pytest.mark.parametrize(
    ("call", "error", "said"),
    [
        (lambda: run(SCENARIO, surges="x"), TypeError, "surges is 'x': it must be a whole number"),
        (lambda: run(SCENARIO, surges=2.5), TypeError, "surges is 2.5: it must be a whole number"),
        (lambda: run(SCENARIO, surges=0), ValueError, "surges is 0: it must be 1 or more."),
        (lambda: run(SCENARIO, seed=-1), ValueError, "seed is -1: it must be 0 or more."),
        (lambda: compare(SCENARIO, {}, surges="x"), TypeError, "surges is 'x': it must be"),
        (lambda: Stock(-1, 2, 3), ValueError, "kits is -1: it must be 0 or more."),
        (lambda: Stock(1, 9.5, 3), TypeError, "batteries is 9.5: it must be a whole number"),
        (lambda: Stock(1, 2, None), TypeError, "bays is None: it must be a whole number"),
        (lambda: Stock(1, 2, 3, extra_hoods=-2), ValueError, "extra_hoods is -2: it must be"),
    ],
)
def test_what_is_no_count_is_said_by_its_name(call, error, said) -> None:
    with pytest.raises(error) as caught:
        call()
    assert str(caught.value).startswith(said)


def test_a_count_of_numpy_is_a_count() -> None:
    assert Stock(np.int64(3), 4, 2) == Stock(3, 4, 2)
