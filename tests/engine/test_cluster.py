"""A real Dask scheduler and two workers, as processes of this machine, one of which is killed."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from surge_sim.cli.main import exit_code_of
from surge_sim.engine import cluster as cluster_module
from surge_sim.engine.surges import workers
from surge_sim.errors import ScenarioError
from tests.conftest import plain_environment

pytest.importorskip("distributed")

#: the quick tests share one cluster; these start one of their own
own_cluster = pytest.mark.slow

#: no process of a test lives longer than this [s]
LONGEST_S = 120.0

UNIT = """
title: Two beds (invented)
start: 2031-01-06 00:00
horizon: 3 d
arrivals: {baseline: 2 per day, initial_census: 3}
classes: {one: {share: 100 %, length_of_isolation: 3 d, entries: {nurse: 20 per day}}}
roles: {nurse: {room_time: {shape: lognormal, mean: 10 min, cv: 60 %}}}
kit: {pre_use_check: 1 min, don: 3 min, doff: 3 min, levels: [{run_time: 8 h}]}
batteries: {charge_time: 3 h, minimum_run_time: 45 min}
cleaning: {by: wearer, wipe_down: 3 min, contact_time: 2 min, drying_time: 5 min}
stock: {kits: 3, batteries: 20, bays: 4}
prices: {currency: talers, kit: 10, battery: 1, charger: 4, bays_per_charger: 4}
target: {wait: 5 min, service_level: 90 %, share_of_surges: 70 %}
"""


@dataclass(frozen=True)
class ShortWhile:
    """A task that takes a while and says which process did it."""

    seconds: float
    notes: str

    def __call__(self, surge: int) -> tuple[int, int]:
        with open(f"{self.notes}/{surge}-{os.getpid()}", "w", encoding="utf-8"):
            time.sleep(self.seconds)
        return surge, surge**2


def start(*words: str, folder: Path, **more: str) -> subprocess.Popen[bytes]:
    """Start a program of Dask; what it prints is kept in the test's folder."""
    with open(folder / "dask.log", "ab") as log:
        return subprocess.Popen(
            [sys.executable, "-m", "distributed.cli." + words[0], *words[1:]],
            cwd=folder,
            env={**plain_environment(), "DASK_DISTRIBUTED__DIAGNOSTICS__NVML": "false", **more},
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=subprocess.STDOUT,
        )


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def wait_until_it_answers(port: int, scheduler: subprocess.Popen[bytes]) -> None:
    end = time.monotonic() + 30
    while time.monotonic() < end and scheduler.poll() is None:
        with socket.socket() as one:
            one.settimeout(1)
            if one.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    pytest.fail("the scheduler did not start")


@dataclass
class Running:
    """A scheduler with its workers."""

    address: str
    workers: list[subprocess.Popen[bytes]]


@contextmanager
def dask(folder: Path, count: int = 2, **environment: str) -> Iterator[Running]:
    """Start a scheduler and workers of one thread each; end them whatever happens."""
    port = free_port()
    address = f"127.0.0.1:{port}"
    plain = ("--no-dashboard",)
    place = ("--host", "127.0.0.1", "--port", str(port))
    started = [start("dask_scheduler", *place, *plain, folder=folder, **environment)]
    try:
        wait_until_it_answers(port, started[0])
        for number in range(count):
            started.append(
                start(
                    "dask_worker", f"tcp://{address}", "--nthreads", "1", "--no-nanny", *plain,
                    "--name", f"w{number}", "--local-directory", str(folder),
                    folder=folder, **environment,
                )
            )  # fmt: skip
        yield Running(address, started[1:])
    finally:
        for process in started:
            process.kill()
        for process in started:
            process.wait(timeout=30)


@pytest.fixture(scope="module")
def two_workers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with dask(tmp_path_factory.mktemp("dask")) as running:
        yield running


@pytest.fixture
def unit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "unit.yaml"
    path.write_text(UNIT)
    uncertain = UNIT.replace("charge_time: 3 h", "charge_time: {low: 2 h, high: 6 h}")
    (tmp_path / "ranged.yaml").write_text(uncertain)
    return path


