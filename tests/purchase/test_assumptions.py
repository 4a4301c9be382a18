"""How well each input of a case is known."""

from __future__ import annotations

import pytest

from surge_sim.purchase.assumptions import INVENTED, NOT_SAID, PARTLY, SOURCED, Assumption


@pytest.mark.parametrize(
    ("source", "standing"),
    [
        ("a choice", NOT_SAID),
        ("the question that this file asks; 5 min, 95 % and 90 % are a choice", NOT_SAID),
        ("a handbook, 1990 (from memory)", NOT_SAID),
        ("common practice, no source", NOT_SAID),
        ("common practice, no source; the rest invented", PARTLY),
        ("no source is given", NOT_SAID),
        ("invented", INVENTED),
        ("length: a registry, 2014; the rest invented", PARTLY),
        ("CDC/HICPAC, 2003, Table B.1; which of them is a choice", SOURCED),
    ],
)
def test_a_choice_and_practice_without_a_source_do_not_count_as_sourced(source, standing):
    assert Assumption("target.wait", "5 min", True, source).standing == standing
