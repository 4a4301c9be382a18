"""A program that is stopped ends at once, in good order, whatever it is doing."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import psutil
import pytest

from tests.conftest import ROOT, plain_environment

pytestmark = pytest.mark.skipif(os.name == "nt", reason="other signals there")

#: the longest that is waited for a moment to come; a first run compiles the engine before [s]
PATIENCE_S = 600.0
#: a stop ends within two seconds; a busy machine may need some more
STOPPED_S = 4.0
#: where a first stop has a minute, one that waits for nothing is told from it on any machine
MINUTE_S, AT_ONCE_S = 60.0, 20.0

STOP, END, KILL = signal.SIGINT, signal.SIGTERM, signal.SIGKILL


class Running:
    """The program at work in a folder and a session of its own."""

    def __init__(self, folder: Path, *options: str, **environment: str) -> None:
        command = [sys.executable, "-m", "surge_sim", "run"]
        command += [str(ROOT / "scenarios/winter_wave.yaml"), "--surges", "50000", *options]
        self.shown = folder / "shown.txt"
        self.folder = folder
        with self.shown.open("w") as shown:
            self.program = subprocess.Popen(
                command, cwd=folder, stdout=shown, stderr=shown, start_new_session=True,
                env=plain_environment() | environment,
                # also where the tests themselves run in the background, deaf to the keyboard
                preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
            )  # fmt: skip
        self.seen = psutil.Process(self.program.pid)

    def left(self) -> list[psutil.Process]:
        """What is alive of the session, the program included."""
        found = []
        for process in psutil.process_iter():
            try:
                if os.getsid(process.pid) == self.program.pid:
                    found.append(process)
            except (ProcessLookupError, PermissionError):
                continue
        return [process for process in found if process.status() != psutil.STATUS_ZOMBIE]

    def wait_for(self, moment: Callable[[Running], bool]) -> None:
        until = time.monotonic() + PATIENCE_S
        while not moment(self):
            assert time.monotonic() < until and self.program.poll() is None, self.words()
            time.sleep(0.05)

    def send(self, how: signal.Signals) -> None:
        # a terminal sends its stop to every process of the program
        if how == STOP:
            os.killpg(self.program.pid, how)
        else:
            self.program.send_signal(how)

    def ended_after(self) -> float:
        begun = time.monotonic()
        self.program.wait(timeout=PATIENCE_S)
        return time.monotonic() - begun

    def words(self) -> list[str]:
        """What was printed, but for progress."""
        lines = self.shown.read_text().splitlines()
        return [line for line in lines if line and not line.startswith(("surges:", "Comp"))]

    def files(self) -> list[str]:
        """What lies in the folder for results."""
        return sorted(path.name for path in (self.folder / "results").glob("*"))

    def nothing_is_left(self) -> bool:
        """Whether all processes of the program end by themselves within two seconds."""
        until = time.monotonic() + STOPPED_S
        while self.left():
            if time.monotonic() > until:
                return False
            time.sleep(0.05)
        return True


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., Running]]:
    started = []

    def begin(*options: str, **environment: str) -> Running:
        started.append(Running(tmp_path, *options, **environment))
        return started[-1]

    yield begin
    for running in started:
        for process in running.left():
            process.kill()


def listening(running: Running) -> bool:
    """Stops are heard, by a thread of their own; most is still to be loaded."""
    return running.seen.num_threads() > 1


def results_begun(running: Running) -> bool:
    return bool(running.files())


def compiling(running: Running) -> bool:
    return "Compiling" in running.shown.read_text() and running.seen.cpu_times().user > 8


def busy_alone(running: Running) -> bool:
    return running.seen.cpu_times().user > 5


def workers_start(running: Running) -> bool:
    return len(running.left()) > 2


def workers_busy(running: Running) -> bool:
    """Two processes have been busy for a while."""
    workers = [process for process in running.left() if process.pid != running.program.pid]
    return sum(process.cpu_times().user > 2.5 for process in workers) >= 2


slow = pytest.mark.slow
MOMENTS = [
    pytest.param("2", listening, marks=slow),
    pytest.param("2", results_begun, marks=slow),
    pytest.param("2", compiling, marks=slow),
    pytest.param("2", workers_start, marks=slow),
    ("2", workers_busy),
    pytest.param("1", busy_alone, marks=slow),
]


def begin(start: Callable[..., Running], tmp_path: Path, processes: str, moment) -> Running:
    """Start the program, with nothing compiled where that is asked for, and wait."""
    places = {}
    if moment is compiling:
        places = {"NUMBA_CACHE_DIR": str(tmp_path / "cache"), "TMPDIR": str(tmp_path)}
    running = start("--processes", processes, **places)
    running.wait_for(moment)
    return running


@pytest.mark.parametrize(
    ("how", "code"),
    [pytest.param(STOP, 130, id="keyboard"), pytest.param(END, 143, id="told", marks=slow)],
)
@pytest.mark.parametrize(("processes", "moment"), MOMENTS)
def test_a_stop_ends_within_two_seconds_and_leaves_one_line_and_nothing_half_done(
    start, tmp_path: Path, processes: str, moment, how: signal.Signals, code: int
):
    running = begin(start, tmp_path, processes, moment)
    running.send(how)
    assert running.ended_after() < STOPPED_S
    assert running.program.returncode == code
    assert running.words() == (["surge-sim: stopped from the keyboard"] if how == STOP else [])
    assert not (tmp_path / "results").exists()
    assert running.nothing_is_left()


@slow
@pytest.mark.parametrize("pause_s", [0.0, 0.02])
@pytest.mark.parametrize("how", [STOP, END], ids=["keyboard", "told"])
@pytest.mark.parametrize(("processes", "moment"), [*MOMENTS[1:3], *MOMENTS[4:]])
def test_a_second_stop_within_the_first_leaves_no_traceback_and_no_orphans(
    start, tmp_path: Path, processes: str, moment, how: signal.Signals, pause_s: float
):
    running = begin(start, tmp_path, processes, moment)
    running.send(how)
    time.sleep(pause_s)
    if running.program.poll() is None:
        running.send(how)
    assert running.ended_after() < STOPPED_S
    assert running.program.returncode == 128 + how
    assert set(running.words()) <= {"surge-sim: stopped from the keyboard"}
    assert not (tmp_path / "results").exists()
    assert running.nothing_is_left()


#: the program with a main thread that swallows what is raised in it, as a compiler does
DEAF = """
import time
from surge_sim.cli import ending

