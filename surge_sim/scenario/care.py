"""Care of the patients: classes, rooms, roles and urgent events."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from surge_sim.scenario.arrivals import Weights24
from surge_sim.scenario.quantities import (
    DECIDED,
    ClockTime,
    Count,
    Duration,
    Factor,
    FieldError,
    Number,
    PerDay,
    PerHour,
    Section,
    Share,
    Things,
)
from surge_sim.scenario.spread import Times
from surge_sim.units import DAY_S


class TerminalClean(Section):
    """The clean of a room after its patient left."""

    role: str
    when: Literal["with a kit", "after clearance"] = "after clearance"
    """With a kit: an entry at once, inside the clearance time; after clearance: no kit needed."""
    room_time: Times
    delay: Duration = 0
    """From the patient's leaving to the start of the clean."""


class Rooms(Section):
    """Airborne-isolation rooms; missing section: as many rooms as patients."""

    count: Count = Field(json_schema_extra=DECIDED)
    when_full: Literal["board", "divert"] = "board"
    air_changes: PerHour = Field(gt=0)
    """Air changes per hour."""
    clearance: Share = Field(default=0.99, lt=1)
    """Share of airborne matter that is gone when the room is opened again; 99 %: a choice, one of
    the two shares of CDC/HICPAC, Guidelines for Environmental Infection Control in Health-Care
    Facilities, 2003, Appendix B, Table B.1 (the other is 99.9 %)."""
    mixing_factor: Number = Field(default=1.0, ge=1.0)
    """Times the clearance time; 1: perfect mixing, as in that table."""
    terminal_clean: TerminalClean | None = None


class UrgentEvents(Section):
    """Clinical emergencies: a whole team enters at the same moment."""

    per_patient: PerDay
    team: Things = Field(ge=1)
    role: str


class PatientClass(Section):
    """One class of patients: how many, for how long, visited how often."""

    share: Share
    isolation: Times
    entries: dict[str, PerDay]
    """Entries per patient-day by role (before the share that needs a kit)."""
    urgent: UrgentEvents | None = None


def _in_order(shifts: tuple[int, ...]) -> tuple[int, ...]:
    if not shifts or list(shifts) != sorted(set(shifts)) or shifts[-1] >= DAY_S:
        right = "Write their starts in order through the day, for example `shifts: [07:00, 19:00]`."
        raise FieldError("are not in order", right)
    return shifts


class Role(Section):
    """One role of staff: length of visit, hours, who wears a kit, who the wearer is."""

    room_time: Times
    kit_share: Share = 1.0
    """Share of the entries that need a kit; the others are not simulated."""
    hours_of_day: Weights24 | None = None
    patients_per_wearer: Count | None = Field(default=None, ge=1)
    """One named wearer looks after this many patients in a shift; missing: no named wearers."""
    shifts: Annotated[tuple[ClockTime, ...], AfterValidator(_in_order)] = (25_200, 68_400)
    """Starts of the shifts, in order through the day; 07:00 and 19:00: invented."""
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
    patience: Duration | None = None
    """Maximum wait of a routine entry; missing: it waits until it is served."""
    urgent_patience: Duration | None = None
    fallback: Literal["other protection", "postponed"] = "other protection"
    """Other protection: the visit leaves this queue and counts as late; what protection is then
    used is outside this model; postponed: the visit comes again later."""
    postponed_by: Duration = 3_600
    """How much later; 1 h: invented."""
    kit: Literal["per entry", "held for a shift"] = "per entry"
    """One kit per entry from the shelf, or one kit kept by a named wearer for the shift."""
    short_wipe: Duration = 120
    """Wipe between the visits of a held kit; 2 min: invented."""
    reserved_for_urgent: Count = 0
    """Complete kits that only urgent entries may take."""
