"""A stop from the keyboard that is not lost."""

from __future__ import annotations

import _thread
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

#: a stop that was swallowed is raised again after this time [s]
_AGAIN_S = 0.5


@contextmanager
def stop_is_heard() -> Iterator[None]:
    """End the block with a stop from the keyboard, even if something in the block swallowed it.

    Python drops what is raised while it clears an object away or calls back from foreign code,
    and a compiler does both at every step: a stop in such a moment would go by unheard.

    Raises
    ------
    KeyboardInterrupt
        At once, or half a second later, or at the end of the block.
    """
    main = threading.current_thread() is threading.main_thread()
    if not main or signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        # whoever else listens to the keyboard decides
        yield
        return
    again: list[threading.Timer] = []

    def stop(number: int, frame: object) -> None:
        again.append(threading.Timer(_AGAIN_S, _thread.interrupt_main))
        again[-1].start()
        raise KeyboardInterrupt

    told = sys.unraisablehook

    def tell(dropped: sys.UnraisableHookArgs) -> None:
        # a stop that Python could only drop is raised below: nobody needs to read of it here
        if dropped.exc_type is not KeyboardInterrupt:
            told(dropped)

    try:
        signal.signal(signal.SIGINT, stop)
        sys.unraisablehook = tell
        yield
    finally:
        # one inside the other: a stop that falls in here leaves nothing behind either
        try:
            sys.unraisablehook = told
        finally:
            try:
                for timer in again:
                    timer.cancel()
                    timer.join()
            finally:
                signal.signal(signal.SIGINT, signal.default_int_handler)
        if again:
            raise KeyboardInterrupt from None
