"""Kills at random moments: nothing lost, nothing half written, nothing left running."""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from functools import cache
from itertools import chain
from pathlib import Path

from tests.conftest import plain_environment
from tests.robustness.cases import SCENARIO, good_files
from tests.robustness.trial import Outcome

#: one kill in so many finds no compiled engine, so that its making and keeping is killed too
FRESH_CACHE = 12
#: a stop must have ended by then, and a worker whose main process is gone too: twice as long as
#: is promised, and more, as many are killed side by side [s]
_STOPPED_S, _GONE_S = 5.0, 10.0
_SIGNALS = (
    (signal.SIGKILL,), (signal.SIGKILL,), (signal.SIGTERM,), (signal.SIGINT,),
    (signal.SIGINT, signal.SIGINT), (signal.SIGTERM, signal.SIGTERM),
)  # fmt: skip
_COMMANDS = (
    ("run", SCENARIO, "--surges", "60", "--processes", "1", "--entries-out", "rows.csv"),
    ("run", SCENARIO, "--surges", "400", "--processes", "2"),
    ("size", SCENARIO, "--choose", "20", "--surges", "100", "--processes", "2",
     "--target", "share_of_surges=50%"),
)  # fmt: skip
_EARLIER = b"an earlier result\n"


def _hear_all() -> None:
    """Hear every stop again: an attack that was started in the background hears no keyboard."""
    for number in {signal.SIGHUP, *chain(*_SIGNALS)} - {signal.SIGKILL}:
        signal.signal(number, signal.SIG_DFL)


def started(
    words: tuple[str, ...], folder: Path, cache_folder: Path | None
) -> subprocess.Popen[bytes]:
    """Start the program in a folder and a session of its own; what it says goes to `said` there."""
    environment = plain_environment()
    if cache_folder is not None:
        environment["XDG_CACHE_HOME"] = str(cache_folder)
    with open(folder / "said", "wb") as said:
        return subprocess.Popen(
            [sys.executable, "-m", "surge_sim", *words],
            cwd=folder, env=environment, stdin=subprocess.DEVNULL, stdout=said, stderr=said,
            start_new_session=True, preexec_fn=_hear_all,
        )  # fmt: skip


def running_in(session: int) -> list[int]:
    """Return the processes of a session that have not ended."""
    found = []
    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit():
            continue
        try:
            fields = (entry / "stat").read_text(encoding="utf-8").rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[3]) == session and fields[0] not in "ZX":
            found.append(int(entry.name))
    return found


@cache
def _usual(number: int) -> tuple[float, bytes]:
    """How long a command takes when nobody stops it [s], and the requests that it writes."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        _lay_out(folder)
        begin = time.monotonic()
        started((*_COMMANDS[number], "--out", "out"), folder, None).wait()
        took_s, rows = time.monotonic() - begin, folder / "rows.csv"
        return took_s, rows.read_bytes() if rows.is_file() else b""


def _lay_out(folder: Path) -> dict[str, bytes]:
    files = {**good_files()[0], "earlier.csv": _EARLIER}
    for name, data in files.items():
        (folder / name).write_bytes(data)
    return files


def kill_of(seed: int, number: int) -> Outcome:
    """Start a command, kill it at a random moment, and look at what is left."""
    chance = random.Random(f"kill {seed} {number}")
    place = chance.randrange(len(_COMMANDS))
    signals = chance.choice(_SIGNALS)
    fresh = number % FRESH_CACHE == FRESH_CACHE - 1
    folder = Path(tempfile.mkdtemp(prefix="surge-sim-kill-"))
    cache_folder = folder.with_name(f"{folder.name}-cache") if fresh else None
    try:
        files = _lay_out(folder)
        after_s = chance.random() * (90.0 if fresh else 1.1 * _usual(place)[0])
        process = started((*_COMMANDS[place], "--out", "out"), folder, cache_folder)
        try:
            rows = _usual(place)[1]
            return _killed(process, folder, files, signals, after_s, cache_folder, rows)
        finally:
            for one in running_in(process.pid):
                os.kill(one, signal.SIGKILL)
            process.wait()
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        if cache_folder is not None:
            shutil.rmtree(cache_folder, ignore_errors=True)


def _killed(
    process: subprocess.Popen[bytes],
    folder: Path,
    files: dict[str, bytes],
    signals: tuple[signal.Signals, ...],
    after_s: float,
    cache_folder: Path | None,
    whole_rows: bytes,
) -> Outcome:
    what = " and ".join(one.name for one in signals)
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(after_s)
    before = process.poll() is not None
    for one in () if before else signals:
        process.send_signal(one)
        time.sleep(0.2)
    try:
        code = process.wait(_STOPPED_S)
    except subprocess.TimeoutExpired:
        return Outcome("hang", f"after {what}", f"killed after {after_s:.1f} s")
    end = time.monotonic() + _GONE_S
    while running_in(process.pid):
        if time.monotonic() > end:
            return Outcome("left running", f"after {what}", f"killed after {after_s:.1f} s")
        time.sleep(0.2)
    said = (folder / "said").read_text(encoding="utf-8", errors="replace")
    # 1: a sizing that ended before, without a stock that keeps the target
    ended = code in (0, 1)
    if not ended and code not in (-signals[0], 128 + signals[0]):
        return Outcome("wrong code", f"{code} after {what}", said)
    if "Traceback" in said:
        return Outcome("traceback", f"after {what}", said)
    for name, data in files.items():
        if (folder / name).read_bytes() != data:
            return Outcome("input changed", name, said)
    left = {path.name for path in folder.iterdir()} - set(files) - {"said"}
    # a process that is killed outright cannot clear up; what it left must say that it is no result
    half = {name for name in left if "partial" in name}
    if signals[0] == signal.SIGKILL:
        left -= half
    if "out" in left and not (folder / "out" / "manifest.json").is_file():
        return Outcome("half a result", f"after {what}", said)
    # requests are written whole or not at all, before or after the folder
    rows = folder / "rows.csv"
    if rows.is_file() and rows.read_bytes() != whole_rows:
        return Outcome("half a result", f"rows.csv after {what}", said)
    if not ended and left - {"out", "rows.csv"}:
        return Outcome("left behind", f"{sorted(left)} after {what}", said)
    again = ("run", SCENARIO, "--surges", "4", "--processes", "1", "--out", "again")
    if started(again, folder, cache_folder).wait():
        return Outcome("no next run", f"after {what}", (folder / "said").read_text("utf-8"))
    return Outcome("ended before" if before else "nothing lost")
