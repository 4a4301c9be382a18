"""The same work on an existing Dask scheduler: what is played there is what is played here.

Only workers that hold the very same program are used. A worker that dies costs time, not
results: its surges are played again elsewhere, and a surge is the same wherever it is played.
Both sides exchange pickles, so each must trust the other and whoever can reach the scheduler.
"""

from __future__ import annotations

import asyncio
import logging
import time
import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from queue import SimpleQueue
from threading import Thread
from typing import Any, NamedTuple, NoReturn, cast

from surge_sim.engine.messages import (
    UNDER_WAY,
    Join,
    Program,
    Result,
    Task,
    first_two,
    in_order,
    messages,
    program,
    say_compiling,
    several_packed,
)
from surge_sim.errors import Fault, ScenarioError

OPTION = "--cluster"
#: somebody must listen at the address, and the first worker be there, within this time [s]
ANSWER_S = 10.0
#: who listens there may be busy: so long for the first words, and again for the registration [s]
BUSY_S = 40.0
#: without any worker for so long the work is given up [s]
ALONE_S = 60.0
#: a result is awaited for so long before the workers are counted again [s]
_LOOK_S = 2.0
#: what is under way is left to the cluster after this time [s]
_FAREWELL_S = 0.5


class _Wrong(NamedTuple):
    """Answer of a worker that holds another program and has played nothing."""

    program: Program


def _look_around() -> Callable[[], Any]:
    """Return a function that also a worker without this package can be asked to call.

    A function inside a function travels as its code, not as the name of a module.
    """

    def look() -> Any:
        try:
            from surge_sim.engine.compiled.code_cache import is_cached
            from surge_sim.engine.messages import program

            return tuple(program()), is_cached()
        except ImportError as error:
            return str(error)

    return look


def play_there(
    packed: bytes, numbers: Sequence[int], wanted: Program, engine: str
) -> list[Any] | _Wrong:
    """Play the surges of one message, in the worker."""
    if program() != wanted:
        return _Wrong(program())
    if engine == "compiled":
        from surge_sim.engine.compiled.play import compile_now

        compile_now()
    return several_packed(packed, numbers)


class Cluster:
    """The workers of a Dask scheduler."""

    def __init__(self, client: Any, address: str) -> None:
        self._client = client
        self._address = address
        self._all_compiled = False

    @property
    def count(self) -> int:
        """How many surges are played at once."""
        return max(1, sum(self._client.nthreads().values()))

    def over(
        self,
        task: Task[Result],
        numbers: Sequence[int],
        engine: str = "compiled",
        join: Join[Result] | None = None,
    ) -> Iterator[Result]:
        """Do a task for every surge; see :meth:`surge_sim.engine.messages.Workers.over`."""
        import cloudpickle

        if engine == "compiled" and len(numbers):
            self._say_compiling()
        packed, wanted, count = cloudpickle.dumps((task, join)), program(), self.count

        def submit(batch: Sequence[int]) -> Any:
            # the task goes along each time: kept on a worker it would die with that worker
            return self._client.submit(play_there, packed, batch, wanted, engine, pure=False)

        yield from in_order(submit, self._result_of, messages(numbers, count), UNDER_WAY * count)

    def check(self) -> None:
        """See that there are workers, and that all hold this very program."""
        from distributed import TimeoutError as TookTooLong

        try:
            self._client.wait_for_workers(1, timeout=ANSWER_S)
        except (TookTooLong, TimeoutError):
            self._refuse(
                f"the scheduler at {self._address} has no workers.",
                f"Start some: dask worker {self._address}",
            )
        self._check_python()
        there = {f"worker {name}": said for name, said in self._look().items()}
        # the scheduler reads each message on its way
        there["the scheduler"] = self._client.run_on_scheduler(_look_around())
        for name, said in sorted(there.items()):
            if isinstance(said, str):
                self._refuse(
                    f"{name} cannot load surge_sim ({said}).",
                    "Install the same surge-sim[cluster] where the scheduler and the workers run.",
                )
            self._must_match(name, Program(*said[0]))

    def _look(self) -> dict[str, Any]:
        """What each worker says of itself; one that goes away says nothing."""
        said = self._client.run(_look_around(), on_error="return")
        return {name: one for name, one in said.items() if not isinstance(one, BaseException)}

    def _check_python(self) -> None:
        """Code travels between Pythons of one feature version only."""
        said = self._client.get_versions(check=False)
        there = {"the scheduler": said["scheduler"]}
        there |= {f"worker {name}": one for name, one in said["workers"].items()}
        here = program().python
        for name, one in there.items():
            python = first_two(str((one or {}).get("host", {}).get("python", here)))
            if python != here:
                self._refuse(
                    f"{name} runs Python {python}, this machine Python {here}.",
                    "Use the same Python on both sides.",
                )

    def _must_match(self, name: str, said: Program) -> None:
        for what, theirs, ours in zip(Program._fields, said, program(), strict=True):
            if theirs != ours:
                self._refuse(
                    f"{name} has {what} {theirs}, this machine {ours}.",
                    "Only the very same program gives the same answer: install it on both sides.",
                )

    def _say_compiling(self) -> None:
        """Announce that workers will compile; each does it with its first surges."""
        if self._all_compiled:
            return
        waiting = sum(not said[1] for said in self._look().values() if not isinstance(said, str))
        if waiting:
            say_compiling(f"on {waiting} worker{'s' if waiting > 1 else ''}")
        self._all_compiled = True

    def _result_of(self, future: Any) -> list[Any]:
        """Wait for the results of one message as long as anybody is there to play it."""
        from concurrent.futures import CancelledError

        from distributed import KilledWorker
        from distributed import TimeoutError as TookTooLong

        alone_since: float | None = None
        while True:
            try:
                results = future.result(timeout=_LOOK_S)
            except KilledWorker:
                self._refuse(
                    "worker after worker died while it played the same surges.",
                    "They may lack memory: give each worker more, or fewer threads.",
                )
            except (TookTooLong, TimeoutError):
                alone_since = self._alone(alone_since)
            except (CancelledError, OSError):
                self._lost()
            else:
                if isinstance(results, _Wrong):
                    self._must_match("a worker that came later", results.program)
                return list(results)

    def _alone(self, since: float | None) -> float | None:
        """Give up when nobody has been there for too long; return since when that is so."""
        try:
            if self._client.nthreads():
                return None
        except (OSError, RuntimeError):
            self._lost()
        now = time.monotonic()
        since = now if since is None else since
        if now - since > ALONE_S:
            self._refuse(
                f"the scheduler at {self._address} has had no worker for {ALONE_S:.0f} s.",
                "Start workers again and repeat the command.",
            )
        return since

    def _lost(self) -> NoReturn:
        self._refuse(
            f"the scheduler at {self._address} went away.", "Start it and repeat the command."
        )

    def _refuse(self, found: str, right: str) -> NoReturn:
        raise ScenarioError([Fault(OPTION, 0, found, right)]) from None


