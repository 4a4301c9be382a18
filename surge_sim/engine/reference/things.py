"""The things in the ward, each with its state; field names are those of the compiled engine."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

import simpy

from surge_sim.engine.log import Use
from surge_sim.equipment.causes import CAUSES
from surge_sim.equipment.kits import Repair


@dataclass(eq=False)
class Kit:
    """A blower and what is on it. `state` is one of the KITS_ uses."""

    number: int
    state: Use = Use.KITS_READY
    shelf_level: int = 0
    prefilter_no: int = 0
    prefilter_run_s: int = 0
    prefilter_life_s: int = 0
    main_no: int = 0
    main_run_s: int = 0
    main_life_s: int = 0
    fault_no: int = 0
    fault_run_s: int = 0
    fault_life_s: int = 0
    repair: int = Repair.NOTHING
    has_hood: bool = False
    has_tube: bool = False
    battery: Battery | None = None
    #: kept for the shift by a wearer who is between two visits
    held: bool = False
    #: succeeds when its wearer has wiped it down
    wiped: simpy.Event | None = None


@dataclass(eq=False)
class Battery:
    """A battery. `state` is one of the BATTERIES_ uses."""

    number: int
    charge: int
    state: Use = Use.BATTERIES_ON_SHELF
    in_bay_s: int = 0
    full_s: int = 0


@dataclass(eq=False)
class Wearer:
    """A named wearer: one visit at a time, perhaps with a kit held for the shift."""

    number: int
    shift_end_s: int
    busy: bool = False
    kit: Kit | None = None
    shift_end_awaited: bool = False
    queue: deque[Need] = field(default_factory=deque)


@dataclass(eq=False)
class Need:
    """One need: an entry's first, the rest of a visit, or a postponed visit."""

    row: int
    entry: int
    part: int
    due_s: int
    room_s: int
    don_s: int
    doff_s: int
    patience_s: int
    urgent: bool
    wearer: Wearer | None
    hood_torn: bool
    tube_torn: bool
    need_s: int = -1
    wait_s: int = 0
    in_hand_s: int = -1
    end_s: int = -1
    outcome: int = 0
    alarm: int = 0
    blower: int = -1
    battery: int = -1
    level: int = -1
    failed_checks: int = 0
    worn_s: int = 0
    rest_s: int = 0
    #: alarms in a row, before this need, that left the visit where it was
    in_vain: int = 0
    #: seconds waited in line, by cause; while it waits, less what its line's clock showed then
    waited_s: list[int] = field(default_factory=lambda: [0] * CAUSES)
    #: which clock that is, see `waiting`
    clock: int = 0
    kit: Kit | None = None
    waiting: bool = False
    #: succeeds with True when served, with False when patience is over
    turn: simpy.Event | None = None
