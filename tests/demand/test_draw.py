"""One surge's table as a whole: the same arguments, the same bytes; nothing can be written to."""

import pickle
from dataclasses import fields

import numpy as np
import pytest

from surge_sim.demand.draw import draw_demand, draw_surges
from surge_sim.demand.plan import plan_of
from surge_sim.randomness import Sample
from tests.demand.ward import changed, draw, scenario

STRETCHED = {"shape": "lognormal", "mean": "6 min", "cv": "80 %"}
FULL = {
    "start": "2031-03-05T06:30",
    "arrivals": {
        "baseline": "3 per day",
        "wave": {"extra_at_peak": "9 per day", "peak": "5 d", "width": "2 d"},
        "clusters": [{"patients": 5, "at": "2 d", "within": "3 h"}],
        "present_at_start": 2,
        "hours_of_day": [1] * 8 + [2] * 16,
    },
    "classes": {
        "ward": {
            "isolation": {"shape": "gamma", "mean": "3 d", "cv": "60 %"},
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
    "faults": {"hood_damage": "2 %", "tube_damage": "1 %"},
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


def test_surges_drawn_together_are_those_drawn_alone():
    """With ranges too, and surges without any patient."""
    entries = {"nurse": {"low": "3 per day", "high": "9 per day"}, "other": "4 per day"}
    ranges = FULL | {
        "arrivals": {"baseline": {"low": "0 per day", "high": "0.4 per day"}},
        "classes": {"ward": FULL["classes"]["ward"] | {"entries": entries}},
    }
    for changes in (FULL, ranges):
        file = scenario(**changes)
        surges = [4, *range(12), 2**32 - 1]
        each = [file.settings_for(3, Sample.CERTIFY, surge) for surge in surges]
        together = draw_surges(each, surges, 3, Sample.CERTIFY)
        for surge, trace in zip(surges, together, strict=True):
            alone = draw_demand(file, 3, surge, Sample.CERTIFY)
            assert contents(trace) == contents(alone)
            assert (trace.surge, trace.start) == (surge, alone.start)
    assert draw_surges([], []) == []


def plans(*scenarios):
    return [plan_of(one.settings) for one in scenarios]


def test_surges_whose_roles_come_at_other_hours_are_drawn_in_groups():
    one, other = plans(scenario(), scenario(roles={"nurse": {"hours_of_day": [1] * 12 + [3] * 12}}))
    assert one.entries_alike == plan_of(scenario().settings).entries_alike
    assert one.entries_alike != other.entries_alike
    two, nights = plans(
        scenario(roles={"nurse": {"patients_per_wearer": 2}}),
        scenario(roles={"nurse": {"patients_per_wearer": 2, "shifts": ["08:00", "20:00"]}}),
    )
    assert len({one.entries_alike, two.entries_alike, nights.entries_alike}) == 3
    weights = [{"low": "1", "high": "2"} for _ in range(24)]
    file = scenario(roles={"nurse": {"hours_of_day": weights}})
    each = [file.settings_for(surge=surge) for surge in range(4)]
    for surge, trace in enumerate(draw_surges(each, range(4))):
        assert contents(trace) == contents(draw_demand(file, surge=surge))


#: a ward with every source of patients, whose rooms are cleaned in a kit
BUSY = {
    "arrivals": {
        "baseline": "3 per day",
        "present_at_start": 3,
        "daily_counts": {"file": "days.csv", "exact": "yes"},
        "clusters": [{"patients": 6, "at": "20 h", "within": "5 h", "patient_class": "mild"}],
    },
    "classes": {
        "ward": None,
        "mild": {
            "share": "60 %", "isolation": {"shape": "gamma", "mean": "20 h", "cv": "60 %"},
            "entries": {"nurse": "9 per day"},
        },
        "severe": {
            "share": "40 %", "isolation": {"shape": "weibull", "mean": "40 h", "cv": "40 %"},
            "entries": {"nurse": "15 per day"},
        },
    },
    "rooms": {
        "count": 5, "air_changes": "6 per h", "clearance": "99.9 %", "when_full": "divert",
        "terminal_clean": {
            "role": "nurse", "when": "with a kit", "delay": "30 min",
            "room_time": {"shape": "gamma", "mean": "20 min", "cv": "50 %"},
        },
    },
    "cleaning": {"wipe": {"shape": "gamma", "mean": "5 min", "cv": "60 %"}},
    "disruptions": [
        {"what": "extra patients", "at": "10 h", "lasts": "10 h", "arrivals": "200 %"},
        {"what": "extra patients", "at": "30 h", "lasts": "10 h", "arrivals": "140 %"},
    ],
}  # fmt: skip


@pytest.mark.parametrize(
    "range_in",
    [
        {},
        {"roles": {"nurse": {"patients_per_wearer": {"low": "1", "high": "4"}}}},
        {"roles": {"nurse": {"kit_share": {"low": "20 %", "high": "100 %"}}}},
        {"arrivals": {"clusters": [
            {"patients": 6, "at": {"low": "2 h", "high": "60 h"}, "within": "5 h"},
        ]}},
        {"rooms": {"air_changes": {"low": "4 per h", "high": "40 per h"}}},
        {"rooms": {"terminal_clean": {"delay": {"low": "0 min", "high": "90 min"}}}},
        {"classes": {"mild": {"share": {"low": "20 %", "high": "70 %"}}}},
        {"classes": {"severe": {"isolation": {
            "shape": "weibull", "mean": {"low": "30 h", "high": "60 h"}, "cv": "40 %",
        }}}},
        {"arrivals": {"baseline": {"low": "1 per day", "high": "8 per day"}}},
        {"disruptions": [
            {"what": "extra patients", "at": "10 h", "lasts": "10 h",
             "arrivals": {"low": "100 %", "high": "300 %"}},
        ]},
    ],
    ids=[
        "no range", "wearers", "kit share", "cluster", "air", "delay", "share", "stay", "arrivals",
        "extra",
    ],
)  # fmt: skip
def test_patients_of_surges_drawn_together_are_those_of_surges_drawn_alone(tmp_path, range_in):
    """Whatever differs from surge to surge; with patients of every source and rooms cleaned."""
    (tmp_path / "days.csv").write_text("day,patients\n1,2\n2,0\n3,5\n", encoding="utf-8")
    file = scenario(tmp_path, **changed(BUSY, range_in))
    each = [file.settings_for(5, Sample.RUN, surge) for surge in range(7)]
    for surge, trace in enumerate(draw_surges(each, range(7), 5)):
        alone = draw_demand(file, 5, surge)
        assert contents(trace) == contents(alone)
        assert len(trace.patients.room) > 10


def test_surges_seeds_and_samples_differ():
    whole = scenario(**FULL)
    traces = [
        draw_demand(whole, seed, surge, sample)
        for seed, surge, sample in (
            (1, 0, Sample.RUN), (2, 0, Sample.RUN), (1, 1, Sample.RUN), (1, 0, Sample.CHOOSE),
            (1, 0, Sample.CERTIFY), (0, 0, Sample.RUN),
        )
    ]  # fmt: skip
    assert len({trace.due_s.tobytes() for trace in traces}) == len(traces)


@pytest.mark.parametrize(
    "changes",
    [
        {"stock": {"kits": 50, "batteries": 1, "bays": 9}},
        {"batteries": {"charge_time": "8 h"}},
        {"cleaning": {"by": "crew", "crew": [{"start": "07:00", "end": "15:00", "cleaners": 1}]}},
        {"target": {"wait": "9 min"}},
        {"disruptions": [{"what": "power cut", "at": "1 d", "lasts": "5 h"}]},
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
    assert len(columns) == 17
    for name in ("room_s", "don_s", "doff_s", "patience_s", "role", "patient_class", "patient",
                 "urgent", "wearer", "hood_torn", "tube_torn"):  # fmt: skip
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