def files_of(folder: Path) -> dict[str, bytes]:
    """All that is the same when the same command runs again: not the figures and the manifest."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.suffix != ".png" and path.name != "manifest.json"
    }


@pytest.mark.parametrize(
    "command",
    [
        pytest.param(words, id=words[0], marks=[] if words[0] == "run" else pytest.mark.slow)
        for words in (
            ["run", "unit.yaml", "--surges", "30", "--entries-out", "entries.csv"],
            ["size", "unit.yaml", "--choose", "20", "--surges", "80"],
            ["compare", "unit.yaml", "--with", "a: arrivals.baseline=3 per day", "--surges", "30"],
            ["matters", "ranged.yaml", "--surges", "20"],
        )
    ],
)
def test_the_answer_is_the_same_byte_for_byte_on_a_cluster(
    unit: Path, two_workers: Running, capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    answers: list[Any] = []
    for place in (["--processes", "1"], ["--cluster", two_workers.address]):
        folder = f"out{len(answers)}"
        assert exit_code_of([*command, *place, "--out", folder]) == 0
        entries = Path("entries.csv").read_bytes() if "run" in command else b""
        answers.append((capsys.readouterr().out, files_of(Path(folder)), entries))
        Path("entries.csv").unlink(missing_ok=True)
    assert answers[0] == answers[1]
    assert len(answers[0][1]) > 5


@own_cluster
def test_a_worker_killed_in_mid_run_leaves_no_surge_wrong_or_missing(tmp_path: Path) -> None:
    """40 surges of 0.05 s; one of the two workers is killed once it has begun at least 5."""
    notes = tmp_path / "notes"
    notes.mkdir()

    def begun_by(process: subprocess.Popen[bytes]) -> set[int]:
        marks = [path.name.split("-") for path in notes.iterdir()]
        return {int(surge) for surge, who in marks if int(who) == process.pid}

    with dask(tmp_path) as running, workers(cluster=running.address) as place:
        while place.count < 2:
            time.sleep(0.1)
        victim, other = running.workers
        results = []
        for result in place.over(ShortWhile(0.05, str(notes)), range(40), engine="reference"):
            results.append(result)
            if victim.poll() is None and len(begun_by(victim)) >= 5:
                os.kill(victim.pid, signal.SIGKILL)
                victim.wait(timeout=10)
        assert victim.returncode == -signal.SIGKILL
        lost = begun_by(victim)
        again = lost & begun_by(other)
    assert results == [(surge, surge**2) for surge in range(40)]
    # what it was playing when it died was played again by the other
    assert again


@own_cluster
def test_a_run_with_a_killed_worker_prints_the_same(
    unit: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The reference engine takes long enough to be caught at work."""
    from surge_sim.scenario.load import load_scenario
    from surge_sim.statistics.run import run

    scenario = load_scenario(unit)
    here = run(scenario, surges=14, processes=1, engine="compiled")
    with dask(tmp_path) as running:

        def kill_after(done: list[int]) -> Any:
            def progress(steps: int) -> None:
                done.append(steps)
                if len(done) == 3:
                    os.kill(running.workers[0].pid, signal.SIGKILL)

            return progress

        there = run(
            scenario, surges=14, engine="reference", cluster=running.address,
            progress=kill_after([]),
        )  # fmt: skip
    assert there.surges.equals(here.surges)
    assert there.waits.equals(here.waits)
    assert there.use_over_time.equals(here.use_over_time)


def too_long(*_: object) -> None:
    raise AssertionError("it hangs")


@contextmanager
def at_most(seconds: int, then: Callable[..., None] = too_long) -> Iterator[None]:
    """Do something, or fail, when the block takes longer."""
    before = signal.signal(signal.SIGALRM, then)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def refusal(address: str, **more: Any) -> str:
    with pytest.raises(ScenarioError) as error, workers(cluster=address, **more):
        pass
    return str(error.value)


def test_nobody_at_the_address_is_said_and_ends_with_2(
    unit: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(cluster_module, "ANSWER_S", 1.0)
    address = f"127.0.0.1:{free_port()}"
    assert exit_code_of(["run", "unit.yaml", "--surges", "4", "--cluster", address]) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert f"--cluster: no Dask scheduler answers at {address} (Timed out" in shown.err
    assert "dask scheduler" in shown.err
    assert not [path for path in Path("results").glob("*") if any(path.iterdir())]


def test_an_address_that_is_none_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_module, "ANSWER_S", 1.0)
    for address in ("nowhere://x", "127.0.0.1:port", ""):
        assert refusal(address).count("no Dask scheduler answers at") == 1


