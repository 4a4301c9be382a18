"""A stop from the keyboard ends what it should, wherever it falls."""

from __future__ import annotations

import contextlib
import signal
import sys
import threading
import time

import pytest

from surge_sim.engine.keyboard import stop_is_heard


@pytest.fixture(autouse=True)
def usual_handler():
    """Python's own handler, as a program has it; the one before comes back."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def press() -> None:
    signal.raise_signal(signal.SIGINT)


def press_and_swallow() -> None:
    with contextlib.suppress(KeyboardInterrupt):
        press()


def press_and_hide() -> None:
    try:
        press()
    except KeyboardInterrupt:
        raise TypeError("something else went wrong") from None


class Cleared:
    """Presses while it is cleared away, where Python can only say that it drops the stop."""

    def __del__(self) -> None:
        press()


def press_while_clearing_away() -> None:
    Cleared()


@pytest.mark.parametrize(
    "what", [press, press_and_swallow, press_and_hide, press_while_clearing_away]
)
def test_a_stop_ends_the_block_whatever_becomes_of_it_inside(what, monkeypatch):
    told = []
    monkeypatch.setattr(sys, "unraisablehook", told.append)
    with pytest.raises(KeyboardInterrupt), stop_is_heard():
        what()
    assert told == [] and sys.unraisablehook == told.append
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_a_stop_that_was_swallowed_is_raised_again_before_the_block_ends():
    went_on = 0
    with pytest.raises(KeyboardInterrupt), stop_is_heard():
        press_and_swallow()
        for _ in range(600):
            time.sleep(0.05)
            went_on += 1
    assert went_on < 600
    assert not any(isinstance(thread, threading.Timer) for thread in threading.enumerate())


def test_a_stop_is_heard_at_once_where_nothing_swallows_it():
    went_on = False
    with pytest.raises(KeyboardInterrupt), stop_is_heard():
        press()
        went_on = True
    assert not went_on


def test_without_a_stop_nothing_changes():
    with stop_is_heard():
        pass
    with pytest.raises(TypeError, match="a fault"), stop_is_heard():
        raise TypeError("a fault")
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_whoever_else_listens_to_the_keyboard_goes_on_listening():
    heard = []
    signal.signal(signal.SIGINT, lambda number, frame: heard.append(number))
    with stop_is_heard():
        press()
    assert heard == [signal.SIGINT]


def test_other_threads_may_compile_too():
    done = []

    def work() -> None:
        with stop_is_heard():
            done.append(True)

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert done == [True]