def deaf(_):
    said = "deaf"
    while True:
        try:
            print(said, flush=True)
            time.sleep(3600)
        except BaseException as error:
            said = type(error).__name__

ending._code_of, ending.PATIENCE_S = deaf, {maximum_wait_s}
ending.main([])
"""


@pytest.mark.parametrize(("how", "raised"), [(STOP, "KeyboardInterrupt"), (END, "SystemExit")])
@pytest.mark.parametrize(
    ("maximum_wait_s", "stops"), [(1.0, 1), (MINUTE_S, 2)], ids=["first, given 1 s", "second"]
)
def test_a_stop_that_nobody_minds_ends_when_its_time_is_over_and_a_second_one_at_once(
    maximum_wait_s: float, stops: int, how: signal.Signals, raised: str
):
    """The main thread goes on whatever is raised in it; of two stops the first has a minute."""
    command = [sys.executable, "-c", DEAF.format(maximum_wait_s=maximum_wait_s)]
    with subprocess.Popen(
        command, env=plain_environment(), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    ) as program:  # fmt: skip
        assert program.stdout is not None and program.stderr is not None
        assert program.stdout.readline() == "deaf\n"
        begun = time.monotonic()
        program.send_signal(how)
        assert program.stdout.readline() == f"{raised}\n"
        if stops == 2:
            program.send_signal(how)
        assert program.wait(MINUTE_S) == 128 + how
        assert time.monotonic() - begun < AT_ONCE_S
        said = "\nsurge-sim: stopped from the keyboard\n" if how == STOP else ""
        assert program.stderr.read() == said


#: the program, told to end when its answer is out and Python is closing
TOO_LATE = """
import atexit
import os
from surge_sim.cli import ending, main

main.exit_code_of = lambda _: print("answer") or 1
atexit.register(lambda: [os.kill(os.getpid(), {how:d}) for _ in range({stops})])
ending.main([])
"""


@pytest.mark.parametrize("stops", [1, 2])
@pytest.mark.parametrize("how", [STOP, END], ids=["keyboard", "told"])
def test_a_stop_that_comes_after_the_answer_takes_nothing_of_it(how: signal.Signals, stops: int):
    done = subprocess.run(
        [sys.executable, "-c", TOO_LATE.format(how=how, stops=stops)], env=plain_environment(),
        capture_output=True, text=True, timeout=MINUTE_S,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (1, "answer\n", "")


#: the program, stopped where Python drops what is raised, or makes another error of it
IN_VAIN = """
import os
import time
from surge_sim.cli import ending, main

class Last:
    def __del__(self):
        os.kill(os.getpid(), {how:d})

def dropped(_):
    Last()
    time.sleep(60)

def changed(_):
    try:
        os.kill(os.getpid(), {how:d})
        time.sleep(60)
    except BaseException as error:
        raise ImportError("a part could not be loaded") from error

main.exit_code_of, ending.PATIENCE_S = {place}, 60.0
ending.main([])
"""


@pytest.mark.parametrize("place", ["dropped", "changed"])
@pytest.mark.parametrize("how", [STOP, END], ids=["keyboard", "told"])
def test_a_stop_leaves_no_traceback_where_nothing_can_be_raised(how: signal.Signals, place: str):
    done = subprocess.run(
        [sys.executable, "-c", IN_VAIN.format(how=how, place=place)], env=plain_environment(),
        capture_output=True, text=True, timeout=MINUTE_S / 2,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    said = "\nsurge-sim: stopped from the keyboard\n" if how == STOP else ""
    assert (done.returncode, done.stdout, done.stderr) == (128 + how, "", said)


@slow
@pytest.mark.parametrize("moment", [workers_start, workers_busy])
def test_workers_end_by_themselves_when_the_program_is_killed(start, tmp_path: Path, moment):
    running = begin(start, tmp_path, "2", moment)
    running.send(KILL)
    running.program.wait(timeout=PATIENCE_S)
    assert running.nothing_is_left()
    assert running.words() == []


@slow
def test_a_worker_that_is_killed_ends_the_program_with_71_and_a_reason(start, tmp_path: Path):
    """As the system does when memory runs out."""
    running = begin(start, tmp_path, "2", workers_busy)
    busiest = max(running.left()[1:], key=lambda process: process.cpu_times().user)
    busiest.kill()
    assert running.ended_after() < 2 * STOPPED_S
    assert running.program.returncode == 71
    (said,) = running.words()
    assert said.startswith("surge-sim: could not finish: a worker process was killed")
    assert not (tmp_path / "results").exists()
    assert running.nothing_is_left()
