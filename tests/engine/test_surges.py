"""Surges shared among workers: in order, a few under way at a time, the same however split."""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field

import pytest

from surge_sim.engine.surges import Here, in_order, messages
from surge_sim.errors import Fault, ScenarioError


def square(surge: int) -> int:
    return surge * surge


def who(surge: int) -> tuple[int, int]:
    return surge, os.getpid()


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


@pytest.mark.parametrize("processes", [1, 2, 3])
def test_results_come_in_order_whatever_the_number_of_processes(processes: int):
    numbers = [5, 3, *range(100, 160), 0]
    found = list(Here(processes).over(square, numbers, engine="reference"))
    assert found == [number * number for number in numbers]


def test_two_processes_share_the_work_and_this_one_only_waits():
    done = list(Here(2).over(who, range(40), engine="reference"))
    assert [surge for surge, _ in done] == list(range(40))
    assert os.getpid() not in {process for _, process in done}


def test_a_fault_found_in_a_worker_comes_back_whole():
    with pytest.raises(ScenarioError) as error:
        list(Here(2).over(refuse, range(20), engine="reference"))
    assert [fault.file for fault in error.value.faults] == ["a.yaml", "b.yaml"]