@contextmanager
def connected(address: str) -> Iterator[Cluster]:
    """Connect to a Dask scheduler while the block runs.

    Parameters
    ----------
    address : str
        For example ``127.0.0.1:8786``.

    Yields
    ------
    Cluster

    Raises
    ------
    ScenarioError
        Dask is not installed, nobody answers, there are no workers, or their program is another.
    """
    try:
        from distributed import Client
    except ImportError as error:
        right = "Install it: pip install '.[cluster]', in a clone of this project"
        raise ScenarioError([Fault(OPTION, 0, "Dask is not installed.", right)]) from error
    # what goes wrong is said by the faults above, not by the library's log
    log = logging.getLogger("distributed")
    level = log.level
    log.setLevel(logging.CRITICAL + 1)
    try:
        client = _client(Client, address)
        try:
            cluster = Cluster(client, address)
            cluster.check()
            yield cluster
        except BaseException:
            # a stop does not wait for a farewell
            client.close(timeout=_FAREWELL_S)
            raise
        client.close(timeout=ANSWER_S)
    finally:
        log.setLevel(level)


def _client(make: Callable[..., Any], address: str) -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        _greet(address)
        try:
            return make(address, timeout=BUSY_S, set_as_default=False)
        except (OSError, ValueError, TypeError, RuntimeError, AssertionError) as error:
            # the library asserts that its loop has begun, which a very busy machine may put off
            _nobody(address, error)


def _nobody(address: str, error: Exception) -> NoReturn:
    why = str(error) or type(error).__name__
    found = f"no Dask scheduler answers at {address} ({why})."
    right = "Start one with `dask scheduler`, and write its address: 127.0.0.1:8786"
    raise ScenarioError([Fault(OPTION, 0, found, right)]) from error


def _greet(address: str) -> None:
    """Exchange the first words; the library would wait for ever for the answer to its own.

    In a thread of its own, as the caller may be in a loop already (a notebook), and one that
    nobody waits for, so that a stop from the keyboard is heard at once.
    """
    came: SimpleQueue[Exception | None] = SimpleQueue()

    def greet() -> None:
        try:
            asyncio.run(_first_words(address))
            came.put(None)
        except TimeoutError:
            came.put(TimeoutError(f"{BUSY_S:.0f} s without a word"))
        except Exception as error:  # whatever another sort of program may answer
            came.put(error)

    Thread(target=greet, daemon=True).start()
    error = came.get()
    if error is not None:
        _nobody(address, error)


async def _first_words(address: str) -> None:
    from distributed import comm, security

    # the library's functions have no types
    connect, safely = cast(Any, comm).connect, cast(Any, security).Security()
    how = safely.get_connection_args("client")
    met = await asyncio.wait_for(connect(address, timeout=ANSWER_S, **how), BUSY_S)
    met.abort()
