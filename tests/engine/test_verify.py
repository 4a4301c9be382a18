"""The comparison of the engines finds every kind of difference, and where it begins."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.cli.main import exit_code_of
from surge_sim.engine import verify as compare
from surge_sim.engine.log import WIDTH, Count, Kind, RunLog, Score, events_of
from surge_sim.engine.play import play, score
from surge_sim.equipment.stock import Stock
from tests.engine.tiny import settings, tiny_trace

#: two entries, one kit: at 0 and 10 min, 20 min in the room each; the second waits 10 min
CASE = tiny_trace(settings(), need=[0, 10], room=20).situation(Stock(1, 2, 1))

Break = Callable[[RunLog], RunLog]


def with_value(name: str, place: int | tuple[int, int], value: int) -> Break:
    """A log of which one value is another."""

    def change(log: RunLog) -> RunLog:
        if getattr(log, name) is None:
            return log
        column = getattr(log, name).copy()
        column[place] = value
        return dataclasses.replace(log, **{name: column})

    return change


def without_last(name: str) -> Break:
    """A log of which one column is shorter."""

    def change(log: RunLog) -> RunLog:
        column = getattr(log, name)
        return log if column is None else dataclasses.replace(log, **{name: column[:-1]})

    return change


@pytest.fixture
def broken(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Make the compiled engine give another log, or another score."""

    def put(log: Break = lambda log: log, counted: Callable[[Score], Score] = lambda s: s) -> None:
        def wrong_play(*case, engine="compiled", events=False):
            played = play(*case, engine="reference", events=events)
            return log(played) if engine == "compiled" else played

        def wrong_score(*case, late_limit=None, engine="compiled"):
            played = score(*case, late_limit, "reference")
            return counted(played) if engine == "compiled" else played

        monkeypatch.setattr(compare, "play", wrong_play)
        monkeypatch.setattr(compare, "score", wrong_score)

    return put


def test_without_a_difference_nothing_is_found_and_everything_was_compared(broken):
    """2 rows of 13 columns and 28 causes, changes of what lacks, 15 states x 24 hours, peaks."""
    broken()
    found = compare.compare_engines(CASE)
    assert (found.entries, found.rows, found.differing, found.parting) == (2, 2, (), None)
    log = play(*CASE, engine="reference", events=True)
    sizes = 2 * (13 + 28) + 2 * len(log.missing_at_s) + 15 * 24 + 15 + len(Count)
    assert found.values == sizes + log.events.size + 1 + len(Score._fields)


@pytest.mark.parametrize("name", RunLog.COLUMNS)
def test_one_value_one_row_or_another_type_of_any_column_is_found(broken, name):
    place = (0, 0) if name in ("waited_s", "use_area") else 0
    for change in (
        with_value(name, place, 99_999),
        without_last(name),
        lambda log: dataclasses.replace(log, **{name: getattr(log, name).astype(np.int16)}),
    ):
        broken(change)
        found = compare.compare_engines(CASE)
        assert (found.differing, found.parting) == ((name,), None)


def test_a_play_that_was_given_up_is_another_one(broken):
    broken(lambda log: dataclasses.replace(log, given_up=True))
    assert compare.compare_engines(CASE).differing == ("given_up",)


@pytest.mark.parametrize("field", Score._fields)
def test_any_field_of_the_score_is_found(broken, field):
    broken(counted=lambda score: score._replace(**{field: 77}))
    assert compare.compare_engines(CASE).differing == (f"score.{field}",)


@pytest.mark.parametrize("column", range(WIDTH))
def test_one_number_of_any_event_is_found_and_the_first_such_event_is_named(broken, column):
    first, later = with_value("events", (7, column), 13), with_value("events", (11, column), 13)
    broken(lambda log: later(first(log)))
    found = compare.compare_engines(CASE)
    assert found.differing == ("events",)
    assert found.parting is not None and found.parting.same == 7


def test_an_event_less_is_found(broken):
    broken(without_last("events"))
    found = compare.compare_engines(CASE)
    assert found.parting is not None
    assert found.parting.same == len(found.parting.compiled) == len(found.parting.reference) - 1


@pytest.fixture
def unit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A scenario of two nurses and one kit, and a folder to work in."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "unit.yaml"
    path.write_text(
        "title: Two beds (invented)\nstart: 2031-01-06 00:00\nhorizon: 2 d\n"
        "arrivals: {baseline: 2 per day, initial_census: 2}\n"
        "classes: {one: {share: 100 %, length_of_isolation: 3 d, entries: {nurse: 20 per day}}}\n"
        "roles: {nurse: {room_time: 10 min}}\n"
        "kit: {pre_use_check: 1 min, don: 3 min, doff: 3 min, levels: [{run_time: 8 h}]}\n"
        "batteries: {charge_time: 3 h, minimum_run_time: 45 min}\n"
        "cleaning: {by: wearer, wipe_down: 3 min, contact_time: 2 min, drying_time: 5 min}\n"
        "stock: {kits: 1, batteries: 3, bays: 2}\n"
        "prices: {currency: talers, kit: 1, battery: 1, charger: 1, bays_per_charger: 1}\n"
        "target: {wait: 5 min, service_level: 95 %, share_of_surges: 90 %}\n"
    )
    return path


def test_verify_prints_one_screen_and_ends_with_0(unit, broken, capsys):
    broken()
    assert exit_code_of(["verify", str(unit), "--surges", "2", "--kits", "2"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= 24 and max(map(len, lines)) <= 80
    assert lines[2] == (
        "Both engines give the same result: every value of 2 simulated surges is equal."
    )
    assert "Stock       2 kits, 3 batteries and 2 charger bays" in lines
    assert any(line.startswith("Compared    seed 1: ") for line in lines)
    assert " ".join(lines[-2:]) == CAUTION_IN_SHORT


def takes_another_battery(log: RunLog) -> RunLog:
    """The sixth entry takes battery 7."""
    if log.events is None:
        return log
    for place, event in enumerate(events_of(log.events)):
        if event.kind == Kind.TAKES_KIT and event.entry == 5:
            return with_value("events", (place, 4), 7)(log)
    raise AssertionError("nobody takes a kit")


def test_verify_shows_where_the_engines_part_as_a_sentence_and_ends_with_1(unit, broken, capsys):
    broken(takes_another_battery)
    assert exit_code_of(["verify", str(unit), "--surges", "3"]) == 1
    shown = capsys.readouterr().out
    lines = shown.splitlines()
    flat = " ".join(shown.split())
    assert max(map(len, lines)) <= 80
    assert "Compared seed 1: " in flat
    assert "The engines differ in simulated surge 0." in flat
    assert "All that differs events" in flat
    begun = "Reference engine entry 5 takes kit 0 and battery 2 (100 % charged), the longest in its"
    assert begun in flat
    assert "takes kit, entry 5, kit 0, battery 2, charge 1000000000" in flat
    assert "takes kit, entry 5, kit 0, battery 7, charge 1000000000" in flat
    assert "kit 0 is clean and ready on the shelf" in flat


def test_a_log_that_is_made_otherwise_of_the_same_events_is_told_so(unit, broken, capsys):
    broken(with_value("counts", Count.WIPE_DOWNS, 0))
    assert exit_code_of(["verify", str(unit), "--surges", "1"]) == 1
    shown = capsys.readouterr().out
    assert "all events are the same, but not what is made of them" in shown
    assert "All that differs counts" in " ".join(shown.split())
