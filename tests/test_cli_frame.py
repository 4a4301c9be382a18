"""The frame of the command line: quick, quiet, and one exit code per kind of ending."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import textwrap
from importlib.metadata import PackageNotFoundError, version

import click
import pytest

import surge_sim
from surge_sim.cautions import CAUTION, CAUTION_IN_SHORT
from surge_sim.cli import main as frame
from surge_sim.cli import screen
from surge_sim.cli.screen import tell
from surge_sim.errors import Fault, OutOfReach, ScenarioError
from tests.conftest import ROOT, plain_environment

HEAVY = ("pandas", "seaborn", "matplotlib", "scipy", "numba", "simpy", "pydantic", "numpy")

SEE_WHAT_IS_LOADED = """
import sys
from surge_sim.cli.main import exit_code_of
code = exit_code_of(["--help"])
loaded = [name for name in {heavy!r} if name in sys.modules]
sys.stderr.write(f"{{code}} {{loaded}}")
"""


def test_help_loads_none_of_the_heavy_libraries():
    script = SEE_WHAT_IS_LOADED.format(heavy=HEAVY)
    done = subprocess.run(
        [sys.executable, "-c", script], env=plain_environment(), capture_output=True, text=True
    )
    assert done.stderr == "0 []"


NEEDED_BY_NONE_OF_THESE = ("matplotlib", "seaborn", "scipy.stats", "simpy")


@pytest.mark.parametrize(
    ("doing", "further"),
    [
        ('from surge_sim.cli.main import exit_code_of; exit_code_of(["check", {scenario!r}])',
         ("pandas", "scipy", "numba")),
        ("import surge_sim; surge_sim.load_scenario({scenario!r})",
         ("pandas", "scipy", "numba", "rich", "click")),
        ("import surge_sim; surge_sim.run(surge_sim.load_scenario({scenario!r}), surges=2)",
         ("rich", "click", "scipy.optimize", "scipy.integrate")),
    ],
    ids=["check", "load_scenario", "run"],
)  # fmt: skip
def test_nothing_is_loaded_that_is_not_needed(doing: str, further: tuple[str, ...]):
    """Tables, figures, the limits' functions and the compiler take as long to load as to play."""
    scenario = str(ROOT / "scenarios" / "rule_out_unit.yaml")
    unwanted = (*NEEDED_BY_NONE_OF_THESE, *further)
    done = subprocess.run(
        [sys.executable, "-c", f"{doing.format(scenario=scenario)}\nimport sys\n"
         f"print([name for name in {unwanted!r} if name in sys.modules])"],
        env=plain_environment(), capture_output=True, text=True,
    )  # fmt: skip
    assert done.stdout.splitlines()[-1:] == ["[]"], done.stderr


def test_stops_are_heard_before_anything_of_size_is_loaded():
    """A stop before that ends in a traceback of Python's own; it needs some milliseconds."""
    script = (
        "import sys; before = set(sys.modules); import surge_sim.cli.ending; "
        "print(sorted({'re', 'typing', 'dataclasses', 'traceback', 'click'} "
        "& (set(sys.modules) - before)))"
    )
    done = subprocess.run(
        [sys.executable, "-S", "-c", script],
        env=plain_environment(),
        capture_output=True,
        text=True,
    )
    assert (done.stdout, done.stderr) == ("[]\n", "")


def test_help_lists_the_commands_that_exist_and_says_what_the_tool_does_not(program):
    shown = program("--help").stdout
    for name in frame.cli.list_commands(click.Context(frame.cli)):
        assert f"\n  {name} " in shown
    assert "says nothing about protection" in shown


def test_every_listed_command_can_be_loaded_and_has_help():
    ctx = click.Context(frame.cli)
    for name in frame.cli.list_commands(ctx):
        command = frame.cli.get_command(ctx, name)
        assert isinstance(command, click.Command)
        assert command.help, name


def test_lines_of_the_list_fit_the_screen(program):
    assert max(map(len, program("--help").stdout.splitlines())) <= 80


