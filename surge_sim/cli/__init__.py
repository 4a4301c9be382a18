"""The command line: its exit codes, and the last words of the program on standard error.

Only the standard library is loaded here, so that stops are heard while the rest is loaded.
"""

from __future__ import annotations

import signal
import sys
from contextlib import suppress

PROGRAM = "surge-sim"

#: an error of the program itself
BUG = 70
#: the computer did not let the program finish
NOT_FINISHED = 71

EXIT_CODES = {
    "0": "done",
    "1": "no stock within the limits meets the target; verify: a difference",
    "2": "something in the input is wrong",
    "70": "an error of the program itself",
    "71": "the computer did not let it finish: a full disk, no memory",
    "130": "stopped from the keyboard",
    "141": "whoever read the output has gone",
    "129, 143": "told to end: a closed terminal, another program",
}


def stopped() -> int:
    """Say that the program was stopped, and return the code of that."""
    say("stopped from the keyboard", before="\n")
    return 128 + signal.SIGINT


def say(text: str, before: str = "") -> None:
    """Print a line on standard error, with the program's name; `before` stands in front of it."""
    from surge_sim.plain import visible

    with suppress(OSError):
        print(f"{before}{PROGRAM}: {visible(text)}", file=sys.stderr, flush=True)
