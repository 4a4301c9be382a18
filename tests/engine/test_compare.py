"""The comparison of the engines finds every kind of difference, and where it begins."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.cli.main import exit_code_of
from surge_sim.engine import compare
from surge_sim.engine.log import Alarm, Count, Outcome, RunLog, Score, Use
from surge_sim.engine.play import play, score
from surge_sim.equipment.causes import Cause
from surge_sim.equipment.stock import Stock
from tests.engine.tiny import settings, tiny_trace

HOUR_S = 3_600
#: two entries, one kit: at 0 and 10 min, 20 min in the room each; the second waits 10 min
CASE = tiny_trace(settings(), need=[0, 10], room=20).case(Stock(1, 2, 1))
LAST = 2**62

Break = Callable[[RunLog], RunLog]


def with_value(name: str, place: int | tuple[int, int], value: int) -> Break:
    """A log of which one value is another."""

    def change(log: RunLog) -> RunLog:
        column = getattr(log, name).copy()
        column[place] = value
        return dataclasses.replace(log, **{name: column})

    return change


def without_last_row(log: RunLog) -> RunLog:
    return dataclasses.replace(log, **{name: getattr(log, name)[:-1] for name in compare.ROWS})


def with_a_row_more(log: RunLog) -> RunLog:
    columns = {name: np.append(getattr(log, name), 7) for name in compare.ROWS}
    columns["need_s"][-1] = 900
    return dataclasses.replace(log, **columns)


def without_last_lack(log: RunLog) -> RunLog:
    return dataclasses.replace(
        log, missing_at_s=log.missing_at_s[:-1], missing_mask=log.missing_mask[:-1]
    )


@pytest.fixture
def broken(monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Make the compiled engine give another log, or another score."""

    def put(log: Break = lambda log: log, counted: Callable[[Score], Score] = lambda s: s) -> None:
        def wrong_play(*case, engine="compiled"):
            played = play(*case, engine="reference")
            return log(played) if engine == "compiled" else played

        def wrong_score(*case, late_limit=None, engine="compiled"):
            played = score(*case, late_limit, "reference")
            return counted(played) if engine == "compiled" else played

        monkeypatch.setattr(compare, "play", wrong_play)
        monkeypatch.setattr(compare, "score", wrong_score)

    return put


def test_without_a_difference_nothing_is_found_and_everything_was_compared(broken):
    """2 rows of 13 columns and 25 causes, changes of what lacks, 13 states x 24 hours, peaks."""
    broken()
    found = compare.compare_engines(CASE)
    assert (found.entries, found.rows, found.differing, found.first) == (2, 2, (), None)
    log = play(*CASE, engine="reference")
    sizes = 2 * (13 + 25) + 2 * len(log.missing_at_s) + 13 * 24 + 13 + len(Count)
    assert found.values == sizes + 1 + len(Score._fields)


@pytest.mark.parametrize("name", compare.ROWS)
def test_one_value_of_any_column_is_found(broken, name):
    """The second entry needs a kit at 600 s, has it at 1200 s, ends at 2400 s."""
    broken(with_value(name, 1, 99_999))
    found = compare.compare_engines(CASE)
    assert found.differing == (name,)
    assert found.first is not None
    moments = {"entry": 600, "part": 600, "need_s": 600, "end_s": 2400, "alarm": 2400}
    assert found.first.at_s == (moments | {"worn_s": 2400}).get(name, 1200)
    assert (found.first.what, found.first.where) == (name, "entry 1")
    if name not in ("entry", "blower", "battery"):
        assert (found.first.entry, found.first.kit, found.first.battery) == (1, 0, 1)
    assert found.first.compiled == "99999"


@pytest.mark.parametrize(
    ("change", "what", "at_s", "values"),
    [
        (without_last_row, "needs", 600, ("need at 600 s", "no such need")),
        (with_a_row_more, "needs", 900, ("no such need", "need at 900 s")),
        (
            with_value("waited_s", (1, Cause.KIT_IN_USE), 9),
            "waited_s", 1200, ("600 s: kit in use", "9 s: kit in use"),
        ),
        (with_value("missing_mask", 0, 8), "missing_mask", 600, ("7 from 600 s", "8 from 600 s")),
        (with_value("missing_at_s", 0, 60), "missing_mask", 60, ("7 from 600 s", "7 from 60 s")),
        (without_last_lack, "missing_mask", 1200, ("0 from 1200 s", "no change")),
        (
            with_value("use_area", (Use.KITS_READY, 5), 1),
            "use_area", 6 * HOUR_S, ("3600 item-seconds", "1 item-seconds"),
        ),
        (with_value("use_peak", Use.KITS_IN_USE, 9), "use_peak", LAST, ("1", "9")),
        (with_value("counts", Count.CHECKS, 9), "counts", LAST, ("2", "9")),
        (lambda log: dataclasses.replace(log, given_up=True), "given_up", LAST, ("False", "True")),
        (
            lambda log: dataclasses.replace(log, use_area=log.use_area[:, :-1]),
            "use_area", LAST, ("(13, 24)", "(13, 23)"),
        ),
        (
            lambda log: dataclasses.replace(log, counts=log.counts[:-1]),
            "counts", LAST, ("19", "18"),
        ),
        (
            lambda log: dataclasses.replace(log, wait_s=log.wait_s.astype(np.int32)),
            "wait_s", LAST, ("int64", "int32"),
        ),
    ],
)  # fmt: skip
def test_every_other_kind_of_difference_is_found(broken, change, what, at_s, values):
    broken(change)
    found = compare.compare_engines(CASE).first
    assert found is not None
    assert (found.what, found.at_s, (found.reference, found.compiled)) == (what, at_s, values)


