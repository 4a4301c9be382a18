"""A small part of the attack, and that the attack itself would notice."""

from __future__ import annotations

import os
import random
import re
import signal
import time
from pathlib import Path

import pytest

from tests.robustness.__main__ import END, HEAD, START, as_markdown, main, written
from tests.robustness.cases import (
    EXERCISE,
    OPTIONS,
    RECIPES,
    SCENARIO,
    Case,
    Change,
    Recipe,
    _words,
    good_exercise,
    good_files,
)
from tests.robustness.extremes import EXTREMES
from tests.robustness.fuzz import PARTS, Tally, attacked, check_trial, saved, smaller
from tests.robustness.hostile import hostile_trial, text_of_results
from tests.robustness.kills import kill_of, running_in, started
from tests.robustness.mutations import OF_SCENARIOS, OF_TABLES
from tests.robustness.side_by_side import SideBySide
from tests.robustness.trial import Outcome, judged, run_here

SEED = 7


@pytest.mark.parametrize("number", range(200))
def test_a_changed_file_is_read_or_refused_with_its_place(number):
    outcome = check_trial(SEED, number)
    assert outcome.good, f"{outcome.kind}: {outcome.sign}\n{outcome.text}"


@pytest.mark.slow
def test_hostile_names_stay_text_in_results():
    assert hostile_trial(SEED, 1).good


@pytest.mark.slow
def test_an_extreme_is_played_by_a_worker_and_refused():
    """In a program of its own, within the limits of a worker."""
    number = [one.name for one in EXTREMES].index("1,000 classes")
    assert attacked("extremes", SEED, [number], 1).outcomes == {"refused": 1}


@pytest.mark.slow
def test_a_kill_at_a_random_moment_loses_nothing_and_leaves_nothing_running():
    outcome = kill_of(SEED, 0)
    assert outcome.good, f"{outcome.kind}: {outcome.sign}\n{outcome.text}"


@pytest.mark.slow
@pytest.mark.parametrize("part", ["play", "hostile", "kills", "same"])
def test_more_of_the_attack_finds_nothing(part):
    tally = attacked(part, SEED, range(4 if part in ("kills", "same") else 40), 2)
    assert tally.failures == {}


@pytest.mark.slow
def test_cases_of_much_work_are_left_to_the_extremes_sooner_with_the_slow_engine(
    monkeypatch, tmp_path
):
    """A limit between what a surge counts for with the one engine and with the other."""
    from surge_sim.demand.expected import expected_course
    from surge_sim.scenario.load import load_scenario

    files = good_files()[0]
    Case(files, ()).written_to(tmp_path)
    settings = load_scenario(tmp_path / SCENARIO).settings
    entries = float(expected_course(settings).entries.sum())
    monkeypatch.setattr("tests.robustness.trial.MOST_REQUESTS", entries * 100)
    for engine, kind in (("compiled", "answer"), ("reference", "left to the extremes")):
        words = ("run", SCENARIO, "--engine", engine, "--surges", "1", "--processes", "1")
        assert run_here(Case(files, (*words, "--out", "out"))).kind == kind


@pytest.mark.slow
def test_a_sizing_with_as_few_surges_as_the_cases_ask_for_is_no_refusal():
    """Fewer than 66 could show nothing: all cases of a sizing would end alike."""
    words = _words("size", random.Random(SEED), 0.0)
    given = words[words.index("--choose") :]
    outcome = run_here(Case(good_files()[0], ("size", SCENARIO, *given)))
    assert outcome.kind in ("answer", "no stock")


def test_the_good_files_are_good():
    for files in good_files():
        assert run_here(Case(files, ("check", SCENARIO))).kind == "answer"
    words = ("exercise", "check", EXERCISE, "--processes", "1")
    assert run_here(Case(good_exercise(), words)).kind == "answer"


def test_a_case_is_the_same_whenever_it_is_drawn():
    for recipes in RECIPES.values():
        assert recipes(3, 5).case() == recipes(3, 5).case()
        assert recipes(3, 5).case() != recipes(3, 6).case()


def test_every_change_changes_a_file():
    for kinds, name in ((OF_SCENARIOS, SCENARIO), (OF_TABLES, "log.csv")):
        data = good_files()[1][name]
        for change in kinds:
            assert any(change(data, random.Random(seed)) != data for seed in range(5)), change


def test_every_option_of_every_command_is_tried():
    import click

    from surge_sim.cli.main import COMMANDS, cli

    given = {"--surges", "--processes", "--out", "--choose"}
    elsewhere = {"--cluster", "--help"}
    commands = {name: cli.get_command(click.Context(cli), name) for name in COMMANDS}
    for name, group in list(commands.items()):
        if isinstance(group, click.Group):
            del commands[name]
            commands |= {f"{name} {part}": one for part, one in group.commands.items()}
    assert set(commands) == set(OPTIONS)
    for name, command in commands.items():
        options = {word for one in command.params for word in one.opts if word[:2] == "--"}
        assert options - given - elsewhere == set(OPTIONS[name]) - given


