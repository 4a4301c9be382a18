"""The exercise on the command line: nothing of the future is shown, nothing is overwritten."""

from __future__ import annotations

import json
import os

import pytest

from surge_sim.cli import screen
from surge_sim.report.document import Heading, Paragraph, Rows, document
from tests.drill.small import small


@pytest.fixture
def played(program):
    """Play the exercise with these lines typed."""

    def play(typed, *more):
        lines = "".join(f"{line}\n" for line in typed)
        return program("exercise", "play", "exercise.yaml", *more, typed=lines)

    return play


def answers(*choices):
    return [line for one in choices for line in (one, f"because of {one}", "")]


def test_the_file_that_new_writes_can_be_used(tmp_path, program):
    assert program("new").returncode == 0
    wrote = program("exercise", "new")
    assert wrote.returncode == 0
    assert "surge-sim exercise check exercise.yaml" in wrote.stdout
    checked = program("exercise", "check", "exercise.yaml")
    assert checked.returncode == 0, checked.stderr
    assert "no faults" in checked.stdout
    assert program("exercise", "new").returncode == 2


def test_what_is_shown_until_a_decision_is_the_same_whatever_is_decided_then(tmp_path, played):
    small(tmp_path)
    one, two = (played(answers("2", last), "--log", "l") for last in ("1", "3"))
    assert one.returncode == two.returncode == 0, one.stderr
    first, second = (run.stdout.split("Your choice") for run in (one, two))
    assert first[:2] == second[:2]
    assert first[2] != second[2]
    assert first[1].endswith(second[1][-40:])
    assert "Hot wash" not in first[0] + first[1]
    assert "on average" not in first[0] + first[1]


def test_the_log_keeps_choices_and_reasons(tmp_path, played):
    small(tmp_path)
    run = played(answers("2", "3"), "--log", "log.json")
    log = json.loads((tmp_path / "log.json").read_text())
    assert log["choices"] == "2,3"
    assert [one["because"] for one in log["decisions"]] == ["because of 2", "because of 3"]
    assert log["decisions"][0]["chosen"] == "Borrow two"
    assert log["surge"] == 3
    assert "choices: log.json" in run.stderr
    before, _, wash = run.stdout.partition("Hot wash")
    assert wash and "because: because of 3" in " ".join(
        before.split("What you expected")[1].split()
    )


def test_without_a_name_the_log_is_a_new_file(tmp_path, played):
    small(tmp_path)
    assert played(answers("1", "1")).returncode == 0
    (log,) = tmp_path.glob("exercise_*.json")
    assert json.loads(log.read_text())["choices"] == "1,1"


def test_a_choice_that_is_none_is_asked_again(tmp_path, played):
    small(tmp_path)
    run = played(["0", "four", *answers("2", "3")], "--log", "log.json")
    assert run.returncode == 0
    assert json.loads((tmp_path / "log.json").read_text())["choices"] == "2,3"
    assert "Write a whole number from 1 to 3" in run.stdout + run.stderr


@pytest.mark.parametrize("typed", [["2"], ["2", "because of 2"], ["2", "because of 2", "", "four"]])
def test_where_the_input_ends_the_choices_so_far_are_kept(tmp_path, typed, played):
    """It is no stop from the keyboard: exit code 2, and the place of the log."""
    small(tmp_path)
    run = played(typed, "--log", "log.json")
    assert run.returncode == 2
    assert "input: ended before decision 2.\n  The choices so far are in log.json." in run.stderr
    assert "keyboard" not in run.stderr and "Hot wash" not in run.stdout
    log = json.loads((tmp_path / "log.json").read_text())
    assert log["choices"] == "2"
    assert [one["because"] for one in log["decisions"]] == [[*typed, ""][1]]


def test_without_any_choice_no_log_is_written(tmp_path, played):
    small(tmp_path)
    before = sorted(path.name for path in tmp_path.iterdir())
    run = played([], "--log", "log.json")
    assert run.returncode == 2
    assert "input: ended before the first choice." in run.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == before


