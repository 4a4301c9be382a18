"""What the server of worker processes loads, so that each worker is forked with it.

Nothing else may import this module: it stops hearing stops, and ends with the program.
"""

from __future__ import annotations

import os
import signal
from threading import Event, Thread

from surge_sim.engine.surges import PARENT, STOPS

#: the program is looked for so often [s]
_LOOK_S = 0.1


def end_with_program(loaded: Event) -> None:
    """End when the program has ended; the server itself sees that only once all is loaded."""
    while not loaded.wait(_LOOK_S):
        if str(os.getppid()) != os.environ[PARENT]:
            os._exit(1)


def load() -> None:
    """Load what every surge needs."""
    import surge_sim.demand.draw
    import surge_sim.engine.play  # noqa: F401
    from surge_sim.engine.compiled.code_cache import is_cached

    if is_cached():
        from surge_sim.engine.compiled.play import compile_now

        compile_now()


# a stop at the keyboard is for the program, which ends its workers; what it blocked in the
# process that became the server would be blocked in all that come from it
signal.signal(signal.SIGINT, signal.SIG_IGN)
signal.pthread_sigmask(signal.SIG_UNBLOCK, STOPS)

_loaded = Event()
_watch = Thread(target=end_with_program, args=[_loaded])
_watch.start()
load()
# a process with threads is not forked
_loaded.set()
_watch.join()