def test_version_is_that_of_the_package(program):
    assert program("--version").stdout == f"surge-sim {surge_sim.__version__}\n"
    try:
        installed = version("surge-sim")
    except PackageNotFoundError:
        pytest.skip("not installed, run from the source")
    assert installed == surge_sim.__version__


def test_a_misspelt_command_names_the_nearest(monkeypatch, capsys):
    monkeypatch.setattr(frame.LazyCommands, "list_commands", lambda self, ctx: ["check", "size"])
    assert frame.exit_code_of(["chekc"]) == 2
    assert "There is no command 'chekc'. Did you mean 'check'?" in capsys.readouterr().err


def test_an_unknown_option_is_bad_input(program):
    done = program("--nonsense")
    assert (done.returncode, done.stdout) == (2, "")
    assert "--nonsense" in done.stderr


@pytest.mark.parametrize("option", ["--kits", "--batteries", "--bays", "--surges", "--seed"])
@pytest.mark.parametrize("value", ["abc", "-1", "2.5", "", "1" + "0" * 19, "9" * 5_000])
def test_a_number_that_is_none_is_said_with_what_would_be_right(capsys, option, value):
    assert frame.exit_code_of(["run", "nowhere.yaml", option, value]) == 2
    shown = capsys.readouterr()
    least = 1 if option == "--surges" else 0
    # an endless one is shortened in its middle
    assert f"'{option}': {value!r}"[:400] in shown.err and " cannot be used." in shown.err
    most = f"{2**63 - 1:,}" if option == "--seed" else "100,000"
    assert f"Write a whole number from {least} to {most}." in shown.err
    assert shown.out == ""


@pytest.fixture
def command_that(monkeypatch):
    """Put a command in the list whose body is the given function."""

    def put(body):
        monkeypatch.setattr(frame.LazyCommands, "list_commands", lambda self, ctx: ["work"])
        command = click.Command("work", callback=body)
        monkeypatch.setattr(frame.LazyCommands, "get_command", lambda self, ctx, name: command)

    return put


def raising(error):
    def body():
        raise error

    return body


