"""What changes at which second of a surge: one mechanism for everything that does.

A change takes one or several numbers of `InForce` to a value for some time, or for good. The
engines hold these numbers and do nothing but set them: **a change at second t holds before
anything else happens in that second.** What is in progress is not undone:

* kits and batteries that go wait until they are ready on the shelf; those on loan come full and
  with a hood and a tube each;
* a battery leaves a bay that fails, or goes back, with the charge that it has;
* a wipe-down that has begun is ended, also by a cleaner who goes;
* a filter keeps the life with which it was fitted.

Two of a kind at once add up, or, where a number is replaced, the one that began last holds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from math import prod
from typing import Any, NamedTuple, assert_never

import numpy as np
from numpy.typing import NDArray

from surge_sim.equipment.kits import KEPT
from surge_sim.equipment.supplies import SUPPLY_NAMES
from surge_sim.scenario.schema import Settings
from surge_sim.scenario.timeline import (
    BatteriesOnLoan,
    BaysFail,
    Change,
    ChangeOfEntries,
    ChargersOnLoan,
    CleanersAbsent,
    DefectiveFilters,
    ExtraCleaners,
    ExtraPatients,
    KitPolicy,
    KitsOnLoan,
    KitsRecalled,
    LateDelivery,
    PartialCharge,
    Reserve,
)
from surge_sim.units import NEVER_S

Whole = NDArray[np.int64]
#: changes that the calendar of the cleaning takes in
ChangeOfCrew = CleanersAbsent | ExtraCleaners

#: so many can wipe at once, or so many large hoods are there, where nothing limits it
NO_LIMIT = 2**40
#: in the place of a value: what holds without any change
AS_USUAL = -1
#: all of a filter's life [ppm]
WHOLE_LIFE = 1_000_000


class InForce(NamedTuple):
    """Numbers that change during a surge, with their values where nothing has changed."""

    reserved: int = 0
    #: for how long a wearer keeps a kit, see `kits.Keep`
    kept: int = 0
    partial_charge_at_reissue: int = 0
    kits_recalled: int = 0
    kits_lent: int = 0
    batteries_lent: int = 0
    bays_lent: int = 0
    bays_out: int = 0
    #: bays of the unit's own chargers that have failed by chance
    bays_failed: int = 0
    has_power: int = 1
    #: share of its life [ppm] that a filter has which is fitted now
    prefilter_life_ppm: int = WHOLE_LIFE
    he_life_ppm: int = WHOLE_LIFE
    #: wipe-downs that can go on at once
    wipers: int = NO_LIMIT
    #: 1 in the run-in, before the surge begins
    run_in: int = 0
    #: moment of the last collection round, and when what it collected comes back
    round_s: int = -1
    round_back_s: int = -1


#: place of the number that ends the run-in
RUN_IN = InForce._fields.index("run_in")


def whole(values: Sequence[Any]) -> Whole:
    """Return read-only whole numbers."""
    return read_only(np.array(values, dtype=np.int64))


def read_only(array: Whole) -> Whole:
    """Close an array."""
    array.setflags(write=False)
    return array


def rows_of(found: Sequence[tuple[int, str, int]]) -> Whole:
    """Return changes as rows: moment, place in `InForce`, value; in order of time."""
    rows = sorted(
        (at_s, InForce._fields.index(name), value) for at_s, name, value in found if at_s < NEVER_S
    )
    return whole(rows) if rows else whole([]).reshape(0, 3)


def rows_of_number(name: str, at_s: Whole, values: Whole) -> Whole:
    """Return the same for one number, from moments in order and its values from them on."""
    return np.column_stack((at_s, np.full_like(at_s, InForce._fields.index(name)), values))


class Window(NamedTuple):
    """From one moment until another [s], with a number that goes with it."""

    from_s: int
    to_s: int
    value: int


class Timeline(NamedTuple):
    """Changes during a surge."""

    changes: tuple[Change, ...]
    #: see `rows_of`; without those of the calendar
    rows: Whole
    # what must be known ahead: when a battery will be full, when a delivery comes
    cut_from_s: Whole
    cut_to_s: Whole
    missed_from_s: Whole
    missed_to_s: Whole
    missed_supply: Whole
    #: kits, and batteries beside theirs, that are ever on loan
    kits_come: int
    batteries_come: int
    #: whether kits or batteries come or go
    moves: int
    of_cleaners: tuple[ChangeOfCrew, ...]

    def later(self, by_s: int) -> Timeline:
        """Return the same changes in seconds of a play that begins so long before the surge."""
        rows = np.array(self.rows)
        rows[:, 0] += by_s
        return self._replace(
            rows=read_only(rows),
            cut_from_s=_later(self.cut_from_s, by_s),
            cut_to_s=_later(self.cut_to_s, by_s),
            missed_from_s=_later(self.missed_from_s, by_s),
            missed_to_s=_later(self.missed_to_s, by_s),
        )


def _later(moments_s: Whole, by_s: int) -> Whole:
    return read_only(np.where(moments_s < NEVER_S, moments_s + by_s, NEVER_S))


def timeline_of(settings: Settings) -> Timeline:
    """Return the changes that a scenario names."""
    return timeline(settings.timeline, settings.prices.bays_per_charger)


def timeline(changes: Sequence[Change], bays_per_charger: int = 1) -> Timeline:
    """Bring changes to numbers over time."""
    pieces: dict[str, list[Window]] = {}
    for change in changes:
        for name, value in _values(change, bays_per_charger):
            pieces.setdefault(name, []).append(Window(change.at, change.until, value))
    rows = [row for name, windows in pieces.items() for row in _steps(name, windows)]
    cuts, missed = _joined(pieces.get("has_power", [])), sorted(pieces.get("late", []))
    cut_from_s, cut_to_s, _ = _split(cuts)
    missed_from_s, missed_to_s, supply = _split(missed)
    return Timeline(
        changes=tuple(changes),
        rows=rows_of([row for row in rows if row[1] in InForce._fields]),
        cut_from_s=cut_from_s,
        cut_to_s=cut_to_s,
        missed_from_s=missed_from_s,
        missed_to_s=missed_to_s,
        missed_supply=supply,
        kits_come=_all_of(pieces, "kits_lent"),
        batteries_come=_all_of(pieces, "batteries_lent"),
        moves=int(not pieces.keys().isdisjoint(("kits_recalled", "kits_lent", "batteries_lent"))),
        of_cleaners=tuple(one for one in changes if isinstance(one, ChangeOfCrew)),
    )


def _all_of(pieces: dict[str, list[Window]], name: str) -> int:
    return sum(window.value for window in pieces.get(name, []))


def _values(change: Change, bays_per_charger: int) -> Iterator[tuple[str, int]]:
    """Name the numbers that a change replaces, or adds to, and by how much."""
    match change:
        case BaysFail(bays=None, chargers=None):
            yield "has_power", 0
        case BaysFail():
            yield "bays_out", (change.chargers or 0) * bays_per_charger + (change.bays or 0)
        case KitsRecalled():
            yield "kits_recalled", change.kits
        case KitsOnLoan():
            yield "kits_lent", change.kits
        case BatteriesOnLoan():
            yield "batteries_lent", change.batteries
        case ChargersOnLoan():
            yield "bays_lent", change.chargers * bays_per_charger
        case Reserve():
            yield "reserved", change.kits
        case KitPolicy():
            yield "kept", KEPT.index(change.kit)
        case PartialCharge():
            yield "partial_charge_at_reissue", int(change.allowed)
        case LateDelivery():
            late = -1 if change.supply == "all" else SUPPLY_NAMES.index(change.supply)
            yield "late", late
        case DefectiveFilters():
            life_ppm = round(change.life * WHOLE_LIFE)
            if change.filters != "HE filters":
                yield "prefilter_life_ppm", life_ppm
            if change.filters != "prefilters":
                yield "he_life_ppm", life_ppm
        case CleanersAbsent() | ExtraCleaners() | ChangeOfEntries() | ExtraPatients():
            # cleaners change through their calendar, demand when it is drawn
            return
        case _:
            assert_never(change)


def _last(values: Sequence[int]) -> int:
    return values[-1]


def _of_life(shares_ppm: Sequence[int]) -> int:
    return prod(shares_ppm) // WHOLE_LIFE ** (len(shares_ppm) - 1)


#: what several changes of one number make together, in the order in which they began
_TOGETHER: dict[str, Callable[[Sequence[int]], int]] = {
    "kits_recalled": sum,
    "kits_lent": sum,
    "batteries_lent": sum,
    "bays_lent": sum,
    "bays_out": sum,
    "prefilter_life_ppm": _of_life,
    "he_life_ppm": _of_life,
}


def _steps(name: str, windows: Sequence[Window]) -> Iterator[tuple[int, str, int]]:
    """Return the moments at which a number changes, and its value from then on."""
    together = _TOGETHER.get(name, _last)
    began = sorted(windows, key=lambda window: window.from_s)
    for at_s in sorted({edge for window in windows for edge in window[:2]}):
        now = [window.value for window in began if window.from_s <= at_s < window.to_s]
        yield at_s, name, together(now) if now else AS_USUAL


def _split(runs: Sequence[Window]) -> tuple[Whole, Whole, Whole]:
    from_s, to_s, value = zip(*runs, strict=True) if runs else ((), (), ())
    return whole(from_s), whole(to_s), whole(value)


def _joined(found: Sequence[Window]) -> list[Window]:
    """Join windows that overlap or touch."""
    joined: list[Window] = []
    for window in sorted(found):
        if joined and window.from_s <= joined[-1].to_s:
            last = joined.pop()
            window = Window(last.from_s, max(last.to_s, window.to_s), 0)
        joined.append(window)
    return joined


NOTHING_CHANGES = timeline(())
NO_CHANGES = NOTHING_CHANGES.rows
