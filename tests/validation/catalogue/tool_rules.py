"""surge_sim's rules about equipment against rules in print: flow, checks, batteries, sharing."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

import surge_sim
from surge_sim.engine.log import Alarm, Count
from tests.validation.catalogue import sources as src
from tests.validation.catalogue import unnoticed
from tests.validation.catalogue.tool_lines import AGAIN, OWN, PUBLISHED, SECOND, Row, numbered
from tests.validation.check import Check, Found
from tests.validation.scenes import DAY, HOUR, Played, loaded, plain_pool, played


def accepted(flow: str) -> bool:
    """Whether a blower whose only level gives this flow may be used (no minimum written)."""
    scene = plain_pool(1, DAY, kit={"levels": [{"flow": flow, "run_time": "8 h"}]},
                       entries={"from": "log.csv"})  # fmt: skip
    try:
        loaded(scene, {"log.csv": "requested,room_minutes\n0,10\n"})
    except surge_sim.ScenarioError:
        return False
    return True


@cache
def least_flow() -> Found:
    """Least whole flow [L/min] that a scenario may have, by trying."""
    return Found(float(next(flow for flow in range(150, 200) if accepted(f"{flow} L/min"))))


def warned(run_time: str) -> bool:
    """Whether the loader warns of a run time below the least one."""
    scene = plain_pool(1, DAY, kit={"levels": [{"run_time": run_time}]},
                       entries={"from": "log.csv"})  # fmt: skip
    told = loaded(scene, {"log.csv": "requested,room_minutes\n0,10\n"}).warnings
    return any("at least 4 h" in warning for warning in told)


@cache
def minimum_run_time_minutes() -> Found:
    """Minimum run time [min] without a warning, in steps of 1 min."""
    return Found(float(next(m for m in range(230, 250) if not warned(f"{m} min"))))


@cache
def checks_in_wear(hours: float) -> Found:
    """Checks repeated in one use of so many hours, by the defaults."""
    one = played(plain_pool(1, 2 * DAY, kit={"recheck": {}}), due_s=[0],
                 room_s=[int(hours * HOUR)])  # fmt: skip
    return Found(float(one.log.counts[Count.RECHECKS]))


@cache
def rotation(batteries: int, bays: int, run_h: int, charge_h: int, wearers: int = 3) -> Played:
    """Wearers who change batteries only: visits as long as a battery runs, back to back.

    Their shifts begin one after the other, evenly over a run.
    """
    visits = 40
    starts = np.arange(wearers) * run_h * HOUR // wearers
    scene = plain_pool(
        2 * wearers, 60 * DAY,
        kit={"levels": [{"run_time": f"{run_h} h"}]},
        batteries={"charge_time": f"{charge_h} h"},
        charging={"partial_charge_at_reissue": "no"},
        stock={"kits": 2 * wearers, "batteries": batteries, "bays": bays},
    )  # fmt: skip
    return played(
        scene, due_s=np.tile(starts, visits),
        room_s=np.full(wearers * visits, run_h * HOUR),
        wearer=[f"w{n}" for n in range(wearers)] * visits,
    )  # fmt: skip


def covers(batteries: int, bays: int, run_h: int, charge_h: int) -> bool:
    """Whether nobody waits for a battery once the rotation goes round."""
    return int(rotation(batteries, bays, run_h, charge_h).wait_s.max()) == 0


def fewest(what: str, run_h: int, charge_h: int) -> Found:
    """Fewest batteries (bays) that cover three wearers without a wait, the other ample."""
    for number in range(3 if what == "batteries" else 1, 30):
        stock = (number, 30) if what == "batteries" else (30, number)
        if covers(*stock, run_h, charge_h):
            return Found(float(number))
    return Found(float("nan"))


@cache
def shared() -> Found:
    """Hand-overs of one kit to another wearer before its wipe-down was over (should be none)."""
    rng = np.random.default_rng([1, 61])
    due_s = np.sort(rng.integers(0, 5 * DAY, 2000))
    scene = plain_pool(
        4, 6 * DAY, cleaning={"wipe_down": "9 min", "contact_time": "2 min", "drying_time": "3 min"}
    )
    log = played(scene, due_s=due_s, room_s=rng.integers(60, 1200, 2000)).log
    order = np.lexsort((log.in_hand_s, log.blower))
    same = np.diff(log.blower[order]) == 0
    gap = log.in_hand_s[order][1:] - log.end_s[order][:-1]
    return Found(float((gap[same] < 14 * 60).sum()))


@cache
def faulty() -> Played:
    """Blowers that fail often; their visits go on with another kit."""
    rng = np.random.default_rng([1, 62])
    due_s = np.sort(rng.integers(0, 20 * DAY, 400))
    scene: dict[str, Any] = plain_pool(
        6, 21 * DAY, failures={"blower_run_between_failures": "2 h", "repair_time": "30 min"}
    )
    return played(scene, due_s=due_s, room_s=rng.integers(600, 2400, 400))


@cache
def stayed_after_alarm() -> Found:
    """Visits that went on after an alarm without a new kit (should be none)."""
    log = faulty().log
    alarmed = np.flatnonzero(log.alarm != Alarm.NONE)
    assert len(alarmed) > 20
    follow = {
        (int(e), int(p)): row for row, (e, p) in enumerate(zip(log.entry, log.part, strict=True))
    }
    stayed = 0
    for row in alarmed:
        rest = follow.get((int(log.entry[row]), int(log.part[row]) + 1))
        if rest is None or log.blower[rest] == log.blower[row] or log.need_s[rest] < log.end_s[row]:
            stayed += 1
    return Found(float(stayed))


LOADED: list[Row] = [
    ("least flow, the default: that at which filters of loose hoods are tested [L/min]", "170",
     src.CFR_FLOW, PUBLISHED, least_flow, 0.0),
    ("minimum run time that is not warned of [min]", "240", src.NIOSH_CHECK, SECOND,
     minimum_run_time_minutes, 0.0),
]  # fmt: skip
WORN: list[Row] = [
    *(
        (f"repeated checks in {hours} h of wear", value, src.NIOSH_CHECK, SECOND,
         lambda h=hours: checks_in_wear(h), 0.0)
        for hours, value in ((3.5, "0"), (5, "1"), (7, "2"), (9, "3"))
    ),
]  # fmt: skip
ROUND: list[Row] = [
    ("8 h use and 8 h charge, 3 wearers: batteries", "6", src.NIOSH_1992, AGAIN,
     lambda: fewest("batteries", 8, 8), 0.0),
    ("8 h use and 8 h charge, 3 wearers: bays", "3", src.NIOSH_1992, AGAIN,
     lambda: fewest("bays", 8, 8), 0.0),
    ("4 h use and 2 h charge, 3 wearers: batteries", "5", src.ROTATION,
     OWN, lambda: fewest("batteries", 4, 2), 0.0),
    ("4 h use and 2 h charge, 3 wearers: bays", "2", src.ROTATION, OWN,
     lambda: fewest("bays", 4, 2), 0.0),
]  # fmt: skip
SHARED: list[Row] = [
    ("shared kits handed over before they were clean", "0", src.OSHA_SHARED, SECOND,
     shared, 0.0),
]  # fmt: skip
LEFT: list[Row] = [
    ("visits that went on in the room after a blower failure", "0", src.OSHA_LEAVE, SECOND,
     stayed_after_alarm, 0.0),
]  # fmt: skip
CHECKS: list[Check] = numbered(
    "G", "surge_sim's rules about equipment",
    (unnoticed.LOADER, LOADED),
    (unnoticed.RECHECKS, WORN),
    (unnoticed.ROTATION, ROUND),
    (unnoticed.SHARED_KIT, SHARED),
    (unnoticed.STAYED, LEFT),
)  # fmt: skip
