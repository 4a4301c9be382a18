"""Work that no stop from the keyboard can fall into."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from threading import Thread
from typing import TypeVar

Result = TypeVar("Result")


def apart(work: Callable[[], Result]) -> Result:
    """Do something in a thread of its own, and wait for it.

    Python raises a stop in the main thread, which only waits here and can be stopped at once. A
    compiler would swallow it, as Python drops what is raised in a callback from foreign code; a
    process that is half started would complain.
    """
    done: Future[Result] = Future()

    def do() -> None:
        try:
            done.set_result(work())
        except BaseException as error:
            done.set_exception(error)

    Thread(target=do, daemon=True).start()
    return done.result()
