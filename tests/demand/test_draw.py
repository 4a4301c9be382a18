"""One surge's table as a whole: the same arguments, the same bytes; nothing can be written to."""

import pickle
from dataclasses import fields

import numpy as np
import pytest

from surge_sim.demand import draw as drawing
from surge_sim.demand.draw import draw_demand
from surge_sim.demand.plan import beside, drawn_from, plan_of
from surge_sim.errors import ScenarioError
from surge_sim.randomness import Sample, Streams
from tests.demand.ward import draw, scenario

STRETCHED = {"shape": "lognormal", "mean": "6 min", "cv": "80 %"}
FULL = {
    "start": "2031-03-05T06:30",
    "arrivals": {
        "baseline": "3 per day",
        "wave": {"extra_at_peak": "9 per day", "peak": "5 d", "width": "2 d"},
        "clusters": [{"patients": 5, "at": "2 d", "within": "3 h"}],
        "initial_census": 2,
        "hours_of_day": [1] * 8 + [2] * 16,
    },
    "classes": {
        "ward": {
            "length_of_isolation": {"shape": "gamma", "mean": "3 d", "cv": "60 %"},
            "entries": {"nurse": "20 per day", "other": "4 per day"},
            "urgent": {"per_patient": "0.2 per day", "team": 3, "role": "other"},
        }
    },
    "roles": {
        "nurse": {"room_time": STRETCHED, "patients_per_wearer": 4, "kit_share": "90 %"},
        "other": {"room_time": STRETCHED},
    },
    "kit": {"don": STRETCHED, "doff": STRETCHED},
    "rooms": {
        "count": 8,
        "air_changes": "12 per h",
        "terminal_clean": {"role": "other", "when": "with a kit", "room_time": STRETCHED},
    },
    "failures": {"hood_damage": "2 %", "tube_damage": "1 %"},
}


def contents(trace):
    """All that a trace holds, as bytes."""
    found = {}
    for part in (trace, trace.patients):
        for one in fields(part):
            value = getattr(part, one.name)
            if isinstance(value, np.ndarray):
                found[type(part).__name__, one.name] = (str(value.dtype), value.tobytes())
    return found


def test_same_seed_and_surge_give_the_same_bytes():
    first, again = draw(seed=3, surge=2, **FULL), draw(seed=3, surge=2, **FULL)
    assert contents(first) == contents(again)


DROPPED = {"at": "2 d", "what": "care bundled", "dropped": "50 %"}


def test_changes_of_entries_are_in_the_drawn_demand_and_leave_what_is_before_them():
    usual, changed = draw(**FULL), draw(**FULL, timeline=[DROPPED])
    before = [(trace.due_s < 2 * 86_400).sum() for trace in (usual, changed)]
    assert before[0] == before[1] > 0
    assert 0 < changed.entries < usual.entries
    assert set(changed.due_s.tolist()) <= set(usual.due_s.tolist())


def test_demand_is_drawn_from_changes_of_entries_and_not_from_those_of_the_unit():
    alone, dropped, recalled = (
        drawn_from(scenario(**FULL, timeline=changes).settings)
        for changes in (
            [],
            [DROPPED],
            [{"at": "2 d", "lasts": "1 d", "what": "kits recalled", "kits": 1}],
        )
    )
    assert alone != dropped
    assert alone == recalled


def test_one_plan_serves_every_surge():
    """Drawing leaves no trace in it, whatever was drawn before."""
    file = scenario(**FULL)
    plan = plan_of(file.settings)
    for surge in (4, 0, 9, 2**32 - 1, 0):
        trace = drawing.draw(plan, Streams(3, Sample.CONFIRM, surge))
        assert contents(trace) == contents(draw_demand(file, 3, surge, Sample.CONFIRM))


def test_surges_seeds_and_samples_differ():
    whole = scenario(**FULL)
    traces = [
        draw_demand(whole, seed, surge, sample)
        for seed, surge, sample in (
            (1, 0, Sample.RUN), (2, 0, Sample.RUN), (1, 1, Sample.RUN), (1, 0, Sample.CHOOSE),
            (1, 0, Sample.CONFIRM), (0, 0, Sample.RUN),
        )
    ]  # fmt: skip
    assert len({trace.due_s.tobytes() for trace in traces}) == len(traces)


def test_a_demand_says_of_which_surge_it_is():
    demand = draw_demand(scenario(horizon="1 d"), 5, 7, Sample.CONFIRM)
    assert (demand.seed, demand.sample, demand.surge) == (5, Sample.CONFIRM, 7)
    first = draw_demand(scenario(horizon="1 d"))
    assert (first.seed, first.sample, first.surge) == (1, Sample.RUN, 0)


