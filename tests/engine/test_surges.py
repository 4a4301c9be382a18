"""Surges shared among workers: in order, a few under way at a time, the same however split."""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field

import pytest

from surge_sim.engine import surges
from surge_sim.engine.messages import in_order, messages, several_packed
from surge_sim.engine.surges import Here, started
from surge_sim.equipment.stock import Stock
from surge_sim.errors import Fault, NotFinished, ScenarioError
from surge_sim.scenario.load import load_scenario
from surge_sim.statistics.run import PlayAndSummarise
from tests.conftest import ROOT, plain_environment


def square(surge: int) -> int:
    return surge * surge


def who(surge: int) -> tuple[int, int]:
    return surge, os.getpid()


def slow(surge: int) -> tuple[int, int]:
    """Keep the processor busy for a hundredth of a second."""
    end = time.process_time() + 0.01
    while time.process_time() < end:
        pass
    return who(surge)


def waiting(surge: int) -> tuple[int, int]:
    """Take as long by the clock, while others have the processor."""
    time.sleep(0.01)
    return who(surge)


def refuse(surge: int) -> int:
    if surge == 7:
        raise ScenarioError([Fault("b.yaml", 2, "x", "y"), Fault("a.yaml", 1, "x", "y")])
    return surge


@dataclass
class Desk:
    """Stands for workers: counts messages sent whose results nobody has taken yet."""

    waiting: int = 0
    most: int = 0
    sent: list[Future[list[int]]] = field(default_factory=list)

    def submit(self, batch: Sequence[int]) -> Future[list[int]]:
        self.waiting += 1
        self.most = max(self.most, self.waiting)
        future: Future[list[int]] = Future()
        self.sent.append(future)
        if len(self.sent) < 40:
            future.set_result(list(batch))
        return future

    def take(self, future: Future[list[int]]) -> list[int]:
        self.waiting -= 1
        return future.result(timeout=1)


def test_no_more_than_a_few_messages_wait_for_whoever_takes_results_slowly():
    """Memory does not grow with the number of surges: 30 messages, 6 at most are out."""
    desk = Desk()
    taken = []
    for surge in in_order(desk.submit, desk.take, messages(range(30), 1_000), 6):
        assert desk.waiting <= 6
        taken.append(surge)
    assert (taken, desk.most, desk.waiting) == (list(range(30)), 6, 0)


def test_what_is_still_to_be_played_is_called_off_when_nobody_wants_it_any_more():
    desk = Desk()
    results = in_order(desk.submit, desk.take, messages(range(100), 1_000), 50)
    assert next(results) == 0
    results.close()
    assert [future.cancelled() for future in desk.sent] == [False] * 39 + [True] * 11


@pytest.mark.parametrize("count", [0, 1, 3, 4, 31, 1_000])
@pytest.mark.parametrize("workers", [1, 2, 64])
def test_messages_hold_every_surge_once_and_are_small(count: int, workers: int):
    sent = list(messages(range(count), workers))
    assert [surge for batch in sent for surge in batch] == list(range(count))
    assert all(1 <= len(batch) <= 32 for batch in sent)


@pytest.fixture
def eager(monkeypatch: pytest.MonkeyPatch) -> None:
    """Share work with workers as soon as two surges are done, however little is left."""
    monkeypatch.setattr(surges, "WORTH_S", -1.0)


@pytest.fixture
def two() -> Iterator[Here]:
    here = Here(2)
    yield here
    here.end()


@pytest.mark.usefixtures("eager")
@pytest.mark.parametrize("processes", [1, 2, 3])
def test_results_come_in_order_whatever_the_number_of_processes(processes: int):
    numbers = [5, 3, *range(100, 160), 0]
    with surges.workers(processes) as here:
        found = list(here.over(square, numbers, engine="reference"))
    assert found == [number * number for number in numbers]


@pytest.mark.usefixtures("eager")
def test_two_processes_share_the_work_and_this_one_only_begins_it(two: Here):
    done = list(two.over(who, range(40), engine="reference"))
    assert [surge for surge, _ in done] == list(range(40))
    assert {process for _, process in done[:2]} == {os.getpid()}
    assert os.getpid() not in {process for _, process in done[2:]}
    # once they are there, they do all
    assert os.getpid() not in {process for _, process in two.over(who, [1], engine="reference")}