def test_one_who_listens_and_says_nothing_is_not_awaited_for_ever(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(cluster_module, "BUSY_S", 1.0)
    with socket.create_server(("127.0.0.1", 0)) as mute, at_most(20):
        address = f"127.0.0.1:{mute.getsockname()[1]}"
        assert f"answers at {address} (1 s without a word)." in refusal(address)


def test_one_who_speaks_of_something_else_is_no_scheduler() -> None:
    with socket.create_server(("127.0.0.1", 0)) as other, at_most(20):
        address = f"127.0.0.1:{other.getsockname()[1]}"

        def greet_otherwise() -> None:
            there, _ = other.accept()
            there.sendall(b"220 mail.example ready\r\n")

        threading.Thread(target=greet_otherwise, daemon=True).start()
        assert f"no Dask scheduler answers at {address} (" in refusal(address)


def test_a_stop_is_heard_while_somebody_says_nothing() -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    with socket.create_server(("127.0.0.1", 0)) as mute, at_most(2, stop):
        begun = time.monotonic()
        with (
            pytest.raises(KeyboardInterrupt),
            workers(cluster=f"127.0.0.1:{mute.getsockname()[1]}"),
        ):
            pass
    assert time.monotonic() - begun < cluster_module.BUSY_S / 2


def test_a_caller_in_a_loop_of_its_own_can_connect(two_workers: Running) -> None:
    """As in a notebook."""

    async def count() -> int:
        with workers(cluster=two_workers.address) as there:
            return there.count

    assert asyncio.run(count()) == 2


@own_cluster
def test_a_scheduler_without_workers_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with dask(tmp_path, count=0) as running:
        monkeypatch.setattr(cluster_module, "ANSWER_S", 3.0)
        said = refusal(running.address)
    assert "has no workers" in said and "dask worker" in said


@own_cluster
def test_workers_without_the_package_are_said(tmp_path: Path) -> None:
    """A package of that name that cannot be loaded stands before the real one."""
    empty = tmp_path / "surge_sim"
    empty.mkdir()
    (empty / "__init__.py").write_text("raise ImportError('not installed here')\n")
    path = os.pathsep.join(filter(None, [str(tmp_path), os.environ.get("PYTHONPATH")]))
    with dask(tmp_path, count=1, PYTHONPATH=path) as running:
        said = refusal(running.address)
    assert "cannot load surge_sim (not installed here)" in said
    assert "Install the same surge-sim[cluster]" in said


@pytest.mark.parametrize(
    ("field", "theirs"), [("surge_sim", "0.0.9"), ("sources", "abc"), ("numpy", "1.9")]
)
def test_another_program_on_the_workers_is_said(
    two_workers: Running, monkeypatch: pytest.MonkeyPatch, field: str, theirs: str
) -> None:
    """Told from this side: it is this machine's program that is another."""
    other = cluster_module.program()._replace(**{field: theirs})
    monkeypatch.setattr(cluster_module, "program", lambda: other)
    said = refusal(two_workers.address)
    assert f"has {field} " in said and f"this machine {theirs}." in said


def test_another_python_on_the_workers_is_said(
    two_workers: Running, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = cluster_module.program()._replace(python="3.99")
    monkeypatch.setattr(cluster_module, "program", lambda: other)
    assert "this machine Python 3.99" in refusal(two_workers.address)


def test_a_worker_of_another_program_plays_nothing() -> None:
    """One that comes in mid-run is asked again with each message."""
    other = cluster_module.program()._replace(sources="abc")
    answer = cluster_module.play_there(b"never read", [1], other, "reference")
    assert answer == cluster_module._Wrong(cluster_module.program())


def test_a_missing_extra_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    said = refusal("127.0.0.1:1")
    assert "Dask is not installed." in said and "pip install '.[cluster]'" in said


def test_processes_and_a_cluster_exclude_each_other() -> None:
    assert "leave one of the two out" in refusal("127.0.0.1:1", processes=2)
