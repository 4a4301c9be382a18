"""Tests that a fault keeps from ending have failed, whether they wait or work for ever."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.mutation.forks import PASSED, SOME_FAILED, run_tests


@pytest.mark.slow
@pytest.mark.parametrize(
    ("body", "code", "said"),
    [("pass", PASSED, "1 passed"), ("assert False", SOME_FAILED, "FAILED test_it.py::test_it"),
     ("while True: pass", SOME_FAILED, "FAILED tests/ended_by_signal"),
     ("__import__('os').abort()", SOME_FAILED, "FAILED tests/ended_by_signal")],
    ids=["good", "wrong", "for ever", "crash"],
)  # fmt: skip
def test_how_tests_in_a_copy_end_is_told(tmp_path: Path, body: str, code: int, said: str) -> None:
    place = tmp_path / "copy"
    place.mkdir()
    (place / "test_it.py").write_text(f"def test_it():\n    {body}\n", encoding="utf-8")
    found, words = run_tests(place, "test_it.py", most_busy_s=3)
    assert found == code and said in words