def test_more_kits_recalled_than_there_are_are_warned_about(tmp_path, program):
    recall = "inject: {what: kits recalled, kits: 9, lasts: 90 min}"
    small(tmp_path, ("inject: {what: power outage, lasts: 90 min}", recall))
    checked = program("exercise", "check", "exercise.yaml")
    assert checked.returncode == 0, checked.stderr
    said = " ".join(checked.stdout.split())
    assert "Warning: exercise.yaml:20: moments[2].inject.kits recalls 9 kits; the stock" in said


@pytest.mark.parametrize("name", ["exercise.yaml", "ward.yaml"])
def test_no_output_replaces_what_is_read(tmp_path, program, name, played):
    small(tmp_path)
    before = (tmp_path / name).read_bytes()
    assert played(answers("1", "1"), "--log", name).returncode == 2
    washed = program("exercise", "hot-wash", "exercise.yaml", "--choices", "1,1", "--out", name)
    assert washed.returncode == 2
    assert (tmp_path / name).read_bytes() == before


def test_the_hot_wash_of_a_play_is_that_of_its_choices(tmp_path, program, played):
    small(tmp_path)
    run = played(answers("2", "3"), "--log", "log.json")
    out = "pages/wash.html"
    washed = program("exercise", "hot-wash", "exercise.yaml", "--choices", "2-3", "--out", out)
    assert washed.returncode == 0, washed.stderr
    assert washed.stdout in run.stdout
    text = (tmp_path / out).read_text()
    assert text.count("<svg") == 2
    assert "Improvement plan" in text
    assert all(len(line) <= 80 for line in run.stdout.splitlines())


@pytest.mark.parametrize("choices", ["1", "1,4", "1,1,1", "0,1", "a", ""])
def test_choices_that_are_not_there_are_refused(tmp_path, program, choices):
    small(tmp_path)
    washed = program("exercise", "hot-wash", "exercise.yaml", "--choices", choices)
    assert washed.returncode == 2
    assert "choice" in washed.stderr


def test_choices_that_never_differ_are_refused_by_check(tmp_path, program):
    change = "{what: partial charge at reissue, allowed: no}"
    small(tmp_path, ("{what: kits on loan, kits: 2, lasts: 6 h}", change))
    checked = program("exercise", "check", "exercise.yaml")
    assert checked.returncode == 2
    assert "never differs from 'Wait'" in checked.stderr
    assert "exercise.yaml:1" in checked.stderr


def test_sheets_are_three_pages_that_need_nothing_else(tmp_path, program):
    small(tmp_path)
    wrote = program("exercise", "sheets", "exercise.yaml", "--out", "sheets")
    assert wrote.returncode == 0, wrote.stderr
    names = sorted(path.name for path in (tmp_path / "sheets").iterdir())
    assert names == ["evaluator.html", "facilitator.html", "players.html"]
    for name in names:
        text = (tmp_path / "sheets" / name).read_text()
        assert "http" not in text.replace("http-equiv", "")
        assert "<script" not in text


def test_too_many_choices_are_refused_with_what_was_given_and_what_would_do(tmp_path, program):
    small(tmp_path)
    washed = program("exercise", "hot-wash", "exercise.yaml", "--choices", "2,1,3")
    assert washed.returncode == 2
    said = " ".join(washed.stderr.split())
    assert "2,1,3 cannot be used. Give one number for each of the 2 decisions" in said


def test_the_facilitator_sheet_shows_an_example_that_the_exercise_takes(tmp_path, program):
    small(tmp_path)
    assert program("exercise", "sheets", "exercise.yaml", "--out", "sheets").returncode == 0
    sheet = " ".join((tmp_path / "sheets" / "facilitator.html").read_text("utf-8").split())
    assert "--choices 2,1 " in sheet


