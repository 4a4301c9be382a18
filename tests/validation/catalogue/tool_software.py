"""surge_sim beside other programs on the same customers: waits must agree one by one."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from tests.validation.catalogue import sources as src
from tests.validation.catalogue import unnoticed
from tests.validation.catalogue.tool_lines import Row, numbered
from tests.validation.check import Check, Found, Kind
from tests.validation.other_software import ciw_waits, kits_and_batteries, recursion_waits
from tests.validation.scenes import HOUR, IntArray, generator, line, plain_pool, played

CIW = "Ciw {version}, the same arrivals and services"
MANY = 4000


@cache
def customers(load: float, many: int = MANY, hours: int = 1) -> tuple[IntArray, IntArray]:
    """Arrivals, never two in one second, and gamma services with a mean of some hours."""
    rng = generator(900 + round(100 * load))
    due_s = np.cumsum(rng.integers(1, round(2 * hours * HOUR / load), many))
    return due_s, np.maximum(rng.gamma(2.0, hours * HOUR / 2, many).astype(np.int64), 1)


def differing(ours: IntArray, theirs: IntArray) -> Found:
    """How many waits differ; a comparison of no waits at all is refused."""
    assert len(ours) == len(theirs)
    assert (theirs > 0).mean() > 0.02
    return Found(float((ours != theirs).sum()))


def plain(servers: int, load: float) -> Found:
    """First come, first served."""
    due_s, room_s = customers(load)
    return differing(line(servers, due_s, room_s).wait_s, ciw_waits(servers, due_s, room_s))


def teams() -> Found:
    """Four people who come in the same second."""
    due_s, room_s = customers(0.5, 1000)
    due_s, room_s = np.repeat(due_s, 4), np.tile(room_s, 4)
    return differing(line(3, due_s, room_s).wait_s, ciw_waits(3, due_s, room_s))


def priority() -> Found:
    """One in five is urgent and goes before the routine ones; nobody is interrupted."""
    due_s, room_s = customers(3.7, 2000, 20)
    urgent = generator(901).random(2000) < 0.2
    ours = line(4, due_s, room_s, urgent=urgent.tolist())
    # with two events in one second the order would be a matter of taste: there is none
    ends = ours.log.end_s
    assert not np.isin(ends, due_s).any()
    return differing(ours.wait_s, ciw_waits(4, due_s, room_s, urgent))


def maximum_wait() -> Found:
    """Who waits 40 min leaves the line; services all alike."""
    due_s, _ = customers(4.5)
    room_s = np.full(MANY, HOUR + 1)
    ours = line(4, due_s, room_s, policy={"maximum_wait": "40 min"})
    theirs = ciw_waits(4, due_s, room_s, maximum_wait_s=40 * 60)
    assert (theirs < 0).mean() > 0.05
    return differing(np.where(ours.log.in_hand_s < 0, -1, ours.wait_s), theirs)


def with_wipe_down() -> Found:
    """A kit is away for use, wipe-down, wet and dry time: a longer service, the same wait."""
    due_s, room_s = customers(2.2)
    scene = plain_pool(
        4, int(due_s[-1]) + 1,
        cleaning={"by": "wearer", "wipe_down": "9 min", "contact_time": "10 min",
                  "drying_time": "11 min"},
    )  # fmt: skip
    ours = played(scene, due_s=due_s, room_s=room_s)
    return differing(ours.wait_s, ciw_waits(4, due_s, room_s + 30 * 60))


def by_recursion(servers: int, load: float) -> Found:
    """The recursion of the waits."""
    due_s, room_s = customers(load, 20_000)
    ours = line(servers, due_s, room_s).wait_s
    return differing(ours, recursion_waits(servers, due_s, room_s))


def loops(kits: int, batteries: int, bays: int) -> Found:
    """Kits, batteries and bays together; uses of 30 min, charging of 45 min, wipe-down 20 min."""
    due_s, _ = customers(5.0)
    scene: dict[str, Any] = plain_pool(
        kits, int(due_s[-1]) + 1,
        kit={"levels": [{"run_time": "8 h"}]},
        batteries={"charge_time": "12 h", "constant_current_to": "50 %",
                   "constant_current_time": "50 %", "end_of_charge": "straight",
                   "minimum_run_time": "8 h"},
        charging={"partial_charge_at_reissue": "no"},
        cleaning={"by": "wearer", "wipe_down": "20 min"},
        stock={"kits": kits, "batteries": batteries, "bays": bays},
    )  # fmt: skip
    ours = played(scene, due_s=due_s, room_s=np.full(MANY, 30 * 60)).wait_s
    times = (30 * 60, 20 * 60, 45 * 60)
    return differing(ours, kits_and_batteries(due_s.tolist(), *times, kits, batteries, bays))


def _ciw() -> str:
    from importlib.metadata import version

    return CIW.format(version=version("ciw"))


def _kits(number: int) -> str:
    return f"{number} kit" + ("" if number == 1 else "s")


GLASSERMAN = "P. Glasserman & D. Yao, Mathematics of Operations Research 1992; 17: 1-21"
ROWS: list[Row] = [
    *(
        (f"{_kits(servers)} at load {load:g}: waits of {MANY:,} that differ", "0", _ciw(),
         Kind.SOFTWARE, lambda s=servers, a=load: plain(s, a), 0.0)
        for servers, load in ((1, 0.8), (3, 2.5), (8, 7.0))
    ),
    ("teams of 4 in one second: waits of 4,000 that differ", "0", _ciw(), Kind.SOFTWARE,
     teams, 0.0),
    ("urgent before routine: waits of 2,000 that differ", "0", _ciw(), Kind.SOFTWARE,
     priority, 0.0),
    (f"maximum wait of 40 min: waits of {MANY:,} that differ", "0", _ciw(), Kind.SOFTWARE,
     maximum_wait, 0.0),
    (f"wipe-down, wet and dry time: waits of {MANY:,} that differ", "0", _ciw(), Kind.SOFTWARE,
     with_wipe_down, 0.0),
    *(
        (f"{_kits(servers)} at load {load:g}: waits of 20,000 that differ", "0", src.LINDLEY,
         Kind.RECOMPUTED, lambda s=servers, a=load: by_recursion(s, a), 0.0)
        for servers, load in ((1, 0.9), (6, 5.4))
    ),
]  # fmt: skip
LOOPS: list[Row] = [
    *(
        (f"{kits} kits, {batteries} batteries, {bays} bays: waits of {MANY:,} that differ", "0",
         GLASSERMAN, Kind.RECOMPUTED, lambda one=(kits, batteries, bays): loops(*one), 0.0)
        for kits, batteries, bays in ((5, 30, 30), (30, 7, 30), (30, 9, 4), (6, 8, 5))
    ),
]  # fmt: skip
CHECKS: list[Check] = numbered(
    "X", "surge_sim beside other programs",
    (unnoticed.BESIDE, ROWS), (unnoticed.BESIDE_BATTERIES, LOOPS),
)  # fmt: skip
