"""The sections of a scenario: equipment, stock, prices and target here; and the whole."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from surge_sim import units
from surge_sim.scenario.patients import Arrivals, CarePolicy, EntryLog, PatientClass, Role, Rooms
from surge_sim.scenario.quantities import (
    DECIDED,
    ClockTime,
    Count,
    Decided,
    Duration,
    FieldError,
    Flow,
    Label,
    Moment,
    Money,
    Name,
    Number,
    Parts,
    Percent,
    Section,
    Share,
    Things,
    Title,
    YesNo,
    one_or_more,
    whole_days,
)
from surge_sim.scenario.spread import Times
from surge_sim.scenario.timeline import Change


class FlowLevel(Section):
    """One flow level of the blower, lowest first."""

    flow: Flow | None = None
    run_time: Duration = Field(gt=0)
    further_life: Percent = 0.0
    """Further share of a filter's life that this level buys over the one below."""


class Recheck(Section):
    """Checks repeated during wear."""

    first_after: Duration = Field(default=14_400, gt=0)
    """After so much wear; 4 h: NIOSH publication 2013-146 (Metzler & Szalajda, 2013), read in a
    copy."""
    then_every: Duration = Field(default=7_200, gt=0)
    """2 h: the same source."""


class Kit(Section):
    """One kit in use: check, donning, doffing, flow levels."""

    pre_use_check: Duration
    don: Times
    doff: Times
    minimum_flow: Flow = 170.0
    """170 L/min: flow at which filters of loose-fitting units are tested, 42 CFR 84.175; taken here
    as the minimum."""
    levels: Annotated[tuple[FlowLevel, ...], Field(min_length=1, max_length=8)]
    recheck: Recheck | None = None
    single_use_hoods: YesNo = False
    """Hoods are thrown away after each use."""
    large_hood_share: Share = 0.0
    """Share of wearers who need a large hood: the hood of a kit does not fit them, and a large one
    fits nobody else. 0 %: a kit's own hood fits everybody."""


class WorkingHours(Section):
    """When somebody is there to do it."""

    start: ClockTime = 28_800
    """08:00: invented."""
    end: ClockTime = 57_600
    """16:00: invented."""
    weekend: YesNo = False
    """Whether somebody is there on Saturdays and Sundays; no: invented."""

    @model_validator(mode="after")
    def _in_order(self) -> WorkingHours:
        if self.start >= self.end:
            right = "Write for example `{start: 08:00, end: 16:00}`."
            raise FieldError("end before they start", right)
        return self


class Filters(Section):
    """Filter lives in run-hours, drawn when a filter is fitted."""

    prefilter_life: Times
    he_filter_life: Times
    prefilter_change: Duration
    he_filter_turnaround: Duration
    working_hours: WorkingHours = WorkingHours()
    at_start: Literal["new", "part worn"] = "part worn"
    """New: all filters unused when the surge begins; part worn: a uniform share of life is gone; a
    choice of the model (assumption A12 of the README)."""


class Failures(Section):
    """What breaks: blowers and batteries per run-hour, chargers with time, parts per use."""

    blower_run_between_failures: Duration | None = Field(default=None, gt=0)
    """Mean run time between failures of a blower (MTBF, exponential); missing: never."""
    repair_time: Times | None = None
    battery_run_between_failures: Duration | None = Field(default=None, gt=0)
    """Mean run time after which a battery fails in use (exponential); missing: never."""
    battery_replacement_time: Times | None = None
    """Until a full battery is there in the place of one that failed."""
    charger_time_between_failures: Duration | None = Field(default=None, ge=86_400)
    """Mean time, in use or not, between failures of a charger and with it of its bays
    (exponential), 1 d at least; missing: never. Chargers on loan do not fail."""
    charger_repair_time: Times | None = None
    hood_damage: Share = 0.0
    tube_damage: Share = 0.0


#: of each rate of failures, how long it takes until what failed is there again
REPAIRED = {
    "blower_run_between_failures": "repair_time",
    "battery_run_between_failures": "battery_replacement_time",
    "charger_time_between_failures": "charger_repair_time",
}

#: length of a year [s], for the fade of batteries
_YEAR_S = 365.25 * units.DAY_S
#: a battery drawn older than its fade allows still holds this share of its rated charge
_LEAST_HEALTH = 0.01


class AgeFade(Section):
    """State of health from age: 1 - age x fade, ages repeat over all batteries."""

    ages: Annotated[tuple[Duration, ...], one_or_more(Duration), Field(min_length=1)]
    fade_per_year: Share

    def health(self, age_s: int) -> float:
        """Share of the rated charge that is left at an age [s]; 0 or less: nothing."""
        return 1 - self.fade_per_year * age_s / _YEAR_S


