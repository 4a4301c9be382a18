"""Patients and their care: who comes and when, rooms, classes, roles, and the rules of care."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import AfterValidator, ConfigDict, Field, SkipValidation, model_validator
from pydantic.json_schema import SkipJsonSchema

from surge_sim.scenario.limits import MOST_REPRODUCTION, SHORTEST_STAGE_S
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
    When,
    YesNo,
)
from surge_sim.scenario.spread import Times
from surge_sim.units import DAY_S


def _some_weight(weights: tuple[float, ...]) -> tuple[float, ...]:
    """Weights of hours or days: none negative, some above 0."""
    # the mean of weights above 0 may be 0, if they are hardly more than 0
    if min(weights) < 0 or sum(weights) / len(weights) <= 0:
        right = "Weights are compared with each other: 0 for never, 2 for twice as often as 1."
        raise FieldError("has a weight below 0, or no weight above 0", right)
    return weights


def _no_or_an_hour(seconds: int) -> int:
    if 0 < seconds < SHORTEST_STAGE_S:
        right = "Write 1 h or more, for example `latent: 4 d`; 0 d: there is no such time."
        raise FieldError("is shorter than an hour", right)
    return seconds


Weights24 = Annotated[
    tuple[Number, ...], Field(min_length=24, max_length=24), AfterValidator(_some_weight)
]


class Wave(Section):
    """A smooth rise and fall: extra x exp(-((t - peak) / width)^2 / 2)."""

    extra_at_peak: PerDay
    peak: Duration
    width: Duration = Field(gt=0)


class Epidemic(Section):
    """Admissions from a susceptible-exposed-infectious-removed (SEIR) curve."""

    population: Count = Field(gt=0)
    reproduction_number: Number = Field(gt=0, le=MOST_REPRODUCTION)
    latent: Annotated[Duration, AfterValidator(_no_or_an_hour)]
    infectious: Duration = Field(ge=SHORTEST_STAGE_S)
    admitted: Share
    first_cases: Count = 1
    immune: Share = 0.0
    onset_to_admission: Duration = 0


class DailyCounts(Section):
    """Admissions per day from a CSV file with columns ``date`` (or ``day``) and ``patients``."""

    file: str
    column: str = "patients"
    share: Factor = 1.0
    exact: YesNo = False
    """Yes: exactly these numbers of patients; no: Poisson around them."""
    counts: SkipJsonSchema[tuple[float, ...]] = Field(default=(), exclude=True)
    """Filled in by the loader: patients per day, from the first day of the horizon."""


class Cluster(Section):
    """Some patients within some hours: an exposure event."""

    patients: Count
    at: When
    """A time after the start, a day and clock time, or a date and clock time."""
    within: Duration = 0
    patient_class: str | None = None


class DayWeights(Section):
    """Relative weight of each day of the week."""

    monday: Number = 1.0
    tuesday: Number = 1.0
    wednesday: Number = 1.0
    thursday: Number = 1.0
    friday: Number = 1.0
    saturday: Number = 1.0
    sunday: Number = 1.0

    @model_validator(mode="after")
    def _some_day(self) -> DayWeights:
        _some_weight(tuple(getattr(self, day) for day in type(self).model_fields))
        return self


class Arrivals(Section):
    """Patients who need airborne isolation."""

    baseline: PerDay = 0.0
    wave: Wave | None = None
    epidemic: Epidemic | None = None
    daily_counts: DailyCounts | None = None
    clusters: tuple[Cluster, ...] = ()
    initial_census: Count = 0
    """Initial census: patients already in isolation when the horizon begins."""
    initial_stay: Literal["residual", "full"] = "residual"
    """Residual: they have been there for a while, as in a unit in its steady state, and stay for
    the rest of their stay; full: they come at the start and stay a whole stay."""
    hours_of_day: Weights24 | None = None
    days_of_week: DayWeights = DayWeights()


@dataclass(frozen=True, eq=False)
class LoggedEntries:
    """Entries of a log, sorted by time of need; read-only arrays of shape (entries,).

    Rows outside the horizon are left out.
    """

    #: need [s] from the start of the horizon, int64
    due_s: NDArray[np.int64]
    #: time in the room [s], int64
    room_s: NDArray[np.int64]
    #: number of the role in `role_names`, int64
    role: NDArray[np.int64]
    urgent: NDArray[np.bool_]
    #: number of the named wearer in `wearer_names`, or -1, int64
    wearer: NDArray[np.int64]
    role_names: tuple[str, ...]
    wearer_names: tuple[str, ...]
    #: recorded wait [s], -1 where there is none, int64; None: the log has no waits
    wait_s: NDArray[np.int64] | None = None

    def __len__(self) -> int:
        """Number of entries."""
        return len(self.due_s)


class EntryLog(Section):
    """A unit's own log of entries, played exactly (``entries: {from: log.csv}``).

    Columns of the CSV file: ``requested`` (ISO time such as ``2031-01-06T07:35``, or minutes from
    the start), ``room_minutes``, and if wished ``role``, ``urgent`` (yes or no) and ``wearer``.
    ``wait_minutes``, the wait that was recorded from the request to a checked kit in hand, less the
    usual time of the check and of fetching a kit, is compared with the simulated one; empty where
    none was recorded.
    """

    model_config = ConfigDict(arbitrary_types_allowed=True)

    file: str = Field(alias="from")
    rows: SkipJsonSchema[Annotated[LoggedEntries | None, SkipValidation()]] = Field(
        default=None, exclude=True
    )
    """Filled in by the loader; wearers of the log serve one visit at a time."""


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
    length_of_isolation: Times
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
    rooms_per_round: Count | None = Field(default=None, ge=1)
    """Routine entries of a named wearer come in rounds of so many rooms, one after the other;
    missing: each by itself."""
    don: Times | None = None
    doff: Times | None = None
    maximum_wait: Duration | None = None


#: how long a wearer keeps a kit: see `equipment.kits.Keep`
KitKept = Literal["per entry", "held for a shift", "per round"]


class BundledCare(Section):
    """Fewer, longer visits: the rate falls to a share, the room time rises to a share."""

    entries: Factor = 1.0
    room_time: Factor = 1.0
    roles: tuple[str, ...] | None = None


class CarePolicy(Section):
    """Operating rules of visits, and what happens to one that cannot wait."""

    bundled_care: BundledCare | None = None
    maximum_wait: Duration | None = None
    """Maximum wait of a routine entry; missing: it waits until it is served."""
    urgent_maximum_wait: Duration | None = None
    after_maximum_wait: Literal["leaves the queue", "postponed"] = "leaves the queue"
    """Leaves the queue: the visit leaves this queue and counts as late; whether and how it is
    then made is outside this model; postponed: the visit comes again later."""
    postponed_by: Duration = 3_600
    """How much later; 1 h: invented."""
    kit: KitKept = "per entry"
    """One kit per entry from the shelf, or one kit kept by a named wearer for the shift, or from
    room to room for a round."""
    wipe_between_visits: Duration = 120
    """Wipe between the visits of a kit that is kept; 2 min: invented. What is wiped, changed and
    checked between rooms is for local rules to say; a check before each entry is always played."""
    reserved_for_urgent: Count = 0
    """Complete kits that only urgent entries may take."""
