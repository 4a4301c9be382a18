"""What comes of a surge, as whole numbers: in all, and in a stretch of it as far as it is known."""

from __future__ import annotations

from typing import NamedTuple
from zlib import crc32

import numpy as np
from numpy.typing import NDArray

from surge_sim.demand.table import Demand
from surge_sim.engine.log import IntArray, Kind, Outcome, RunLog
from surge_sim.equipment.situation import Situation
from surge_sim.scenario.schema import Target
from surge_sim.statistics.target import judged_score, late_entries


class InAll(NamedTuple):
    """What came of a whole surge; an entry counts once, however many needs it had."""

    entries: int
    #: not served within the target's wait, as `run` counts it
    late: int
    urgent_late: int
    #: left the queue at their maximum wait, or still waited at the end
    unserved: int
    waited_s: int
    longest_s: int
    #: from the moment when an entry was due until its wearer was free, in all [s]
    delayed_s: int
    #: the same for two plays in which everybody waited equally long
    waits: int


class Stretch(NamedTuple):
    """What was seen at the door from one moment until another."""

    #: entries that came to the door
    came: int
    #: of these: had a checked kit in hand by the end of the stretch, at all their needs
    served: int
    #: had waited longer than the target's wait by then, or left the queue
    late: int
    urgent_late: int
    unserved: int
    #: still there
    waiting: int
    longest_s: int
    waited_s: int
    #: due in this time, but their wearer was busy: how many, and for how long in all [s]
    delayed: int
    delayed_s: int


def in_all(demand: Demand, log: RunLog, target: Target) -> InAll:
    """Count what came of a whole play."""
    urgent_wait_s = target.wait if target.urgent is None else target.urgent.wait
    late = late_entries(log, demand.entries, target.wait)
    urgent_late = late_entries(log, demand.entries, urgent_wait_s) & demand.urgent
    return InAll(
        entries=demand.entries,
        late=int(late.sum()),
        urgent_late=int(urgent_late.sum()),
        unserved=len(np.unique(log.entry[log.outcome != Outcome.SERVED])),
        waited_s=int(log.wait_s.sum()),
        longest_s=int(log.wait_s.max(initial=0)),
        delayed_s=int(wearer_busy_s(demand, log, 0, demand.closing_s).sum()),
        waits=crc32(log.wait_s.tobytes() + log.outcome.astype(np.int8).tobytes()),
    )


def counted(situation: Situation, target: Target) -> tuple[int, ...]:
    """Play, and count the first numbers of `InAll`: entries, late ones, late urgent ones.

    Half the time of a play with its log.
    """
    found = judged_score(situation, target)
    return found.entries, found.late, found.urgent_late


def asked(log: RunLog, before_s: int) -> NDArray[np.bool_]:
    """Return which needs had come to the door before a moment, shape (needs,)."""
    assert log.events is not None
    told = log.events[(log.events[:, 1] == Kind.NEEDS_KIT) & (log.events[:, 0] < before_s)]
    # an entry and the number of its need; values begin behind the five first numbers
    span = int(log.part.max(initial=0)) + 1
    return np.isin(log.entry * span + log.part, told[:, 2] * span + told[:, 5])


def stretch(demand: Demand, log: RunLog, target: Target, from_s: int, to_s: int) -> Stretch:
    """Count what was seen from one moment until before another.

    Parameters
    ----------
    demand, log : Demand, RunLog
        A play, with its events.
    target : Target
        What counts as late.
    from_s, to_s : int
        Needs that arose in this time [s]. What comes of them later is not counted.

    Returns
    -------
    Stretch
    """
    urgent_wait_s = target.wait if target.urgent is None else target.urgent.wait
    rows = asked(log, to_s) & (log.need_s >= from_s)
    entry, so_far_s = log.entry[rows], np.minimum(log.wait_s, to_s - log.need_s)[rows]
    left_s = (log.need_s + log.wait_s)[rows]
    reached_maximum_wait = (log.outcome[rows] == Outcome.RENEGED) & (left_s < to_s)
    in_hand = (log.outcome[rows] == Outcome.SERVED) & (log.in_hand_s[rows] < to_s)

    def entries(those: NDArray[np.bool_]) -> IntArray:
        return np.unique(entry[those])

    late = entries(reached_maximum_wait | (so_far_s > target.wait))
    urgent_late = entries(reached_maximum_wait | (so_far_s > urgent_wait_s))
    came, unserved, not_yet = entries(entry >= 0), entries(reached_maximum_wait), entries(~in_hand)
    busy_s = wearer_busy_s(demand, log, from_s, to_s)
    waiting = entries(~in_hand & ~reached_maximum_wait & (left_s >= to_s))
    return Stretch(
        came=len(came),
        served=len(came) - len(not_yet),
        late=len(late),
        urgent_late=int(demand.urgent[urgent_late].sum()),
        unserved=len(unserved),
        waiting=len(waiting),
        longest_s=int(so_far_s.max(initial=0)),
        waited_s=int(so_far_s.sum()),
        delayed=int((busy_s > 0).sum()),
        delayed_s=int(busy_s.sum()),
    )


def wearer_busy_s(demand: Demand, log: RunLog, from_s: int, to_s: int) -> NDArray[np.int64]:
    """Return how long each entry that became due in a time was late for its busy wearer [s].

    As far as it was known at the end of that time; shape (entries due in it,).
    """
    due = (demand.due_s >= from_s) & (demand.due_s < to_s)
    # row i of the log is the first need of entry i
    ready_s = np.minimum(log.need_s[: demand.entries][due], to_s)
    return np.asarray(ready_s - demand.due_s[due], dtype=np.int64)


def longest_waiting_entry(log: RunLog, from_s: int, to_s: int) -> int | None:
    """Return the entry that waited longest of those whose whole story lies in a stretch.

    None where nobody came and was done in it; the first of equals.
    """
    end_s = np.where(log.outcome == Outcome.RENEGED, log.need_s + log.wait_s, log.end_s)
    whole = (log.need_s >= from_s) & (log.outcome != Outcome.WAITING_AT_END) & (end_s < to_s)
    waited_s = np.zeros(int(log.entry.max(initial=-1)) + 1, dtype=np.int64)
    np.add.at(waited_s, log.entry, log.wait_s)
    waited_s[log.entry[~whole]] = -1
    longest = int(waited_s.argmax()) if len(waited_s) else -1
    return longest if longest >= 0 and waited_s[longest] >= 0 else None