def test_small_jobs_start_no_workers(two: Here):
    assert {process for _, process in two.over(who, range(1_000), engine="reference")} == {
        os.getpid()
    }


def test_a_small_job_is_small_on_a_busy_machine_too(two: Here, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(surges, "WORTH_S", 0.1)
    found = two.over(waiting, range(40), engine="reference")
    assert {process for _, process in found} == {os.getpid()}


def test_many_small_jobs_are_a_large_one(two: Here, monkeypatch: pytest.MonkeyPatch):
    """Of a hundredth of a second each: what was done before counts as well as what is left."""
    monkeypatch.setattr(surges, "WORTH_S", 0.1)
    processes = {pid for _ in range(20) for _, pid in two.over(slow, [1], engine="reference")}
    assert os.getpid() in processes and len(processes) > 1


@pytest.mark.usefixtures("eager")
def test_a_fault_found_in_a_worker_comes_back_whole(two: Here):
    with pytest.raises(ScenarioError) as error:
        list(two.over(refuse, range(20), engine="reference"))
    assert [fault.file for fault in error.value.faults] == ["a.yaml", "b.yaml"]


def test_a_worker_loads_neither_tables_nor_figures_nor_screens():
    """Each would cost every worker as much again as the engine."""
    scenario = load_scenario(ROOT / "scenarios" / "rule_out_unit.yaml")
    task = PlayAndSummarise(scenario, Stock(3, 5, 2), 1, "reference")
    pool = started(1)
    try:
        pool.executor.submit(several_packed, pickle.dumps((task, None)), [0]).result()
        loaded = set(pool.executor.submit(eval, "list(__import__('sys').modules)").result())
    finally:
        pool.end()
    assert "numpy" in loaded and "surge_sim.engine.play" in loaded
    unwanted = {"pandas", "matplotlib", "seaborn", "scipy.stats", "scipy.optimize", "rich", "click"}
    assert not unwanted & loaded


def test_what_a_task_keeps_for_its_next_use_stays_here(two: Here, monkeypatch):
    """Workers get it as it was: arrays would come back writable, for which nothing is compiled."""
    monkeypatch.setattr(surges, "WORTH_S", -1.0)
    kept = list(two.over(Keeping(), range(6), engine="reference"))
    assert kept[:3] == [1, 2, 1]


@pytest.mark.usefixtures("eager")
@pytest.mark.parametrize("processes", [1, 2])
def test_results_are_joined_where_they_come_about(processes: int):
    """Sums of squares, and the largest: of at most 32 surges each, in the order of the surges."""
    with surges.workers(processes) as here:
        sums = list(here.over(square, range(100), engine="reference", join=sum))
        largest = list(here.over(square, range(100), engine="reference", join=max))
    assert sum(sums) == sum(number * number for number in range(100))
    assert 4 <= len(sums) <= 60
    assert largest == sorted(largest) and largest[-1] == 99**2


@dataclass
class Keeping:
    """Counts its uses."""

    used: int = 0

    def __call__(self, surge: int) -> int:
        self.used += 1
        return self.used


def test_a_worker_that_is_killed_while_it_starts_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def gone(count: int) -> surges.Pool:
        raise EOFError

    monkeypatch.setattr(surges, "started", gone)
    monkeypatch.setattr(surges, "WORTH_S", 0.0)
    with pytest.raises(NotFinished, match="killed while it started"):
        list(Here(2).over(slow, range(10), "reference"))


@dataclass
class Dying:
    """A task so large that several do not fit into a pipe; one of its surges kills its worker."""

    ballast: bytes = bytes(300_000)

    def __call__(self, surge: int) -> int:
        slow(surge)
        if surge == 300:
            os.kill(os.getpid(), signal.SIGKILL)
        return surge


@pytest.mark.slow
@pytest.mark.skipif(not surges.FORKED, reason="processes are killed otherwise there")
def test_a_killed_worker_does_not_hang_a_program_that_sends_large_tasks() -> None:
    """Before 3.11.5 Python hung at its exit: only there this can fail."""
    script = (
        "from surge_sim.engine.surges import Here\n"
        "from tests.engine.test_surges import Dying\n"
        "list(Here(2).over(Dying(), range(600), 'reference'))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, timeout=120,
        env=plain_environment(),
    )  # fmt: skip
    assert done.returncode == 1
    assert "NotFinished: a worker process was killed" in done.stderr