def outcome_of(tmp_path, code, out="", err=""):
    return judged(Case({}, ("check", SCENARIO)), code, out, err, tmp_path).kind


def test_endings_are_told_apart(tmp_path):
    assert outcome_of(tmp_path, 0, "read back") == "answer"
    assert outcome_of(tmp_path, 0) == "silent"
    assert outcome_of(tmp_path, 2, err="surge.yaml:3: kits is '-1'.") == "refused"
    assert outcome_of(tmp_path, 2, err="..: is a folder, not a file.") == "refused"
    assert outcome_of(tmp_path, 2, err="something is wrong") == "no place"
    assert outcome_of(tmp_path, 3, err="surge.yaml:3: kits is '-1'.") == "wrong code"
    assert outcome_of(tmp_path, 0, "red \x1b[31m") == "control character"
    (tmp_path / "half").touch()
    assert outcome_of(tmp_path, 2, err="surge.yaml:3: kits is '-1'.") == "left behind"


def test_a_traceback_is_a_failure_told_by_its_place(monkeypatch):
    def broken(_):
        raise KeyError("lost")

    monkeypatch.setattr("surge_sim.cli.main.exit_code_of", broken)
    outcome = run_here(Case(good_files()[0], ("check", SCENARIO)))
    assert (outcome.kind, outcome.sign) == ("traceback", "KeyError in test_robustness.py:broken")


def test_formulas_and_control_characters_in_results_are_seen(tmp_path):
    tables = tmp_path / "out" / "tables"
    tables.mkdir(parents=True)
    (tables / "roles.csv").write_text("role,entries\nnurse,-3.5\n", encoding="utf-8")
    assert text_of_results(tmp_path) == ""
    (tables / "roles.csv").write_text("role,entries\n=1+1,3\n", encoding="utf-8")
    assert text_of_results(tmp_path) == "roles.csv: '=1+1'"
    (tables / "roles.csv").unlink()
    (tmp_path / "out" / "answer.txt").write_text("\x1b[31m", encoding="utf-8")
    assert text_of_results(tmp_path) == "answer.txt: '\\x1b'"


def sleepy(number: int) -> Outcome:
    """Stay busy for ever with 1, die with 2, wait for ever with 3, answer otherwise."""
    while number == 1:
        pass
    if number == 2:
        raise SystemExit(3)
    if number == 3:
        time.sleep(600)
    return Outcome("answer", str(number))


@pytest.mark.slow
def test_a_task_that_hangs_or_dies_is_told_and_the_others_go_on():
    found = dict(SideBySide(sleepy, 2, limit_s=1.0, start_s=3.0).over(range(5)))
    assert {number: one.kind for number, one in found.items()} == {
        0: "answer", 1: "hang", 2: "died", 3: "hang", 4: "answer",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("wall_s", "busy_s", "queued_s", "overdue"),
    [(9, 9, 0, False), (200, 9, 150, False), (200, 9, 130, True), (30, 11, 19, True)],
)
def test_time_in_which_others_had_the_processor_is_not_counted(
    monkeypatch, wall_s, busy_s, queued_s, overdue
):
    """A limit of 10 s: no more on the processor, and no more than 60 s of neither nor."""
    from types import SimpleNamespace

    from tests.robustness import side_by_side

    worker = side_by_side._Worker(SimpleNamespace(pid=1), None, done=1, busy_s=5, queued_s=7)
    monkeypatch.setattr(side_by_side.time, "monotonic", lambda: float(wall_s))
    monkeypatch.setattr(side_by_side, "_busy_s", lambda process: 5.0 + busy_s)
    monkeypatch.setattr(side_by_side, "_queued_s", lambda process: 7.0 + queued_s)
    assert SideBySide(sleepy, 1, limit_s=10.0)._is_overdue(worker) == overdue


BUSY = """
import os, time
os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
while time.process_time() < 0.4:
    pass
time.sleep(60)
"""


@pytest.mark.slow
def test_time_in_the_queue_for_the_processor_grows_where_many_run():
    """Four programs on one processor, each busy for some tenths of a second."""
    import subprocess
    import sys

    from tests.robustness.side_by_side import _queued_s

    if not Path("/proc/self/schedstat").exists():
        pytest.skip("this system does not tell it")
    programs = [subprocess.Popen([sys.executable, "-c", BUSY]) for _ in range(4)]
    try:
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline and max(_queued_s(one.pid) for one in programs) < 0.3:
            time.sleep(0.05)
        assert max(_queued_s(one.pid) for one in programs) >= 0.3
    finally:
        for one in programs:
            one.kill()
            one.wait()


def test_what_runs_in_a_session_is_seen():
    import subprocess
    import sys

    sleeper = subprocess.Popen(
        [sys.executable, "-c", "import time; time.sleep(60)"], start_new_session=True
    )
    assert running_in(sleeper.pid) == [sleeper.pid]
    sleeper.kill()
    sleeper.wait()
    time.sleep(0.05)
    assert running_in(sleeper.pid) == []


