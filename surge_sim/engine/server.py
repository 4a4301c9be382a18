"""What the server of worker processes loads, so that each worker is forked with it.

Nothing else may import this module: it stops hearing stops.
"""

from __future__ import annotations

import signal

import surge_sim.demand.draw
import surge_sim.engine.play  # noqa: F401
from surge_sim.engine.compiled import is_kept
from surge_sim.engine.processes import STOPS

# a stop at the keyboard is for the program, which ends its workers; what it blocked in the
# process that became the server would be blocked in all that come from it
signal.signal(signal.SIGINT, signal.SIG_IGN)
signal.pthread_sigmask(signal.SIG_UNBLOCK, STOPS)

if is_kept():
    from surge_sim.engine.compiled.play import compile_now

    compile_now()
