"""The whole scenario with every number fixed: what the later stages see."""

from __future__ import annotations

from pydantic import Field

from surge_sim.scenario.arrivals import Arrivals, EntryLog
from surge_sim.scenario.care import CarePolicy, PatientClass, Role, Rooms
from surge_sim.scenario.gear import Batteries, Charging, Cleaning, Faults, Filters, Kit, Supplies
from surge_sim.scenario.goal import Prices, SearchLimits, StockInHand, Target
from surge_sim.scenario.quantities import DECIDED, Duration, Moment, Name, Section, Title
from surge_sim.scenario.timeline import Change


class Settings(Section):
    """One scenario, every range already settled (to central values, or drawn for one surge)."""

    title: Title
    question: str = ""
    note: str = ""
    start: Moment
    horizon: Duration = Field(gt=0, json_schema_extra=DECIDED)
    run_off: Duration = Field(default=86_400, json_schema_extra=DECIDED)
    """Run-out period: after the horizon the simulation runs on so long; entries still waiting then
    are late. 1 d: a choice."""
    arrivals: Arrivals | None = None
    entries: EntryLog | None = None
    rooms: Rooms | None = None
    classes: dict[Name, PatientClass] = Field(default_factory=dict)
    roles: dict[Name, Role] = Field(default_factory=dict)
    policy: CarePolicy = CarePolicy()
    kit: Kit
    filters: Filters | None = None
    faults: Faults = Faults()
    batteries: Batteries
    charging: Charging = Charging()
    cleaning: Cleaning
    supplies: Supplies = Supplies()
    timeline: tuple[Change, ...] = ()
    stock: StockInHand
    prices: Prices = Prices()
    limits: SearchLimits = SearchLimits()
    target: Target
    sources: dict[str, str] = Field(default_factory=dict)
