"""A few random plays in which both engines must agree, for a look without compiling."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import settings as hypothesis_settings

from tests.engine.random_play import plays
from tests.engine.test_agreement import SHORT, compare

FEW: dict[str, Any] = SHORT | {"max_examples": 20}


@given(plays())
@hypothesis_settings(**FEW)
def test_engines_agree_on_a_few_random_plays(case: Any) -> None:
    compare(*case)
