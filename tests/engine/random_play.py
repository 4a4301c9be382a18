"""Small random scenarios over the whole schema of the equipment, for hypothesis to draw."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import strategies as st

from surge_sim.demand.table import MARKS
from surge_sim.equipment.batteries import ISSUED
from surge_sim.equipment.kits import KEPT
from surge_sim.equipment.stock import Stock
from tests.engine.tiny import HandMade, settings, tiny_trace


def _min(draw: Any, low: int, high: int) -> str:
    """Draw a whole number of minutes as text: few values, so that times often tie."""
    return f"{draw(st.integers(low, high))} min"


@st.composite
def levels(draw: Any) -> list[dict[str, str]]:
    """One to three flow levels, the higher ones with shorter run times."""
    count = draw(st.integers(1, 3))
    hours = sorted((draw(st.integers(2, 9)) for _ in range(count)), reverse=True)
    return [
        {"run_time": f"{h} h"} | ({"further_life": f"{draw(st.integers(5, 60))} %"} if i else {})
        for i, h in enumerate(hours)
    ]


@st.composite
def cleanings(draw: Any) -> dict[str, Any]:
    """One of the three ways to wipe down."""
    by = draw(st.sampled_from(["wearer", "crew", "central"]))
    common = {"contact_time": _min(draw, 0, 4), "drying_time": _min(draw, 0, 20), "by": by}
    if by == "wearer":
        places = draw(st.sampled_from([None, "1", "2"]))
        return common | ({} if places is None else {"places": places}) | {"wipe_down": "0 min"}
    if by == "crew":
        shifts = [{"start": "07:00", "end": "19:00", "cleaners": str(draw(st.integers(0, 3)))}]
        if draw(st.booleans()):
            shifts.append({"start": "18:00", "end": "02:00", "cleaners": "1"})
        return common | {"wipe_down": "0 min", "crew": shifts}
    rounds = draw(st.sampled_from([["08:00", "16:00"], ["06:00"], ["00:00", "12:00", "13:00"]]))
    return common | {"rounds": rounds, "turnaround": _min(draw, 0, 300)}


@st.composite
def supplies(draw: Any) -> dict[str, Any]:
    """Spare parts, each endless or counted."""
    shelf = {}
    for name in ("hoods", "tubes", "prefilters", "he_filters", "large_hoods"):
        if draw(st.booleans()):
            one: dict[str, str] = {"spare": str(draw(st.integers(0, 3)))}
            if draw(st.booleans()):
                one |= {
                    "reorder_point": str(draw(st.integers(0, 2))),
                    "order_quantity": str(draw(st.integers(1, 3))),
                    "lead_time": _min(draw, 0, 600),
                }
            shelf[name] = one
    return shelf


@st.composite
def timelines(draw: Any) -> list[dict[str, str]]:
    """Up to four changes of any sort, which may overlap, some of them for good."""
    one_or_two = str(draw(st.integers(1, 2)))
    more = {
        "power outage": {}, "charger failure": {"bays": "1"}, "cleaning crew absent": {},
        "extra cleaners": {"cleaners": "1", "shift": "07:00"}, "kits recalled": {"kits": "2"},
        "kits on loan": {"kits": one_or_two}, "late delivery": {},
        "defective filter lot": {"life": "30 %"}, "batteries on loan": {"batteries": one_or_two},
        "chargers on loan": {"chargers": one_or_two},
        "reserve for urgent entries": {"kits": draw(st.sampled_from(["0", "1", "2"]))},
        "kit policy": {"kit": draw(st.sampled_from(KEPT))},
        "partial charge at reissue": {"allowed": draw(st.sampled_from(["yes", "no"]))},
        "maximum wait": {
            "wait": draw(st.sampled_from(["0 min", "10 min"])),
            "entries": draw(st.sampled_from(["routine", "urgent", "all"])),
        },
        "care bundled": {"dropped": draw(st.sampled_from(["30 %", "100 %"]))},
        "routine entries postponed": {
            "by": _min(draw, 1, 400), "share": draw(st.sampled_from(["50 %", "100 %"])),
        },
    }  # fmt: skip
    found = []
    for what in draw(st.lists(st.sampled_from(sorted(more)), max_size=4)):
        if what == "power outage" and draw(st.booleans()):
            more = more | {what: {"bays": str(draw(st.integers(1, 3)))}}
        if what == "cleaning crew absent" and draw(st.booleans()):
            more = more | {what: {"cleaners": "1", "shift": "07:00"}}
        at = {"at": _min(draw, 0, 900)}
        if what not in DECISIONS or draw(st.booleans()):
            at["lasts"] = _min(draw, 1, 600)
        found.append({"what": what} | at | more[what])
    return found


#: what may hold for good
DECISIONS = (
    "extra cleaners", "kits on loan", "batteries on loan", "chargers on loan",
    "reserve for urgent entries", "kit policy", "partial charge at reissue", "maximum wait",
    "care bundled", "routine entries postponed",
)  # fmt: skip


@st.composite
def policies(draw: Any) -> dict[str, str]:
    """Held or not, postponed or not, reserved or not."""
    return {
        "kit": draw(st.sampled_from(KEPT)),
        "wipe_between_visits": _min(draw, 0, 3),
        "after_maximum_wait": draw(st.sampled_from(["leaves the queue", "postponed"])),
        "postponed_by": _min(draw, 1, 90),
        "reserved_for_urgent": str(draw(st.sampled_from([0, 0, 1, 2]))),
    }


@st.composite
def run_ins(draw: Any, rng: np.random.Generator) -> HandMade | None:
    """Draw the entries of a day before the surge, late in it so that much is under way at its end.

    None: the surge has no run-in.
    """
    count = draw(st.sampled_from([None, 0, 1, 5, 60]))
    if count is None:
        return None
    wearers = draw(st.sampled_from([0, 2]))
    return tiny_trace(
        settings(horizon="24 h", run_out="0 h"),
        need=np.sort(rng.integers(draw(st.sampled_from([0, 1_200])), 1_440, count)).tolist(),
        room=rng.integers(0, draw(st.sampled_from([10, 300])), count).tolist(),
        wearer=(rng.integers(-1, wearers, count)).tolist() if wearers and count else None,
        shift_end=(1_440 + rng.choice([-60, 240], wearers)).tolist(),
        maximum_wait=draw(st.sampled_from([None, 15])),
        mark=rng.integers(0, MARKS, count).tolist(),
        same_wearers=True,
    )


@st.composite
def plays(draw: Any, run_in: bool = False) -> tuple[HandMade, Stock]:
    """Draw a scenario, a trace and a stock; ``run_in``: some with a day before the surge."""
    changes: dict[str, Any] = {
        "start": draw(st.sampled_from(["2031-01-06 00:00", "2031-01-10 14:00"])),
        "kit": {
            "pre_use_check": _min(draw, 0, 2),
            "don": _min(draw, 0, 3),
            "doff": _min(draw, 0, 3),
            "levels": draw(levels()),
            "single_use_hoods": draw(st.sampled_from(["no", "no", "yes"])),
        },
        "batteries": {
            "charge_time": _min(draw, 0, 300),
            "minimum_run_time": _min(draw, 15, 60),
            "low_battery_alarm": _min(draw, 0, 10),
            "state_of_health": draw(
                st.sampled_from([["100 %"], ["100 %", "70 %"], ["90 %", "55 %", "3 %"]])
            ),
            "constant_current_to": draw(st.sampled_from(["80 %", "60 %"])),
            "end_of_charge": draw(st.sampled_from(["exponential", "straight"])),
            "issued": draw(st.sampled_from(ISSUED)),
        },
        "charging": {
            "partial_charge_at_reissue": draw(st.sampled_from(["yes", "no"])),
            "charge_below": draw(st.sampled_from(["100 %", "60 %"])),
        },
        "cleaning": draw(cleanings()),
        "carrying": {name: _min(draw, 0, 6) for name in ("fetch", "bring_back", "to_cleaning")},
        "supplies": draw(supplies()),
        "policy": draw(policies()),
        "timeline": draw(timelines()),
        "run_out": draw(st.sampled_from(["1 h", "24 h"])),
    }
    if draw(st.booleans()):
        changes["charging"]["rounds_every"] = _min(draw, 30, 480)
    if draw(st.booleans()):
        changes["kit"]["recheck"] = {"first_after": "40 min", "then_every": "20 min"}
    if draw(st.booleans()):
        changes["filters"] = {
            "prefilter_life": "3 h", "he_filter_life": "9 h", "prefilter_change": "5 min",
            "he_filter_turnaround": "3 h", "at_start": "new",
        }  # fmt: skip
    changes["failures"] = {}
    if draw(st.booleans()):
        changes["failures"] |= {"blower_run_between_failures": "20 h", "repair_time": "5 h"}
    if draw(st.booleans()):
        changes["failures"] |= {"battery_run_between_failures": "20 h"}
    if draw(st.booleans()):
        changes["charging"]["cool_down"] = _min(draw, 1, 60)
    if draw(st.booleans()):
        changes["charging"]["time_to_connect"] = _min(draw, 1, 10)
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    blowers_fail = "blower_run_between_failures" in changes["failures"]
    batteries_fail = "battery_run_between_failures" in changes["failures"]
    before = draw(run_ins(rng)) if run_in else None
    if before is not None:
        changes["run_in"] = "1 d"
    count = draw(st.sampled_from([1, 2, 5, 40, 120]))
    wearers = draw(st.sampled_from([0, 1, 4]))
    long = draw(st.sampled_from([10, 60, 300]))
    need = np.sort(rng.integers(0, draw(st.sampled_from([30, 300, 1_400])), count))
    urgent = rng.random(count) < 0.2 if draw(st.booleans()) else np.zeros(count, dtype=np.bool_)
    # in the order of a demand: of one second, urgent entries come first
    urgent = urgent[np.lexsort((~urgent, need))]
    trace = tiny_trace(
        settings(**changes),
        need=need.tolist(),
        room=rng.integers(0, long, count).tolist(),
        wipe=rng.integers(0, 20, 7).tolist(),
        urgent=urgent.tolist(),
        wearer=(rng.integers(-1, wearers, count)).tolist() if wearers else None,
        shift_end=rng.choice([240, 240, 100, 500, 900], wearers).tolist() if wearers else None,
        before=before,
        same_wearers=True,
        maximum_wait=draw(st.sampled_from([None, None, 0, 15])),
        hood_torn=np.flatnonzero(rng.random(count) < 0.1).tolist(),
        mark=rng.integers(0, MARKS, count).tolist(),
        prefilter_life=rng.integers(1, 200, 6).tolist() if "filters" in changes else (),
        he_life=rng.integers(1, 900, 6).tolist() if "filters" in changes else (),
        failure_run=rng.integers(1, 900, 6).tolist() if blowers_fail else (),
        repair=rng.integers(0, 300, 6).tolist() if blowers_fail else (),
        battery_run=rng.integers(1, 900, 6).tolist() if batteries_fail else (),
        replacement=rng.integers(0, 300, 6).tolist() if batteries_fail else (),
        bays_failed=draw(st.sampled_from([(), (0, 1, 60, 0), (100, 2, 300, 1, 500, 0)])),
    )
    if trace.urgent.any():
        trace.wearer[trace.urgent] = -1
    # entries of nobody in particular, and some of the wearers
    share = draw(st.sampled_from([0, 0, 0.2, 0.7]))
    trace.large_hood[:] = rng.random(count) < share
    if wearers and share:
        named = trace.wearer >= 0
        trace.large_hood[named] = (rng.random(wearers) < share)[trace.wearer[named]]
    stock = Stock(
        kits=draw(st.sampled_from([0, 1, 2, 5, 40])),
        batteries=draw(st.sampled_from([0, 1, 3, 8, 60])),
        bays=draw(st.sampled_from([0, 1, 2, 60])),
    )
    return trace, stock