@pytest.mark.parametrize("field", Score._fields)
def test_any_field_of_the_score_is_found(broken, field):
    broken(counted=lambda score: score._replace(**{field: 77}))
    found = compare.compare_engines(CASE)
    assert found.differing == (f"score.{field}",)
    assert found.first is not None and found.first.compiled == "77"


def test_the_earliest_of_several_differences_is_named(broken):
    """Entry 0 ends otherwise at 1200 s; entry 1 needs otherwise at 600 s."""
    late, early = with_value("end_s", 0, 1300), with_value("need_s", 1, 660)
    broken(lambda log: late(early(log)))
    found = compare.compare_engines(CASE)
    assert found.differing == ("need_s", "end_s")
    assert found.first is not None
    assert (found.first.what, found.first.at_s, found.first.where) == ("need_s", 600, "entry 1")


def test_outcomes_are_said_in_words(broken):
    broken(with_value("outcome", 1, int(Outcome.GAVE_UP)))
    found = compare.compare_engines(CASE).first
    assert found is not None
    assert (found.reference, found.compiled) == ("served", "gave up")


@pytest.fixture
def unit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A scenario of two nurses and one kit, and a folder to work in."""
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "unit.yaml"
    path.write_text(
        "title: Two beds (invented)\nstart: 2031-01-06 00:00\nhorizon: 2 d\n"
        "arrivals: {baseline: 2 per day, present_at_start: 2}\n"
        "classes: {one: {share: 100 %, isolation: 3 d, entries: {nurse: 20 per day}}}\n"
        "roles: {nurse: {room_time: 10 min}}\n"
        "kit: {check: 1 min, don: 3 min, doff: 3 min, levels: [{run_time: 8 h}]}\n"
        "batteries: {charge_time: 3 h, least_run: 45 min}\n"
        "cleaning: {by: wearer, wipe: 3 min, wet: 2 min, dry: 5 min}\n"
        "stock: {kits: 1, batteries: 3, bays: 2}\n"
        "prices: {currency: talers, kit: 1, battery: 1, charger: 1, bays_per_charger: 1}\n"
        "target: {wait: 5 min, share_of_entries: 95 %, share_of_surges: 90 %}\n"
    )
    return path


def test_verify_prints_one_screen_and_ends_with_0(unit, broken, capsys):
    broken()
    assert exit_code_of(["verify", str(unit), "--surges", "2", "--kits", "2"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == 8 and max(map(len, lines)) <= 80
    assert lines[0].endswith("2 kits, 3 batteries, 2 charger bays")
    assert "2 surges of seed 1" in lines[1]
    assert "no difference: every value is the same in both engines" in lines[4]
    assert " ".join(lines[-2:]) == CAUTION_IN_SHORT


def test_verify_shows_where_the_engines_part_with_the_story_and_ends_with_1(unit, broken, capsys):
    def later(log: RunLog) -> RunLog:
        return with_value("end_s", 5, int(log.end_s[5]) + 1)(log)

    broken(later)
    assert exit_code_of(["verify", str(unit), "--surges", "3"]) == 1
    shown = capsys.readouterr().out
    lines = shown.splitlines()
    assert len(lines) <= 24 and max(map(len, lines)) <= 80
    assert "Compared    1 surge of seed 1" in shown
    assert "the engines differ in surge 0" in shown
    assert "entry 5, end_s" in shown and "In all      end_s" in shown
    assert any(line.endswith("entry 5 has taken the kit off and is done") for line in lines)
    assert any("entry 5 puts on kit 0, which passed its check" in line for line in lines)
    print(shown)


def test_a_difference_in_a_total_is_told_by_what_happened_last(unit, broken, capsys):
    broken(with_value("counts", Count.WIPE_DOWNS, 0))
    assert exit_code_of(["verify", str(unit), "--surges", "1"]) == 1
    shown = capsys.readouterr().out
    assert "over the whole surge: wipe downs, counts" in shown
    assert len(shown.splitlines()) <= 24


def test_alarm_numbers_are_compared_as_numbers(broken):
    broken(with_value("alarm", 0, int(Alarm.FAULT)))
    found = compare.compare_engines(CASE).first
    assert found is not None and (found.reference, found.compiled) == ("0", "3")
