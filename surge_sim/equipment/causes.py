"""What people wait for, down to the cause: where the things were that were missing.

A kind of thing is missing while the first in line cannot have one of it. A hood or a tube counts as
missing only while a clean blower stands ready for it: otherwise it comes back with its kit, and
the wait is for the kit. Each second of waiting belongs to one kind, the kinds that are missing
taking turns; within the kind to one of its things, all of them taking turns; and so to the place
where that thing is in that second. So a wait is split evenly over the kinds that are missing and
evenly over all things of a kind, and the place with most of them gets most of it.
"""

from __future__ import annotations

from enum import IntEnum

from numpy.typing import NDArray

from surge_sim.equipment.kits import Missing
from surge_sim.equipment.rule import rule
from surge_sim.equipment.stock import Use


class Cause(IntEnum):
    """Where a thing is that somebody waits for; all of one kind stand together."""

    #: taken, until it is handed in
    KIT_IN_USE = 0
    #: kept by a wearer for the shift, between two visits
    KIT_HELD = 1
    KIT_WAITING_FOR_WIPE = 2
    KIT_IN_WIPE_DOWN = 3
    KIT_DRYING = 4
    #: out, and there is none of the filter in stock
    KIT_LACKS_PREFILTER = 5
    KIT_LACKS_HE_FILTER = 6
    KIT_GETTING_FILTER = 7
    KIT_IN_REPAIR = 8
    KIT_AWAY = 9
    #: ready, and kept for urgent entries
    KIT_RESERVED = 10
    NO_KIT = 11
    HOOD_ON_ORDER = 12
    NO_HOOD = 13
    #: every one of the large size is on a kit, or used up
    NO_LARGE_HOOD = 14
    TUBE_ON_ORDER = 15
    NO_TUBE = 16
    BATTERY_IN_USE = 17
    BATTERY_COOLING = 18
    BATTERY_WAITING_FOR_BAY = 19
    BATTERY_CHARGING = 20
    BATTERY_WITHOUT_POWER = 21
    #: it holds the minimum run time, but only full batteries are handed out
    BATTERY_NOT_FULL = 22
    #: even full it does not hold the minimum run time
    BATTERY_TOO_WEAK = 23
    #: it has failed, and is not replaced yet
    BATTERY_OUT = 24
    BATTERY_AWAY = 25
    BATTERY_RESERVED = 26
    NO_BATTERY = 27


CAUSES = len(Cause)
#: kinds of things: kit, hood, tube, battery; and the first cause of each (and the end of the last)
KINDS = 4
FIRST_CAUSE = (Cause.KIT_IN_USE + 0, Cause.HOOD_ON_ORDER + 0, Cause.TUBE_ON_ORDER + 0,
               Cause.BATTERY_IN_USE + 0, CAUSES)  # fmt: skip


@rule
def battery_cause(
    place: int, charge: int, capacity: int, least: int, may_be_taken: bool, powered: bool
) -> int:
    """Say what holds up a battery that is at hand or out, at a place (see `Use`).

    ``least`` is the charge with which it would be handed out, ``may_be_taken`` whether its place
    allows that.
    """
    if place == Use.BATTERIES_IN_USE:
        return Cause.BATTERY_IN_USE
    if place == Use.BATTERIES_OUT:
        return Cause.BATTERY_OUT
    if capacity < least:
        return Cause.BATTERY_TOO_WEAK
    if may_be_taken and charge >= least:
        return Cause.BATTERY_RESERVED
    if place == Use.BATTERIES_COOLING:
        return Cause.BATTERY_COOLING
    if place == Use.BATTERIES_WAITING_FOR_BAY:
        return Cause.BATTERY_WAITING_FOR_BAY
    if not powered:
        return Cause.BATTERY_WITHOUT_POWER
    return Cause.BATTERY_NOT_FULL if charge >= least else Cause.BATTERY_CHARGING


@rule
def part_cause(part: int, on_order: int) -> int:
    """Say why a hood or a tube (its bit of `Missing`) is not there."""
    if part == Missing.LARGE_HOOD:
        return Cause.NO_LARGE_HOOD
    if part == Missing.HOOD:
        return Cause.HOOD_ON_ORDER if on_order else Cause.NO_HOOD
    return Cause.TUBE_ON_ORDER if on_order else Cause.NO_TUBE


@rule
def turns(seconds: int, first: int, count: int, total: int) -> int:
    """Of the first ``seconds`` of waiting, those that belong to some of ``total`` things.

    The things take turns, a second each, in the order of their numbers; asked for are ``count``
    of them from number ``first`` on.
    """
    rounds = seconds // total
    return rounds * count + min(max(seconds - rounds * total - first, 0), count)


@rule
def share_out(causes: NDArray, missing: int, waited_s: int, before_s: int, seconds: int) -> int:
    """Put some seconds of waiting down to their causes; return how many were put down.

    Parameters
    ----------
    causes : ndarray of int
        Numbers by cause: of things that are missing, from place ``missing`` on (all 0 while nobody
        waits), and of seconds so far, from place ``waited_s`` on; these are added to.
    missing, waited_s : int
        Where the two begin.
    before_s, seconds : int
        Seconds put down before, and now: turns go on where they ended.
    """
    kinds = 0
    for kind in range(KINDS):
        there = 0
        for cause in range(FIRST_CAUSE[kind], FIRST_CAUSE[kind + 1]):
            there += causes[missing + cause]
        kinds += there > 0
    if kinds == 0:
        return 0
    turn = 0
    for kind in range(KINDS):
        total = 0
        for cause in range(FIRST_CAUSE[kind], FIRST_CAUSE[kind + 1]):
            total += causes[missing + cause]
        if total == 0:
            continue
        from_s = turns(before_s, turn, 1, kinds)
        to_s = turns(before_s + seconds, turn, 1, kinds)
        turn += 1
        first = 0
        for cause in range(FIRST_CAUSE[kind], FIRST_CAUSE[kind + 1]):
            count = causes[missing + cause]
            if count > 0:
                mine_s = turns(to_s, first, count, total) - turns(from_s, first, count, total)
                causes[waited_s + cause] += mine_s
                first += count
    return seconds
