"""The stock in hand, prices, the search limits and the target."""

from __future__ import annotations

from pydantic import Field

from surge_sim.scenario.limits import MOST_OF_ANYTHING
from surge_sim.scenario.quantities import Count, Duration, Money, Number, Section, Share


class StockInHand(Section):
    """Counts of the equipment that the unit has."""

    kits: Count = Field(ge=0, le=MOST_OF_ANYTHING)
    batteries: Count = Field(ge=0, le=MOST_OF_ANYTHING)
    bays: Count = Field(ge=0, le=MOST_OF_ANYTHING)


class Prices(Section):
    """What one more costs; plain numbers in one currency."""

    currency: str = "units of money"
    #: 1: invented
    kit: Money = Field(default=1.0, ge=0)
    #: 0.2: invented
    battery: Money = Field(default=0.2, ge=0)
    #: one charger, a block of `bays_per_charger` bays; 0.3: invented
    charger: Money = Field(default=0.3, ge=0)
    bays_per_charger: Count = Field(default=1, ge=1, le=MOST_OF_ANYTHING)
    #: 0: a spare hood costs nothing, invented
    hood: Money = Field(default=0.0, ge=0)
    #: 0: a spare tube costs nothing, invented
    tube: Money = Field(default=0.0, ge=0)
    #: 0: a prefilter costs nothing, invented
    prefilter: Money = Field(default=0.0, ge=0)
    #: 0: a main filter costs nothing, invented
    main_filter: Money = Field(default=0.0, ge=0)
    #: one more cleaner on every shift for the whole horizon; 0: costs nothing, invented
    cleaner: Money = Field(default=0.0, ge=0)


class SearchLimits(Section):
    """How far the search may go; the defaults are a choice, far above what a unit has."""

    kits: Count = Field(default=200, ge=1, le=MOST_OF_ANYTHING)
    batteries: Count = Field(default=400, ge=1, le=MOST_OF_ANYTHING)
    bays: Count = Field(default=100, ge=1, le=MOST_OF_ANYTHING)
    cleaners: Count = Field(default=20, ge=1, le=MOST_OF_ANYTHING)


class UrgentTarget(Section):
    """The same promise for urgent entries."""

    wait: Duration
    share_of_entries: Share


class Target(Section):
    """In `share_of_surges` of the surges, `share_of_entries` of the entries wait `wait` or less."""

    wait: Duration
    share_of_entries: Share
    share_of_surges: Share
    urgent: UrgentTarget | None = None
    #: at most this many alarms per 1,000 entries in a surge
    most_alarms_per_1000: Number | None = Field(default=None, ge=0)
    #: at most this many stock-outs of spare parts in a surge: a filter, or a hood or tube for a
    #: clean blower, that is wanted and not there
    most_stock_outs: Count | None = Field(default=None, ge=0)
