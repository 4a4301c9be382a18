"""Where kits, batteries and entries are."""

from __future__ import annotations

from enum import IntEnum


class Use(IntEnum):
    """States whose occupancy over time is recorded."""

    KITS_IN_USE = 0
    KITS_WAITING_FOR_WIPE = 1
    KITS_IN_WIPE_DOWN = 2
    KITS_DRYING = 3
    KITS_READY = 4
    KITS_OUT = 5
    KITS_AWAY = 6
    BATTERIES_IN_USE = 7
    BATTERIES_WAITING_FOR_BAY = 8
    BATTERIES_IN_BAY = 9
    BATTERIES_ON_SHELF = 10
    BATTERIES_AWAY = 11
    ENTRIES_WAITING = 12