def test_what_local_rules_forbid_is_struck_out_in_a_play_and_in_its_hot_wash(
    tmp_path, program, played
):
    """In the second decision; it cannot be chosen then, one stays open, and it can be undone."""
    small(tmp_path)
    second = ["x1", "x3", "x3", "x2", "x3", "1", "3"]
    run = played([*answers("2"), *second, "because", ""], "--log", "log.json")
    assert run.returncode == 0, run.stderr
    said = " ".join(run.stdout.split())
    for words in (
        "Struck out by your own rules: Wait.", "Open again: Borrow four batteries.",
        "One choice must stay open.", "Choice 1 is struck out; x1 opens it again.",
    ):  # fmt: skip
        assert words in said
    log = json.loads((tmp_path / "log.json").read_text())
    assert log["choices"] == "2,3x1x2"
    assert log["decisions"][1]["struck_out"] == ["Wait", "Reserve one"]
    washed = program("exercise", "hot-wash", "exercise.yaml", "--choices", log["choices"])
    assert washed.returncode == 0, washed.stderr
    assert washed.stdout in run.stdout
    assert "not compared: “Reserve one”." in " ".join(washed.stdout.split())
    assert "All but “Borrow four batteries” were struck out." in washed.stdout


@pytest.mark.parametrize("choices", ["2,3x3", "2,3x4", "2,3x", "2,x1"])
def test_only_choices_that_were_not_made_can_be_struck_out(tmp_path, program, choices):
    small(tmp_path)
    washed = program("exercise", "hot-wash", "exercise.yaml", "--choices", choices)
    assert washed.returncode == 2
    assert "--choices" in washed.stderr


def test_a_decision_whose_every_choice_needs_a_permission_is_refused(tmp_path, program):
    partial = "{what: partial charge at reissue, allowed: yes}"
    small(
        tmp_path,
        ("- {name: Wait, does: nothing}\n      - {name: Reserve one, does: {what: reserve for "
         "urgent entries, kits: 1}}", f"- {{name: Reissue, does: {partial}}}"),
        ("{what: batteries on loan, batteries: 4, lasts: 8 h}", "{what: kit policy, kit: held for "
         "a shift}"),
    )  # fmt: skip
    checked = program("exercise", "check", "exercise.yaml")
    assert checked.returncode == 2
    said = " ".join(checked.stderr.split())
    assert "moments[2].choices all need a permission" in said


def test_a_long_answer_is_shown_a_screen_at_a_time(monkeypatch, capsys):
    """24 lines; a screen ends at an empty line, and a key is asked for between two screens."""
    asked = []
    monkeypatch.setattr(screen.sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(screen.sys.stdout, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(screen.shutil, "get_terminal_size", lambda _: os.terminal_size((80, 24)))
    monkeypatch.setattr(screen.click, "pause", lambda _: asked.append(capsys.readouterr().out))
    told = document(*(Paragraph(f"Line {number}.") for number in range(20)))
    screen.show_by_screens(told)
    shown = [*asked, capsys.readouterr().out]
    assert len(shown) == 2
    assert all(len(one.splitlines()) <= 23 for one in shown)
    assert "".join(shown).count("Line") == 20
    assert shown[0].splitlines()[-1] and shown[1].splitlines()[0]


def test_a_heading_is_not_the_last_thing_on_a_screen(monkeypatch, capsys):
    """Rows of 19 lines, a heading of two, and what it is the heading of."""
    asked = []
    monkeypatch.setattr(screen.sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(screen.sys.stdout, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(screen.shutil, "get_terminal_size", lambda _: os.terminal_size((80, 24)))
    monkeypatch.setattr(screen.click, "pause", lambda _: asked.append(capsys.readouterr().out))
    first, board = Rows((("Role", "word"),) * 19), Rows((("Kits", "3 in use"),) * 4)
    told = document(first, Heading("Decision 2"), Paragraph("The board:"), board)
    screen.show_by_screens(told)
    rest = capsys.readouterr().out
    assert len(asked) == 1 and asked[0].count("word") == 19
    assert "Decision 2" not in asked[0] and rest.index("Decision 2") < rest.index("in use")
