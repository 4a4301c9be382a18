"""Every approved text is what its command shows and writes today, byte for byte."""

from __future__ import annotations

import json
from itertools import islice

import pytest

from surge_sim import __version__
from tests.approved.__main__ import approved, asked_for, differences, main, write
from tests.approved.cases import (
    CASES,
    MOST_ROWS,
    TEXTS,
    Case,
    folder_texts,
    replaced,
    screen,
    shortened,
    texts_of,
)

#: lines of a difference that a failing test shows
SHOWN = 40


@pytest.mark.parametrize(
    "case",
    [
        pytest.param(case, id=case.name, marks=[pytest.mark.slow] if case.slow else [])
        for case in CASES.values()
    ],
)
def test_texts_are_those_that_were_approved(case: Case) -> None:
    found = list(islice(differences(approved(case), texts_of(case)), SHOWN))
    again = f"If every line of it is meant: python -m tests.approved {case.name}"
    assert not found, "\n".join(["not what was approved.", *found, again])


def test_every_kept_text_belongs_to_a_case() -> None:
    kept = {path.relative_to(TEXTS).as_posix() for path in TEXTS.rglob("*") if path.is_file()}
    assert kept == {name for case in CASES.values() for name in approved(case)}


def test_kept_texts_are_small_enough_to_be_read() -> None:
    assert sum(path.stat().st_size for path in TEXTS.rglob("*") if path.is_file()) < 1_000_000


def test_a_changed_a_missing_and_a_further_text_are_found() -> None:
    before = {"a.txt": "one\ntwo\n", "b.txt": "gone\n", "d.txt": "same\n"}
    after = {"a.txt": "one\n2\n", "c.txt": "new\n", "d.txt": "same\n"}
    assert list(differences(before, before)) == []
    assert list(differences(before, after)) == [
        "--- a.txt", "+++ a.txt", "@@ -1,2 +1,2 @@", " one", "-two", "+2",
        "--- b.txt", "+++ (none)", "@@ -1 +0,0 @@", "-gone",
        "--- (none)", "+++ c.txt", "@@ -0,0 +1 @@", "+new",
    ]  # fmt: skip


def test_a_line_end_that_is_gone_and_an_empty_file_are_found() -> None:
    assert list(differences({"a": "one\n"}, {"a": "one"}))
    assert list(differences({}, {"a": ""}))


def test_what_is_written_is_what_is_approved(tmp_path) -> None:
    """Texts of a case go below its name; those made no longer are taken away."""
    case = CASES["rule_out_unit/run"]
    first = {"rule_out_unit/run.txt": "a\r\n", "rule_out_unit/run/tables/x.csv": "1\n"}
    write({}, first, tmp_path)
    assert approved(case, tmp_path) == first
    then = {"rule_out_unit/run.txt": "b\n"}
    write(first, then, tmp_path)
    assert approved(case, tmp_path) == then


def test_names_narrow_the_cases_to_whole_parts_of_a_path() -> None:
    assert [case.name for case in asked_for(["help/run"])] == ["help/run"]
    assert {case.name for case in asked_for(["winter_wave/"])} == {
        name for name in CASES if name.startswith("winter_wave/")
    }
    assert asked_for([]) == list(CASES.values())
    with pytest.raises(SystemExit, match="No case of these names"):
        asked_for(["help/ru"])


def test_without_a_terminal_nothing_is_approved_unasked(monkeypatch, capsys) -> None:
    monkeypatch.setattr("tests.approved.__main__.texts_of", lambda case: {f"{case.name}.txt": ""})
    kept = approved(CASES["help/new"])
    assert main(["help/new"]) == 1
    assert "Nothing is approved" in capsys.readouterr().out
    assert approved(CASES["help/new"]) == kept


def test_only_when_where_and_with_what_it_was_made_is_replaced_in_a_manifest() -> None:
    facts = {
        "tool": f"surge-sim {__version__}", "seed": 1, "started": "2031", "seconds": 2.5,
        "python": "3", "platform": "Linux", "packages": {"numpy": "2"},
        "sha256": {"b": "1", "a": "2"},
    }  # fmt: skip
    assert json.loads(replaced(json.dumps(facts))) == {
        "tool": "surge-sim ...", "seed": 1, "started": "...", "seconds": "...",
        "python": "...", "platform": "...", "packages": "...", "sha256": ["a", "b"],
    }  # fmt: skip


def test_a_row_that_changes_far_down_in_a_shortened_table_is_found() -> None:
    rows = ["a\n", *(f"{n}\n" for n in range(MOST_ROWS))]
    assert shortened("".join(rows)) == "".join(rows)
    long = [*rows, "x\n"]
    other = [*rows, "y\n"]
    assert shortened("".join(long)) != shortened("".join(other))
    assert shortened("".join(long)).splitlines()[:21] == ["a", *map(str, range(20))]
    assert f"... {MOST_ROWS + 1 - 20} more rows" in shortened("".join(long))


def test_a_file_with_the_bytes_of_another_says_so(tmp_path) -> None:
    for name in ("tables/a.csv", "figures/a.csv", "figures/b.csv", "scenario/x.yaml"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(name.split("/")[1])
    assert folder_texts(tmp_path) == {
        "tables/a.csv": "a.csv",
        "figures/a.csv": "the same as tables/a.csv\n",
        "figures/b.csv": "b.csv",
    }


def test_the_screen_shows_what_is_typed_what_is_said_and_how_it_ends() -> None:
    text = screen("frobnicate")
    assert text.startswith("$ surge-sim frobnicate\n")
    assert "There is no command 'frobnicate'." in text
    assert text.endswith("[ends with 2]\n")
