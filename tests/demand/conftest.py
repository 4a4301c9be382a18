"""Counts the checks of chance, whose number times their rate is part of tests/README.md."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.demand import chance


@pytest.fixture(scope="session", autouse=True)
def no_more_checks_than_stated() -> Iterator[None]:
    """Fail when this folder makes more checks of chance than its false-alarm rate says."""
    yield
    assert chance.made <= chance.MOST_CHECKS
