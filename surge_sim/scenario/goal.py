"""The stock in hand, prices, the search limits and the target."""

from __future__ import annotations

from pydantic import Field

from surge_sim.scenario.quantities import (
    Count,
    Decided,
    Duration,
    Label,
    Money,
    Number,
    Share,
    Things,
)


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
    main_filter: Money = Field(default=0.0, ge=0)
    """0: a main filter costs nothing, invented."""
    cleaner: Money = Field(default=0.0, ge=0)
    """One more cleaner on every shift for the whole horizon; 0: costs nothing, invented."""


class SearchLimits(Decided):
    """How far the search may go; the defaults are a choice, far above what a unit has."""

    kits: Things = Field(default=200, ge=1)
    batteries: Things = Field(default=400, ge=1)
    bays: Things = Field(default=100, ge=1)
    cleaners: Things = Field(default=20, ge=1)


class UrgentTarget(Decided):
    """The same promise for urgent entries."""

    wait: Duration
    share_of_entries: Share = Field(gt=0)


class Target(Decided):
    """In `share_of_surges` of the surges, `share_of_entries` of the entries wait `wait` or less."""

    wait: Duration
    share_of_entries: Share = Field(gt=0)
    share_of_surges: Share = Field(gt=0, lt=1)
    """Below 100 %: no number of simulated surges can show that."""
    urgent: UrgentTarget | None = None
    most_alarms_per_1000: Number | None = Field(default=None, ge=0)
    """At most this many alarms per 1,000 entries in a surge."""
    most_stock_outs: Count | None = None
    """At most this many stock-outs of spare parts in a surge: a filter, or a hood or tube for a
    clean blower, that is wanted and not there."""
