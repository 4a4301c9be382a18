"""Who stands before an entry in the line at the shelf."""

from __future__ import annotations

from surge_sim.engine.log import EventLog, Kind

#: an entry comes into the line, and leaves it
JOINS = Kind.JOINS_LINE
LEAVES = (Kind.TAKES_KIT, Kind.TAKES_BATTERY, Kind.RENEGES, Kind.WAITING_AT_END)


def ahead_of(events: EventLog, entry: int) -> dict[int, int]:
    """Count who was to be served before an entry, at the end of each second in which it joined.

    Parameters
    ----------
    events : EventLog
        Of a whole play.
    entry : int
        Whose place is asked for.

    Returns
    -------
    dict
        By second. Of an urgent entry all before it are urgent ones.
    """
    joined = events[(events[:, 1] == JOINS) & (events[:, 2] == entry)]
    ahead = {}
    for second, line, need_s, row in joined[:, (0, 5, 6, 7)].tolist():
        rows = events[events[:, 0] <= second]
        of_line = (rows[:, 1] == JOINS) | (rows[:, 1, None] == LEAVES).any(axis=1)
        waiting: dict[int, tuple[int, ...]] = {}
        for one in rows[of_line].tolist():
            if one[1] == JOINS:
                waiting[one[2]] = tuple(one[5:8])
            else:
                waiting.pop(one[2], None)
        ahead[second] = sum(place < (line, need_s, row) for place in waiting.values())
    return ahead