@pytest.mark.parametrize(
    "changes",
    [
        {"stock": {"kits": 50, "batteries": 1, "bays": 9}},
        {"batteries": {"charge_time": "8 h"}},
        {"cleaning": {"by": "crew", "crew": [{"start": "07:00", "end": "15:00", "cleaners": 1}]}},
        {"target": {"wait": "9 min"}},
        {"timeline": [{"what": "power outage", "at": "1 d", "lasts": "5 h"}]},
    ],
    ids=lambda changes: next(iter(changes)),
)
def test_demand_is_the_same_whatever_the_equipment(changes):
    assert contents(draw(**FULL)) == contents(draw(**FULL, **changes))


def test_columns_are_read_only_of_one_length_and_of_whole_seconds():
    trace = draw(**FULL)
    columns = contents(trace)
    for part in (trace, trace.patients):
        for one in fields(part):
            value = getattr(part, one.name)
            if isinstance(value, np.ndarray):
                assert not value.flags.writeable, one.name
                assert value.dtype in (np.int64, np.bool_), one.name
    assert len(columns) == 20
    for name in ("room_s", "don_s", "doff_s", "maximum_wait_s", "role", "patient_class", "patient",
                 "urgent", "wearer", "large_hood", "hood_torn", "tube_torn", "mark"):  # fmt: skip
        assert len(getattr(trace, name)) == trace.entries > 100
    assert trace.closing_s == trace.horizon_s + 86_400
    assert trace.room_s.min() >= 0 and trace.due_s.min() >= 0


def test_surges_settings_are_those_that_the_ranges_gave():
    one = scenario(
        **(FULL | {"arrivals": {"baseline": {"low": "1 per day", "high": "30 per day"}}})
    )
    traces = [draw_demand(one, surge=surge) for surge in range(8)]
    rates = [one.settings_for(surge=surge).arrivals.baseline for surge in range(8)]
    assert len(set(rates)) == 8
    patients = [len(trace.patients.arrive_s) for trace in traces]
    # a range of 1 to 30 a day over ten days outweighs the luck of a Poisson count
    assert np.corrcoef(rates, patients)[0, 1] > 0.9


def test_a_trace_travels_to_other_processes():
    trace = draw(**FULL)
    assert contents(pickle.loads(pickle.dumps(trace))) == contents(trace)


@pytest.mark.parametrize(
    ("limit", "said"),
    [
        (
            "patients.MOST_PATIENTS",
            "`arrivals` would bring 40 patients.",
        ),
        ("entries.MOST_REQUESTS", "`classes` would make 2,"),
    ],
)
def test_a_surge_beyond_the_limits_is_told_with_what_it_would_have_and_what_it_may(
    monkeypatch, limit, said
):
    """4 a day for 10 days, each with some 60 visits in 3 days."""
    monkeypatch.setattr(f"surge_sim.demand.{limit}", 3)
    with pytest.raises(ScenarioError) as found:
        draw(seed=5, surge=7)
    assert str(found.value).startswith(f"surge 7 of seed 5: {said}")
    assert "\n  A simulated surge has 3 at most: check rates" in str(found.value)


def test_a_surge_and_its_run_in_have_so_many_entries_at_most_together(monkeypatch):
    changes = {"horizon": "3 d", "run_in": "2 d"}
    demand = draw(**changes)
    earlier, entries = demand.before.entries, demand.entries
    monkeypatch.setattr(drawing, "MOST_REQUESTS", earlier + entries)
    assert draw(**changes).entries == entries
    monkeypatch.setattr(drawing, "MOST_REQUESTS", earlier + entries - 1)
    with pytest.raises(ScenarioError) as found:
        draw(**changes)
    said = f"`run_in` would bring {earlier:,} entries beside {entries:,}."
    assert str(found.value).startswith(f"surge 0 of seed 1: {said}")
    assert f"has {earlier + entries - 1:,} with those of its run-in at most" in str(found.value)


def test_a_plan_that_begins_at_another_minute_is_not_drawn_as_another():
    """From 00:20 and from 00:30 there are 241 slots each, but of other edges."""
    base, later = (
        plan_of(scenario(start=f"2031-03-03T00:{minute}", arrivals={"baseline": rate}).settings)
        for minute, rate in (("20", "4 per day"), ("30", "3 per day"))
    )
    assert len(base.curve.edges_s) == len(later.curve.edges_s) == 242
    alone = beside(later, base)
    assert alone.curve is later.curve and (alone.kept, alone.more) == (None, None)
    assert beside(plan_of(scenario(arrivals={"baseline": "3 per day"}).settings),
                  plan_of(scenario().settings)).kept is not None  # fmt: skip
