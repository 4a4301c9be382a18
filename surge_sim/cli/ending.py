"""How the program ends: by itself, by a stop, or by an error, each with its exit code.

A first stop (Ctrl-C, a request to end, a closed terminal) is raised in the main thread, so that
half a result is put away; that may take less than two seconds. A second one ends at once. Python
tells the main thread of a signal only between two of its own steps, and a compiler or a large
simulated surge can be one step of many seconds; a thread of its own is told at once, and sees
that the time is kept. Worker processes end when this one does.

Only the standard library is loaded first, so that stops are heard while the rest is loaded.
"""

from __future__ import annotations

import errno
import gc
import os
import signal
import sys
import threading
from collections.abc import Sequence
from contextlib import suppress
from types import FrameType

from surge_sim.cli import BUG, NOT_FINISHED, PROGRAM, say, stopped

#: a stop has so long to put things away [s]
PATIENCE_S = 1.7

#: new objects before Python looks for those that nothing refers to: to look through all that is
#: loaded again and again takes a tenth of the time of a short command
_LOOK_EVERY = 200_000

#: what a system says when it has no more room, no more memory, or a disk that does not work
_NO_MORE = (
    errno.ENOSPC, errno.EFBIG, errno.EDQUOT, errno.EIO, errno.EROFS, errno.ENOMEM, errno.EAGAIN,
    errno.EMFILE, errno.ENFILE,
)  # fmt: skip

_stops: list[int] = []
_finished: list[int] = []
_ending = threading.Lock()


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the program and leave Python with its exit code."""
    _listen()
    gc.set_threshold(_LOOK_EVERY)
    # the library's tracker of semaphores warns of those that it clears away after a stop
    os.environ.setdefault("PYTHONWARNINGS", "ignore::UserWarning:multiprocessing.resource_tracker")
    try:
        code = _code_of(sys.argv[1:] if arguments is None else arguments)
        # the answer is out: a stop from here on ends at once, with the same code
        _finished.append(code)
    except KeyboardInterrupt:
        code = stopped()
    except SystemExit as ending:
        code = ending.code if isinstance(ending.code, int) else BUG
    if _stops:
        # nothing is waited for: neither workers nor a thread that compiles
        _drop_output()
        os._exit(code)
    # Python would look through all that is loaded once more, for a seventh of a command's time
    gc.freeze()
    sys.exit(code)


def _code_of(arguments: Sequence[str]) -> int:
    """Run the program; say what kept it from ending well."""
    if not _standard_streams():
        say("standard output is closed, so there is nowhere to print an answer.")
        return NOT_FINISHED
    from surge_sim.cli.main import exit_code_of
    from surge_sim.errors import NotFinished

    try:
        code = exit_code_of(arguments)
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # the reader (``head``, say) has seen enough
        _drop_output()
        return 141
    except NotFinished as error:
        reason = str(error)
    except MemoryError:
        reason = "there is not enough memory."
    except OSError as error:
        if error.errno not in _NO_MORE:
            return _bug()
        place = f"{os.fsdecode(error.filename)}: " if error.filename else ""
        reason = f"{place}{(error.strerror or str(error)).lower()}."
    except Exception:
        return _bug()
    _drop_output()
    say(f"could not finish: {reason}")
    return NOT_FINISHED


def _bug() -> int:
    import traceback

    if _stops:
        # some libraries turn a stop into an error of their own
        return stopped() if _stops[0] == signal.SIGINT else 128 + _stops[0]
    traceback.print_exc()
    say("this is an error of the program, not of your input. Please report the lines above.")
    return BUG


def _standard_streams() -> bool:
    """Open what the caller closed, or the next file would be opened in its place.

    Returns
    -------
    bool
        Whether standard output was open.
    """
    is_open = sys.stdout is not None
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode))  # noqa: SIM115
    return is_open


def _drop_output() -> None:
    """Let Python not try again to write what could not be written."""
    with suppress(OSError, ValueError):
        sys.stdout.flush()
        return
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _listen() -> None:
    """Hear stops, unless the program was started to run on whatever happens."""
    names = ("SIGINT", "SIGTERM", "SIGHUP")
    numbers = [getattr(signal, name) for name in names if hasattr(signal, name)]
    usual = (signal.SIG_DFL, signal.default_int_handler)
    kinds = [number for number in numbers if signal.getsignal(number) in usual]
    heard, told = os.pipe()
    os.set_blocking(told, False)
    threading.Thread(target=_keep_time, args=(heard, kinds), daemon=True).start()
    signal.set_wakeup_fd(told, warn_on_full_buffer=False)
    for number in kinds:
        signal.signal(number, _stop)
    sys.unraisablehook = _not_raised


def _stop(number: int, _: FrameType | None) -> None:
    """Raise the first stop; end at the second."""
    _stops.append(number)
    if _finished or len(_stops) > 1:
        _end_at_once(_stops[0])
    elif number == signal.SIGINT:
        raise KeyboardInterrupt
    else:
        sys.exit(128 + number)


def _not_raised(what: sys.UnraisableHookArgs) -> None:
    """End at once where a stop came in a moment from which nothing can be raised.

    Python calls this while it clears things away, and would drop the stop.
    """
    if _stops:
        _end_at_once(_stops[0])
    else:
        sys.__unraisablehook__(what)


def _keep_time(heard: int, kinds: Sequence[int]) -> None:
    """Wait for stops; give the first one its time."""
    first = 0
    for limit_s in (PATIENCE_S, 0.0):
        number = -1
        while number not in kinds:
            number = os.read(heard, 1)[0]
        first = first or number
        end = threading.Timer(limit_s, _end_at_once, [first])
        end.daemon = True
        end.start()


def _end_at_once(number: int) -> None:
    """End without waiting for anything."""
    if not _ending.acquire(blocking=False):
        # it is being done
        return
    if _finished:
        os._exit(_finished[0])
    files = sys.modules.get("surge_sim.report.files")
    if files is not None:
        files.clear_own()
    if sys.stderr.isatty():
        # a bar of progress hides it
        os.write(2, b"\x1b[?25h")
    if number == signal.SIGINT:
        os.write(2, f"\n{PROGRAM}: stopped from the keyboard\n".encode())
    os._exit(128 + number)
