"""Care of the patients: classes, rooms, roles and urgent events."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from surge_sim.scenario.arrivals import Weights24
from surge_sim.scenario.limits import MOST_OF_ANYTHING
from surge_sim.scenario.quantities import (
    ClockTime,
    Count,
    Duration,
    Factor,
    Number,
    PerDay,
    PerHour,
    Section,
    Share,
)
from surge_sim.scenario.spread import Times


class TerminalClean(Section):
    """The clean of a room after its patient left."""

    role: str
    #: with a kit: an entry at once, inside the clearance time; after clearance: no kit needed
    when: Literal["with a kit", "after clearance"] = "after clearance"
    room_time: Times
    #: from the patient's leaving to the start of the clean
    delay: Duration = 0


class Rooms(Section):
    """Airborne-isolation rooms; missing section: as many rooms as patients."""

    count: Count = Field(ge=0)
    when_full: Literal["board", "divert"] = "board"
    #: air changes per hour
    air_changes: PerHour = Field(gt=0)
    #: share of airborne matter that is gone when the room is opened again; 99 %: a choice, one of
    #: the two shares of CDC/HICPAC, Guidelines for Environmental Infection Control in Health-Care
    #: Facilities, 2003, Appendix B, Table B.1 (the other is 99.9 %)
    clearance: Share = 0.99
    #: times the clearance time; 1: perfect mixing, as in that table
    mixing_factor: Number = Field(default=1.0, ge=1.0)
    terminal_clean: TerminalClean | None = None


class UrgentEvents(Section):
    """Clinical emergencies: a whole team enters at the same moment."""

    per_patient: PerDay
    team: Count = Field(ge=1, le=MOST_OF_ANYTHING)
    role: str


class PatientClass(Section):
    """One class of patients: how many, for how long, visited how often."""

    share: Share
    isolation: Times
    #: entries per patient-day by role (before the share that needs a kit)
    entries: dict[str, PerDay]
    urgent: UrgentEvents | None = None


class Role(Section):
    """One role of staff: length of visit, hours, who wears a kit, who the wearer is."""

    room_time: Times
    #: share of the entries that need a kit; the others are not simulated
    kit_share: Share = 1.0
    hours_of_day: Weights24 | None = None
    #: one named wearer looks after this many patients in a shift; missing: no named wearers
    patients_per_wearer: Count | None = Field(default=None, ge=1)
    #: starts of the shifts, in order through the day; 07:00 and 19:00: invented
    shifts: tuple[ClockTime, ...] = (25_200, 68_400)
    don: Times | None = None
    doff: Times | None = None
    patience: Duration | None = None


class BundledCare(Section):
    """Fewer, longer visits: the rate falls to a share, the room time rises to a share."""

    entries: Factor = 1.0
    room_time: Factor = 1.0
    roles: tuple[str, ...] | None = None


class CarePolicy(Section):
    """How visits are arranged, and what happens to one that cannot wait."""

    bundled_care: BundledCare | None = None
    #: how long an entry waits before it is done otherwise; missing: for ever
    patience: Duration | None = None
    urgent_patience: Duration | None = None
    #: other protection: the visit goes on without a kit, and the tool does not judge how;
    #: postponed: the visit comes again later
    fallback: Literal["other protection", "postponed"] = "other protection"
    #: how much later; 1 h: invented
    postponed_by: Duration = 3_600
    #: one kit per entry from the shelf, or one kit kept by a named wearer for the shift
    kit: Literal["per entry", "held for a shift"] = "per entry"
    #: wipe between the visits of a held kit; 2 min: invented
    short_wipe: Duration = 120
    #: complete kits that only urgent entries may take
    reserved_for_urgent: Count = Field(default=0, ge=0)