class Batteries(Section):
    """Run time at each level stands with the level; this is the rest."""

    charge_time: Duration = Field(ge=0)
    constant_current_to: Share = Field(default=0.8, gt=0, lt=1)
    """The current is constant up to this share of the charge, and falls above it; 80 %: read in
    secondary pages about cells charged in 1.4 h at constant current (60 to 80 % are named there,
    less for quicker charging), no primary source seen."""
    constant_current_time: Share = Field(default=0.6, gt=0, lt=1)
    """Share of the charge time that ends with the constant current; 60 %: invented. The same share
    as `constant_current_to`: a straight charge curve."""
    end_of_charge: Literal["exponential", "straight"] = "exponential"
    """Then the current falls exponentially from the constant one, as at constant
    voltage; or charging is straight there too, only slower, which makes the last per cent quick."""
    issued: Literal[
        "fullest", "any usable", "least charged that will do", "longest on the shelf"
    ] = "longest on the shelf"
    """Which of the batteries with the minimum run time is issued. `fullest`: the one that holds
    most charge, not the highest per cent of its own capacity. The others take from the shelf before
    bays. Staff see where a battery lies, and `fullest` and `least charged that will do` need a
    meter; so the default is the shelf's own order, first in, first out, as for kits: a choice."""
    minimum_run_time: Duration = Field(gt=0)
    """Minimum run time at issue: what a battery must have left when it is issued."""
    low_battery_alarm: Duration = 0
    """Run time left at which the alarm sounds; 0: when the battery is empty."""
    state_of_health: Annotated[
        tuple[Annotated[Share, Field(gt=0)], ...], one_or_more(Share), Field(min_length=1)
    ] = (1.0,)
    """State of health, the usable share of rated capacity: one for all, or a list that repeats
    over all batteries."""
    age: AgeFade | None = None

    @model_validator(mode="after")
    def _current_falls(self) -> Batteries:
        if (
            self.end_of_charge == "exponential"
            and self.constant_current_time > self.constant_current_to
        ):
            shares = self.constant_current_to, self.constant_current_time
            most, time = (units.share_text(one) for one in shares)
            found = f"is {time}, and `constant_current_to` is {most}"
            right = "Where the current falls at the end, the rest takes longer than its share.\n  "
            right += f"Write `constant_current_time: {most}` or less, or `end_of_charge: straight`."
            raise FieldError(found, right, "constant_current_time")
        return self

    @property
    def listed_healths(self) -> tuple[float, ...]:
        """Healths as the scenario lists them, by share or by age."""
        if self.age is None:
            return self.state_of_health
        return tuple(max(self.age.health(age_s), _LEAST_HEALTH) for age_s in self.age.ages)

    def healths(self, count: int) -> tuple[float, ...]:
        """Health of each of ``count`` batteries: those listed repeat over all batteries."""
        listed = self.listed_healths
        return tuple(listed[number % len(listed)] for number in range(count))


class Charging(Section):
    """Bays: 100 % back in the charge time, queue first come first served."""

    partial_charge_at_reissue: YesNo = True
    """Whether a battery in a bay, or waiting for one, may be reissued once it has the minimum run
    time."""
    rounds_every: Duration | None = Field(default=None, gt=0)
    """Nobody watches: a full battery leaves its bay at the next round; missing: at once."""
    charge_below: Share = 1.0
    """Below this share of its capacity a battery is charged after use; 100 %: after every use."""
    cool_down: Duration = 0
    """A battery that came back cools so long before it is charged. 0: as if it took no time."""
    time_to_connect: Duration = 0
    """From taking a bay until current flows, for each charge. 0: as if it took no time."""


class CrewShift(Section):
    """Cleaners on duty from one clock time to another (may pass midnight)."""

    start: ClockTime
    end: ClockTime
    cleaners: Count

    @property
    def length_s(self) -> int:
        """Length [s]: one that ends when it begins lasts a day."""
        return (self.end - self.start) % units.DAY_S or units.DAY_S


#: what each way of cleaning cannot do without
CLEANING_NEEDS = {
    "wearer": ("wipe_down",),
    "crew": ("wipe_down", "crew"),
    "central": ("rounds", "turnaround"),
}
#: what it takes besides
CLEANING_TAKES = {"wearer": ("places",), "crew": (), "central": ()}


class Cleaning(Section):
    """Wipe-down after each use, then wet and dry time without labour."""

    by: Literal["wearer", "crew", "central"]
    wipe_down: Times | None = None
    contact_time: Duration = 0
    drying_time: Duration = 0
    places: Count | None = Field(default=None, ge=1)
    """Places where one kit can be wiped at a time (wearer); missing: no limit."""
    crew: tuple[CrewShift, ...] = ()
    rounds: tuple[ClockTime, ...] = ()
    """Central: clock times of collection and return."""
    turnaround: Duration = 0


class Carrying(Section):
    """Ways that bind a kit in each cycle, beside what is done with it."""

    fetch: Duration = 0
    """From the shelf to where the kit is checked and put on, with its set-up; also for a battery
    that goes into a held kit. Like one check it is no wait."""
    bring_back: Duration = 0
    """From taking the kit off to where kit and battery are handed in, by the wearer."""
    to_cleaning: Duration = 0
    """From there to the place of the wipe-down; by the wearer, where the wearer wipes it down."""


