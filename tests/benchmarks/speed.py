"""Entries per second: both engines, the bare pool of kits, and the drawing of the demand."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from unittest.mock import patch

import numpy as np

from surge_sim.demand import entries as drawn_entries
from surge_sim.engine import play as draws_of_plays
from surge_sim.engine.play import play, score
from surge_sim.engine.surges import compile_engine
from surge_sim.equipment.situation import situation_of
from surge_sim.equipment.stock import stock_in_hand
from surge_sim.scenario import checks
from surge_sim.scenario.load import Scenario, load_scenario, scenario_from_text
from surge_sim.statistics.run import PlayAndSummarise
from surge_sim.statistics.summary import Layout, summarise
from tests.benchmarks.bare import play_bare
from tests.benchmarks.row import Row, at_least, at_most, interleaved

ROOT = Path(__file__).parents[2]


#: surges that are drawn and played in turn
_IN_TURN = 32
#: entries below and above which drawing has a limit: 2 and 0.6 times what playing costs
_SMALL, _LARGE = 2_000, 20_000
#: plays of the compiled engine that are timed as one
_OFTEN = 10


def drawing_and_playing(scenario: Scenario, name: str, repeats: int) -> Iterator[Row]:
    """Draw surges as `run` does, play them in turn and sum them up.

    Not one surge again and again, which the processor's memory would know by heart.
    """
    task = PlayAndSummarise(scenario, stock_in_hand(scenario.settings), 1, "compiled")
    layout = Layout.of(scenario.settings)
    trials = []
    for _ in range(repeats + 1):
        drawing = playing = summing = entries = 0.0
        for surge in range(_IN_TURN):
            start = time.process_time()
            case = task.situation(surge)
            drawn = time.process_time()
            log = play(*case)
            played = time.process_time()
            summarise(case.demand, log, layout)
            summing += time.process_time() - played
            playing += played - drawn
            drawing += drawn - start
            entries += case.demand.entries
        trials.append((drawing, playing, summing))
    draws, plays, sums = np.array(trials[1:]).T
    draw, size = float(draws.min()), entries / _IN_TURN
    each = f"{1e3 * draw / _IN_TURN:.3g} ms a surge, {1e6 * draw / entries:.3g} µs an entry"
    yield Row(f"{name}: drawing, {_IN_TURN} surges of some {size:,.0f} entries in turn", each)
    over, what = float(np.median(draws / plays)), f"{name}: drawing over playing"
    if size < _SMALL:
        yield at_most(what, over, 2, "times")
    elif size > _LARGE:
        yield at_most(what, over, 0.6, "times")
    else:
        yield Row(what, f"{over:.3g} times")
    what = f"{name}: drawing over playing and summing up, as `run` does"
    yield Row(what, f"{np.median(draws / (plays + sums)):.3g} times")


def of_scenario(path: Path, repeats: int, rounds: int) -> Iterator[Row]:
    """One surge of a shipped scenario, with the stock in hand.

    The reference engine takes part in `repeats` rounds, the bare pool in `rounds`; what is quick
    is done several times in each and counted once.
    """
    scenario = load_scenario(path)
    stock = stock_in_hand(scenario.settings)
    case = situation_of(scenario, stock)
    trace, wipe_s = case.demand, case.unit.drawn.wipe_s.tolist()
    entries, name = trace.entries, path.stem

    def often(do: Callable[[], object]) -> Callable[[], None]:
        def several() -> None:
            for _ in range(_OFTEN):
                do()

        return several

    compile_engine()
    score(*case)
    things: dict[str, Callable[[], object]] = {
        "compiled": often(lambda: play(*case, engine="compiled")),
        "score": often(lambda: score(*case)),
        "bare": lambda: play_bare(trace, case.unit.rules, stock.kits, wipe_s),
    }
    quick = interleaved(things, rounds)
    del things["score"], things["bare"]
    things["reference"] = lambda: play(*case, engine="reference")
    slow = interleaved(things, repeats)
    took = {
        "reference": slow["reference"].least,
        "compiled": quick["compiled"].least / _OFTEN,
        "score": quick["score"].least / _OFTEN,
        "bare": quick["bare"].least,
    }
    yield Row(f"{name}: entries of surge 0", f"{entries:,}")
    words = {
        "reference": "reference engine", "compiled": "compiled engine, whole log",
        "score": "compiled engine, score only", "bare": "bare pool of kits",
    }  # fmt: skip
    for what, word in words.items():
        each = f"{entries / took[what]:,.3g} entries/s, {1e6 * took[what] / entries:.3g} µs"
        yield Row(f"{name}: {word}", each)
    over_reference = _OFTEN * slow["reference"].over(slow["compiled"])
    yield at_least(f"{name}: compiled over reference", over_reference, 100)
    over_bare = _OFTEN * quick["bare"].over(quick["compiled"])
    yield at_least(f"{name}: compiled over bare pool", over_bare, 20)


#: a steady invented ward of some 3,000 entries a day; the horizon makes the number of entries
STEADY = """
title: A steady large ward for timing (invented)
start: 2031-01-06 00:00
horizon: {hours} h
arrivals: {{baseline: 20 per day, initial_census: 100}}
classes: {{one: {{share: 100 %, length_of_isolation: {{shape: gamma, mean: 5 d, cv: 60 %}}, entries: {{nurse: 30 per day}}}}}}
roles: {{nurse: {{room_time: {{shape: lognormal, mean: 8 min, cv: 80 %}}}}}}
kit: {{pre_use_check: 1 min, don: 3 min, doff: 3 min, levels: [{{run_time: 8 h}}]}}
batteries: {{charge_time: 3 h, minimum_run_time: 45 min}}
cleaning: {{by: wearer, wipe_down: 4 min, contact_time: 2 min, drying_time: 10 min}}
stock: {{kits: 110, batteries: 160, bays: 60}}
target: {{wait: 5 min, service_level: 95 %, share_of_surges: 90 %}}
"""  # noqa: E501
_PER_HOUR = 125
#: each takes some twenty seconds
_GROWTH_ROUNDS = 7


def growth(quick: bool) -> Iterator[Row]:
    """Time against the number of entries in one surge, and the exponent that fits.

    All sizes in turn, round after round: the machine's speed drifts by more than what is
    looked for, so each round has its exponent, and the median of these is told.
    """
    compile_engine()
    sizes = [10**4, 10**5, 10**6] if quick else [10**4, 10**5, 10**6, 10**7]
    texts, rounds = [STEADY.format(hours=size // _PER_HOUR) for size in sizes], []
    with _surges_of(2 * sizes[-1]):
        wards = [scenario_from_text(text, "steady") for text in texts]
        for _ in range(2 if quick else _GROWTH_ROUNDS):
            rounds.append(
                [
                    _drawn_and_played(ward, 10**6 // size)
                    for ward, size in zip(wards, sizes, strict=True)
                ]
            )
    drawn, played, counts = np.moveaxis(np.array(rounds), 2, 0)
    for draw, play_, count in zip(drawn.T, played.T, counts[0], strict=True):
        each = f"draw {np.median(draw / count) * 1e6:.3g}, "
        each += f"play {np.median(play_ / count) * 1e6:.3g} µs an entry"
        yield Row(f"steady ward of {count:,.0f} entries", each)
    reach = f"{sizes[0]:.0e} to {sizes[-1]:.0e}".replace("e+0", "e")
    for what, times in (("playing", played), ("drawing", drawn)):
        found = np.polyfit(np.log(counts[0]), np.log(times.T), 1)[0]
        each = f"{found.min():.3f} to {found.max():.3f}"
        exponent = float(np.median(found))
        yield at_most(f"exponent of growth, {what}, {reach} entries", exponent, 1.1, form=".3f")
        yield Row(f"exponent of growth, {what}: by round", each)


@contextmanager
def _surges_of(requests: int) -> Iterator[None]:
    """Let surges have more requests, for as long as this takes, than the limit allows."""
    with ExitStack() as changed:
        for module in (checks, drawn_entries, draws_of_plays):
            changed.enter_context(patch.object(module, "MOST_REQUESTS", requests))
        yield


def _drawn_and_played(ward: Scenario, times: int) -> tuple[float, float, float]:
    """Seconds of drawing and of playing one surge, mean of so many, at most ten; its entries."""
    stock, trials = stock_in_hand(ward.settings), []
    for _ in range(min(max(times, 1), 10)):
        start = time.process_time()
        case = situation_of(ward, stock)
        middle = time.process_time()
        play(*case)
        trials.append((middle - start, time.process_time() - middle))
    drawn, played = np.mean(trials, axis=0)
    return float(drawn), float(played), float(case.demand.entries)


def shipped(quick: bool) -> Iterator[Row]:
    """Every shipped scenario."""
    for path in sorted((ROOT / "scenarios").glob("*.yaml")):
        yield from of_scenario(path, 1 if quick else 3, 5 if quick else 25)
        yield from drawing_and_playing(load_scenario(path), path.stem, 3 if quick else 15)
    ward = scenario_from_text(STEADY.format(hours=30 * 24), "steady")
    yield from drawing_and_playing(ward, "steady large ward", 1 if quick else 5)