def test_bad_input_exits_2_with_every_fault_and_no_traceback(command_that, capsys):
    faults = [Fault("b.yaml", 9, "kits is '-1'.", "Write 0 or more."), Fault("a.yaml", 3, "x", "y")]
    command_that(raising(ScenarioError(faults)))
    assert frame.exit_code_of(["work"]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err == "a.yaml:3: x\n  y\nb.yaml:9: kits is '-1'.\n  Write 0 or more.\n"


def test_a_target_out_of_reach_exits_1_with_its_reason(command_that, capsys):
    command_that(raising(OutOfReach("No stock keeps it. Widen limits.kits.")))
    assert frame.exit_code_of(["work"]) == 1
    said = capsys.readouterr().err
    assert said.startswith("No stock keeps it. Widen limits.kits.\n")
    assert " ".join(said.split()).endswith(CAUTION_IN_SHORT)


def test_a_long_reason_is_wrapped_like_an_answer(command_that, capsys, monkeypatch):
    reason = "No stock keeps it.\n" + "Widen limits.kits or let bays vary too. " * 9
    for columns in (60, 80):
        monkeypatch.setenv("COLUMNS", str(columns))
        command_that(raising(OutOfReach(reason)))
        assert frame.exit_code_of(["work"]) == 1
        shown = capsys.readouterr().err
        assert columns - 15 < max(map(len, shown.splitlines())) <= columns
        assert " ".join(shown.replace("- ", " ").split()).startswith(" ".join(reason.split()))


def test_a_stop_from_the_keyboard_exits_130_with_one_line(command_that, capsys):
    command_that(raising(KeyboardInterrupt()))
    assert frame.exit_code_of(["work"]) == 130
    assert capsys.readouterr().err.strip() == "surge-sim: stopped from the keyboard"


def test_an_error_of_the_program_is_not_hidden(command_that):
    command_that(raising(ZeroDivisionError("a bug")))
    with pytest.raises(ZeroDivisionError, match="a bug"):
        frame.exit_code_of(["work"])


def test_a_command_that_ends_well_exits_0(command_that):
    command_that(lambda: None)
    assert frame.exit_code_of(["work"]) == 0


@pytest.mark.skipif(os.name == "nt", reason="pipes close otherwise there")
def test_a_reader_that_leaves_early_is_no_error():
    """The pipe is closed before anything is written: no message, no traceback."""
    read_end, write_end = os.pipe()
    os.close(read_end)
    done = subprocess.run(
        [sys.executable, "-m", "surge_sim", "--help"],
        env=plain_environment(),
        stdout=write_end,
        stderr=subprocess.PIPE,
        text=True,
    )
    os.close(write_end)
    assert (done.returncode, done.stderr) == (141, "")


def test_public_names_are_loaded_on_first_use():
    with pytest.raises(AttributeError, match="no_such_name"):
        _ = surge_sim.no_such_name
    assert set(surge_sim._HOMES) <= set(surge_sim.__all__) == set(dir(surge_sim))


@pytest.mark.parametrize("name", surge_sim.__all__)
def test_every_public_name_is_there(name):
    assert getattr(surge_sim, name) is not None


def test_progress_off_a_terminal_is_rare_plain_lines(monkeypatch):
    """200 steps, one each half second: a line every 30 s, with the time that is left so."""
    shown = io.StringIO()
    monkeypatch.setattr(sys, "stderr", shown)
    seconds = iter(range(1_000))
    with screen.progress_bar("surges", 200, clock=lambda: next(seconds) / 2) as advance:
        for _ in range(200):
            advance()
    lines = shown.getvalue().splitlines()
    assert lines == [
        "surges: 60 of 200 (30 %), 70 s left",
        "surges: 120 of 200 (60 %), 40 s left",
        "surges: 180 of 200 (90 %), 10 s left",
    ]


def test_the_time_left_does_not_count_how_long_the_first_step_waited_for_compiling(monkeypatch):
    """The first step ends after 60 s, those after it take 2 s each.

    At 90 s 16 of 40 are done, so that 24 of 2 s are left: 48 s, said as 50 s.
    At 120 s 9 are left: 18 s, said as 20 s.
    """
    shown = io.StringIO()
    monkeypatch.setattr(sys, "stderr", shown)
    seconds = iter([0.0, *range(60, 200, 2)])
    with screen.progress_bar("surges", 40, clock=lambda: next(seconds)) as advance:
        for _ in range(40):
            advance()
    assert shown.getvalue().splitlines() == [
        "surges: 1 of 40 (2 %)",
        "surges: 16 of 40 (40 %), 50 s left",
        "surges: 31 of 40 (77 %), 20 s left",
    ]


def test_progress_of_quick_work_off_a_terminal_says_nothing(capsys):
    with screen.progress_bar("surges", 10) as advance:
        advance(10)
    shown = capsys.readouterr()
    assert (shown.out, shown.err) == ("", "")


def test_progress_on_a_terminal_goes_to_standard_error(monkeypatch, capsys):
    shown = io.StringIO()
    shown.isatty = lambda: True
    monkeypatch.setattr(sys, "stderr", shown)
    with screen.progress_bar("surges", 10) as advance:
        advance(4)
        advance()
    assert "surges" in shown.getvalue()
    assert capsys.readouterr().out == ""


def test_json_is_one_object_and_refuses_what_json_does_not_know(capsys):
    tell({"question": "Wie lang?", "share": 0.5})
    assert json.loads(capsys.readouterr().out) == {"question": "Wie lang?", "share": 0.5}
    with pytest.raises(ValueError):
        tell({"share": float("nan")})


def test_the_caution_says_what_it_must_and_its_short_form_fits_two_lines(capsys):
    for words in (
        "nothing about whether a respirator protects",
        "Do not enter with a respirator that has not passed its pre-use check",
        "Manufacturer's instructions",
        "respiratory protection program",
        "licensed, accountable staff decide",
    ):
        assert words in CAUTION
    assert len(textwrap.wrap(CAUTION_IN_SHORT, 80)) == 2
    assert "says nothing about protection" in CAUTION_IN_SHORT
    command = CAUTION_IN_SHORT.partition("In full: surge-sim ")[2]
    assert frame.exit_code_of([command]) == 0
    assert " ".join(capsys.readouterr().out.split()).startswith(CAUTION)