@pytest.mark.parametrize("stop", [signal.SIGINT, signal.SIGTERM])
def test_a_program_to_be_killed_hears_stops_that_the_attack_does_not_hear(tmp_path, stop):
    """As in the background, where nobody at the keyboard is heard."""
    kept = signal.signal(stop, signal.SIG_IGN)
    try:
        program = started(("sources",), tmp_path, None)
    finally:
        signal.signal(stop, kept)
    told = Path(f"/proc/{program.pid}/status").read_text(encoding="ascii")
    program.kill()
    program.wait()
    deaf = int(re.findall(r"SigIgn:\s*(\w+)", told)[0], 16)
    assert not deaf >> (stop - 1) & 1


def answers(seed: int, number: int) -> Outcome:
    """Answer, but for the number 3: as long as the attack is not stopped there is no outcome."""
    if number == 3:
        os.kill(os.getppid(), signal.SIGINT)
        time.sleep(60)
    return Outcome("answer")


def test_a_stopped_attack_tells_what_was_done_until_then(monkeypatch, tmp_path, capsys):
    monkeypatch.setitem(PARTS, "check", PARTS["check"]._replace(trial=answers))
    kept = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        words = ["--processes", "1", "--write", str(tmp_path / "table.md"), "check", "play"]
        assert main(words) == 130
    finally:
        signal.signal(signal.SIGINT, kept)
    row = f"| {PARTS['check'].what} | 1 | 3 | answer 3 | 0 |"
    for table in (capsys.readouterr().out, (tmp_path / "table.md").read_text(encoding="utf-8")):
        assert row in table.splitlines()
        assert f"| {PARTS['play'].what} | | 0 | not run yet | |" in table.splitlines()


def fails_on_a_tab(case: Case) -> Outcome:
    """Stand in for a program that cannot stand a tab."""
    bad = b"\t" in case.files[SCENARIO]
    return Outcome("traceback", "tab") if bad else Outcome("refused")


def test_a_failure_is_made_small(monkeypatch):
    """Of two changes and five lines one change and one line are left."""
    base = Case({SCENARIO: b"a: 1\nb: 2\nc: 3\nd: 4\ne: 5\n"}, ("check", SCENARIO))
    monkeypatch.setattr("tests.robustness.fuzz.run_here", fails_on_a_tab)
    monkeypatch.setattr(
        Change, "made", lambda self, case: Case({SCENARIO: case.files[SCENARIO].replace(
            *((b"c: 3", b"c:\t3") if self.number else (b"a: 1", b"a: 9")))}, case.words)
    )  # fmt: skip
    recipe = Recipe(base, (Change(SCENARIO, 0, 0), Change(SCENARIO, 1, 0)))
    assert smaller(recipe, "traceback", "tab").files == {SCENARIO: b"c:\t3\n"}


def test_failures_are_saved_with_their_files_and_words(tmp_path):
    tally = Tally("hostile", SEED)
    tally.add(3, Outcome("hostile text", "roles.csv", "roles.csv: '=1'"))
    tally.add(4, Outcome("answer"))
    saved(tally, tmp_path)
    (folder,) = tmp_path.iterdir()
    assert folder.name == "hostile_0_hostile_text_3"
    assert (folder / SCENARIO).is_file()
    assert "surge-sim 'run'" in (folder / "command.txt").read_text(encoding="utf-8")
    assert "(1 cases)" in (folder / "outcome.txt").read_text(encoding="utf-8")


def test_the_table_goes_between_the_marks(tmp_path):
    tally = Tally("same", SEED)
    tally.add(0, Outcome("same bytes"))
    tally.add(1, Outcome("other bytes", "8"))
    row = f"| 1, 2 and 8 processes | {SEED} | 2 | same bytes 1, other bytes 1 | 1 |"
    assert as_markdown([tally]).splitlines()[-1] == row
    assert as_markdown([]).splitlines()[-1] == "| 1, 2 and 8 processes | | 0 | not run yet | |"
    path = tmp_path / "README.md"
    extremes = "| extremes | 4 | 9 | refused 9 | 0 |"
    text = f"before\n{START}\n{extremes}\n| 1, 2 and 8 processes | 9 | old |\n{END}\nafter\n"
    path.write_text(text, encoding="utf-8")
    written([tally], path)
    text = path.read_text(encoding="utf-8")
    assert text.startswith(f"before\n{START}\n\n{HEAD[0]}\n")
    assert text.endswith(f"\n{row}\n\n{END}\nafter\n")
    assert text.count(extremes) == 1 and "old" not in text


def test_parts_grow_with_the_cases():
    assert {name: part.tasks(100_000) for name, part in PARTS.items()}["kills"] == 200
    assert PARTS["play"].tasks(100_000) == 25_000
    assert PARTS["check"].tasks(12) == 12
