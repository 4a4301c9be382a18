"""``surge-sim sources`` shows the table that the tests wrote."""

from __future__ import annotations

import json
from typing import Any

import pytest

from surge_sim.report.sources import checks, checks_text, checks_with


def test_every_check_stands_in_the_list_with_its_source() -> None:
    """Nothing is lost in the text: each id once, each source at least once."""
    text = checks_text(checks())
    for check in checks():
        assert text.count(f"    {check['id']:<5}") == 1
        assert check["source"].split()[0] in text


def test_text_is_no_wider_than_80_columns() -> None:
    assert max(map(len, checks_text(checks()).splitlines())) <= 80


@pytest.mark.parametrize("words", [("erlang",), ("42 CFR",), ("FROM MEMORY", "erlang"), ("Ciw",)])
def test_words_narrow_the_list_whatever_their_case(words: tuple[str, ...]) -> None:
    found = checks_with(words)
    assert 0 < len(found) < len(checks())
    for check in found:
        whole = " ".join(check.values()).lower()
        assert all(word.lower() in whole for word in words)


def test_the_command_prints_text_json_or_says_that_there_is_nothing(program: Any) -> None:
    done = program("sources", "niosh")
    assert done.returncode == 0
    assert "DHHS Publication 2013-146" in done.stdout
    answer = json.loads(program("sources", "--json").stdout)
    assert answer["checks"] == checks()
    assert program("sources", "zebra").stdout == "No check speaks of zebra.\n"
