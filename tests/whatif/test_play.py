"""A design is played as runs are, shares what is equal, and goes on after a stop."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from surge_sim import load_scenario, run
from surge_sim.demand import draw as drawing
from surge_sim.demand.draw import draw
from surge_sim.demand.plan import drawn_from, plan_of
from surge_sim.engine.surges import workers
from surge_sim.randomness import Streams
from surge_sim.whatif.design import alternative_of, design_of
from surge_sim.whatif.parts import Parts
from surge_sim.whatif.play import play_design, plays_of
from tests.everything.test_every_feature import FILE

CHANGES = {
    "held": {"policy.kit": "held for a shift"},
    "more kits": {"stock.kits": 40, "stock.batteries": 50},
    "dark": {"timeline.+": {"what": "power outage", "at": "1 d", "lasts": "12 h"}},
    "more patients": {"arrivals.initial_census": 4},
}


@pytest.fixture(scope="module")
def design(exposure):
    return design_of(exposure, [alternative_of(exposure, *one) for one in CHANGES.items()], seed=3)


def played(design, surges, parts=None, progress=None, processes=1):
    with workers(processes) as place:
        return play_design(design, surges, place, parts, progress)


@pytest.fixture(scope="module")
def rows(design):
    return played(design, 12).rows


def test_each_alternative_has_the_numbers_of_a_run_of_it(design, rows):
    for one, mine in zip(design.alternatives, rows, strict=True):
        surges = run(one.scenario, surges=12, seed=3, processes=1).surges
        for column in ("surge", "entries", "in_time", "urgent_entries", "urgent_late", "requests"):
            assert mine[column].tolist() == surges[column].tolist(), (one.name, column)
        for column in ("alarms", "stock_outs"):
            assert mine[column].tolist() == surges[column].tolist(), (one.name, column)
        assert mine["unserved"].tolist() == surges["unserved"].tolist()
        assert (mine["missed"] == 0).tolist() == surges["on_target"].tolist()
        assert mine["wait_s"] / 3_600 == pytest.approx(surges["hours_waited"])
        worst = mine["worst_in_time"] / mine["worst_entries"]
        assert worst == pytest.approx(surges["worst_day_service_level"])


def test_the_number_of_processes_makes_no_difference(design, rows):
    assert np.array_equal(played(design, 12, processes=2).rows, rows)


def test_equal_demand_is_drawn_once(exposure, monkeypatch):
    drawn = []

    def counted(plan, streams):
        drawn.append(streams.surge)
        return draw(plan, streams)

    monkeypatch.setattr(drawing, "draw", counted)
    changes = {name: CHANGES[name] for name in ("held", "more kits", "dark")}
    alike = design_of(exposure, [alternative_of(exposure, *one) for one in changes.items()])
    played(alike, 3)
    assert drawn == [0, 1, 2]
    other = alternative_of(exposure, "more patients", CHANGES["more patients"])
    played(design_of(exposure, [*alike.alternatives[1:], other]), 2)
    assert drawn[3:] == [0, 0, 1, 1]


class Read:
    """Settings that note which of their sections, and of some sections which fields, are read."""

    def __init__(self, inside, names, before=""):
        self._inside, self._names, self._before = inside, names, before

    def __getattr__(self, name):
        value = getattr(self._inside, name)
        if name == "model_copy":
            return lambda update: Read(value(update=update), self._names, self._before)
        if name in ("policy", "kit", "failures"):
            return Read(value, self._names, f"{name}.")
        self._names.add(self._before + name)
        return value


def test_demand_reads_nothing_but_what_it_is_said_to_be_drawn_from():

    settings = load_scenario(FILE).settings
    by_drawing, said = set(), set()
    draw(plan_of(Read(settings, by_drawing)), Streams(1, 0, 0))
    drawn_from(Read(settings, said))
    assert by_drawing
    assert by_drawing <= said


class StoppedError(Exception):
    """Stands for a stop from the keyboard."""


def stopped_after(plays):
    """Return a listener that stops the work after so many plays."""
    left = [plays]

    def tell(more):
        left[0] -= more
        if left[0] < 0:
            raise StoppedError

    return tell


def test_a_stopped_design_goes_on_and_gives_the_same_rows(design, rows, tmp_path):
    folder = tmp_path / "parts"
    with pytest.raises(StoppedError):
        played(design, 12, Parts(folder), stopped_after(52))
    assert len(list(folder.glob("*.npz"))) == 1
    told = []
    again = Parts(folder)
    assert np.array_equal(played(design, 12, again, told.append).rows, rows)
    # 10 of 12 surges were there, and the rest is played
    assert told[0] == 50
    assert sum(told) == 60
    assert plays_of(design, 12) == 60
    again.forget()
    assert not folder.exists()


def test_a_new_alternative_or_more_surges_play_only_what_is_missing(design, rows, tmp_path):
    few = design_of(design.base.scenario, design.alternatives[1:3], seed=3)
    played(few, 12, Parts(tmp_path))
    told = []
    assert np.array_equal(played(design, 12, Parts(tmp_path), told.append).rows, rows)
    assert told[0] == 36
    more = played(design, 15, Parts(tmp_path), told.append).rows
    assert np.array_equal(more[:, :12], rows)


@pytest.mark.parametrize("damage", [b"", b"PK\x03\x04", None], ids=["empty", "torn", "other"])
def test_a_damaged_part_is_played_again(design, rows, tmp_path, damage):
    played(design, 12, Parts(tmp_path))
    for path in Path(tmp_path).glob("*.npz"):
        if damage is None:
            np.savez(path, **{design.key_of(one): np.zeros(3) for one in design.alternatives})
        else:
            path.write_bytes(damage)
    assert np.array_equal(played(design, 12, Parts(tmp_path)).rows, rows)


def test_alternatives_that_are_equal_are_played_once(exposure):
    twins = [alternative_of(exposure, name, {"stock.kits": 40}) for name in ("a", "b")]
    design = design_of(exposure, twins)
    assert plays_of(design, 5) == 10
    found = played(design, 5).rows
    assert np.array_equal(found[1], found[2])