class Supply(Section):
    """A spare part on the shelf, ordered again when few are left."""

    spare: Parts
    """On the shelf when the surge begins; a hood or tube beyond one per kit."""
    reorder_point: Parts | None = None
    """Order when spares, on the shelf and on order, are at or below this; missing: never."""
    order_quantity: Parts = Field(default=1, ge=1)
    lead_time: Duration = 0


class Supplies(Section):
    """Spare hoods and tubes (beyond one per kit) and filters; what is missing never runs out."""

    hoods: Supply | None = None
    tubes: Supply | None = None
    prefilters: Supply | None = None
    he_filters: Supply | None = None
    large_hoods: Supply | None = None
    """All that there are: none comes with a kit."""
    wipes_per_clean: Count = 2
    """Wipes used per wipe-down, for the count of consumables; 2: invented."""


class StockInHand(Decided):
    """Counts of the equipment that the unit has."""

    kits: Things
    batteries: Things
    bays: Things


class Prices(Decided):
    """What one more costs; plain numbers in one currency."""

    currency: Label = "units of money"
    kit: Money = Field(default=1.0, ge=0)
    """1: invented."""
    battery: Money = Field(default=0.2, ge=0)
    """0.2: invented."""
    charger: Money = Field(default=0.3, ge=0)
    """One charger, a block of `bays_per_charger` bays; 0.3: invented."""
    bays_per_charger: Things = Field(default=1, ge=1)
    hood: Money = Field(default=0.0, ge=0)
    """0: a spare hood costs nothing, invented."""
    tube: Money = Field(default=0.0, ge=0)
    """0: a spare tube costs nothing, invented."""
    prefilter: Money = Field(default=0.0, ge=0)
    """0: a prefilter costs nothing, invented."""
    he_filter: Money = Field(default=0.0, ge=0)
    """0: an HE filter costs nothing, invented."""
    large_hood: Money = Field(default=0.0, ge=0)
    """0: a large hood costs nothing, invented."""
    cleaner: Money = Field(default=0.0, ge=0)
    """One more cleaner on every shift for the whole horizon; 0: costs nothing, invented."""


class SearchLimits(Decided):
    """How far the search may go; the defaults are a choice, far above what a unit has."""

    kits: Things = Field(default=200, ge=1)
    batteries: Things = Field(default=400, ge=1)
    bays: Things = Field(default=100, ge=1)
    cleaners: Things = Field(default=20, ge=1)


class UrgentTarget(Decided):
    """The same target for urgent entries."""

    wait: Duration
    service_level: Share = Field(gt=0)


class Target(Decided):
    """In `share_of_surges` of the surges, `service_level` of the entries wait `wait` or less."""

    wait: Duration
    service_level: Share = Field(gt=0)
    share_of_surges: Share = Field(gt=0, lt=1)
    """Below 100 %: no number of simulated surges can show that."""
    late_by: Literal["wait", "delay"] = "wait"
    """Wait: an entry is late when one of its requests waited longer; delay: also when its kit was
    in hand so much later than with ample stock, since an earlier wait kept its named wearer."""
    urgent: UrgentTarget | None = None
    most_alarms_per_1000: Number | None = Field(default=None, ge=0)
    """At most this many alarms per 1,000 entries in a surge."""
    most_stock_outs: Count | None = None
    """At most this many stock-outs of spare parts in a surge: a filter, or a hood or tube for a
    clean blower, that is wanted and not there."""


class Settings(Section):
    """One scenario, every range already settled (to central values, or drawn for one surge)."""

    title: Title
    question: str = ""
    note: str = ""
    start: Moment
    horizon: Duration = Field(gt=0, json_schema_extra=DECIDED)
    run_out: Duration = Field(default=86_400, json_schema_extra=DECIDED)
    """Run-out period: after the horizon the simulation runs on so long; entries still waiting then
    are late. 1 d: a choice."""
    run_in: Annotated[Duration, AfterValidator(whole_days)] = Field(
        default=0, json_schema_extra=DECIDED
    )
    """Run-in period: so many whole days before the surge the unit is simulated with its ordinary
    demand, the initial census and the baseline, so that equipment is used, charging and being
    cleaned when the surge begins. 0: all kits are ready then and all batteries full; a choice."""
    arrivals: Arrivals | None = None
    entries: EntryLog | None = None
    rooms: Rooms | None = None
    classes: dict[Name, PatientClass] = Field(default_factory=dict)
    roles: dict[Name, Role] = Field(default_factory=dict)
    policy: CarePolicy = CarePolicy()
    kit: Kit
    filters: Filters | None = None
    failures: Failures = Failures()
    batteries: Batteries
    charging: Charging = Charging()
    cleaning: Cleaning
    carrying: Carrying = Carrying()
    supplies: Supplies = Supplies()
    timeline: tuple[Change, ...] = ()
    stock: StockInHand
    prices: Prices = Prices()
    limits: SearchLimits = SearchLimits()
    target: Target
    sources: dict[str, str] = Field(default_factory=dict)
