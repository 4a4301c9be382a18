"""What several answers say in the same words: stock, target, replayed log, changes, causes."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from surge_sim.demand.replay import Replay
from surge_sim.equipment.stock import Stock
from surge_sim.report.rounding import counted, listed, moment_words, percent
from surge_sim.scenario.schema import Target
from surge_sim.scenario.timeline import Change, CleanersAbsent
from surge_sim.units import clock_text, duration_text, share_text

if TYPE_CHECKING:
    import pandas as pd

    #: a table, also as plain columns: who only prints an answer need not load pandas
    Columns = pd.DataFrame | Mapping[str, Sequence[Any]]

NOT_COVERED = "One recorded period, replayed; random variation is not covered."

#: so many causes of waiting are named, if they have so much of all of it; what is left is told as
#: one where it is so much
_MOST_CAUSES, _WORTH_NAMING, _REST = 4, 0.1, 0.015
#: a text that begins so is typed
COMMAND = "surge-sim "
#: said behind a cause whose time no purchase and no rule changes
_FIXED = {"kit in contact or drying time": " (fixed)"}


def stock_in_words(stock: Stock) -> str:
    """Say a stock: ``28 kits, 36 batteries and 20 charger bays``."""
    kits, bays = counted(stock.kits, "kit"), counted(stock.bays, "charger bay")
    return listed([kits, counted(stock.batteries, "battery", "batteries"), bays])


# --- the target ---


def share_of_ten(share: float, replay: Replay | None = None) -> str:
    """Return a share of surges as people say it: ``9 of 10 surges``, ``95 % of replications``."""
    tenths = round(10 * share, 9)
    some = f"{tenths:g} of 10" if tenths == int(tenths) else f"{share_text(share)} of"
    return f"{some} {plays_name(replay)}"


def enough_words(used: Sequence[str], share: float, replay: Replay | None) -> str:
    """Say what is used at most in a share of surges; in one recorded period, what is used."""
    if replay is not None and replay.alike:
        return f"{listed(used)} in the period"
    return f"in {share_of_ten(share, replay)} no more than {listed(used)}"


def in_time_words(target: Target) -> str:
    """Say what entries in time do: ``wait 5 min or less``."""
    wait = duration_text(target.wait)
    if target.late_by == "delay":
        return f"are served {wait} or less later than with ample stock"
    return f"wait {wait} or less"


def entries_clause(target: Target) -> str:
    """Say what is asked of the entries of one surge: ``95 % of entries wait 5 min or less``."""
    return f"{share_text(target.service_level)} of entries {in_time_words(target)}"


def has_more(target: Target) -> bool:
    """Say whether the target asks for more than that."""
    more = (target.urgent, target.most_alarms_per_1000, target.most_stock_outs)
    return any(one is not None for one in more)


def target_words(target: Target, of: str = "surges") -> str:
    """Return the target as one clause; `of` names what most must keep it, "" where there is one."""
    most = f"in {share_text(target.share_of_surges)} of {of}, " if of else ""
    said = f"{most}{entries_clause(target)}"
    if target.urgent is not None:
        said += (
            f"; {share_text(target.urgent.service_level)} of urgent ones "
            f"{duration_text(target.urgent.wait)} or less"
        )
    if target.most_alarms_per_1000 is not None:
        said += f"; at most {target.most_alarms_per_1000:g} alarms per 1,000 entries"
    if target.most_stock_outs is not None:
        said += f"; at most {target.most_stock_outs} stock-outs"
    return said


def target_sentence(target: Target, of: str = "surges") -> str:
    """Say the service target in one sentence; `of` as in :func:`target_words`."""
    said = target_words(target, of)
    return f"{said[0].upper()}{said[1:]}."


# --- a recorded log that is played ---


def replay_words(replay: Replay, plays: int) -> str:
    """Say what was simulated, and what was drawn anew for each play."""
    return f"{NOT_COVERED} {drawn_words(replay, f'each of {plays:,} replications')}"


def drawn_words(replay: Replay, each: str = "each replication") -> str:
    """Say what is drawn anew for each play, if anything is."""
    if replay.alike:
        return "Its entries are fixed and nothing else is random, so it is simulated once."
    return f"Its entries are fixed; drawn anew for {each}: {', '.join(replay.drawn)}."


def plays_name(replay: Replay | None) -> str:
    """Return what plays are called: surges, or plays of a recorded period."""
    return "surges" if replay is None else "replications"


def counted_plays(count: int, replay: Replay | None) -> str:
    """Write a number of them: ``20 surges``, ``1 replication``."""
    return counted(count, plays_name(replay).removesuffix("s"))


def must_keep(replay: Replay | None) -> str:
    """Return what a share of must keep the target: surges, plays, or nothing where there is one."""
    return "" if replay is not None and replay.alike else plays_name(replay)


def per_play(replay: Replay | None) -> str:
    """Return what a mean is of: a surge, a replication, or the one recorded period."""
    if replay is None:
        return "per surge"
    return "in the period" if replay.alike else "per replication"


# --- changes during a surge ---


def change_words(change: Change, start: datetime) -> str:
    """Say what changes, when and for how long."""
    long = "for good" if change.lasts is None else f"for {duration_text(change.lasts)}"
    return f"{change_named(change)} from {moment_words(start, change.at)}, {long}"


def change_named(change: Change) -> str:
    """Say what changes, with its numbers."""
    fields = type(change).model_fields.keys() - {"what", "at", "lasts"}
    said = [
        _CHANGE_WORDS[name](value)
        for name in sorted(fields, key=list(_CHANGE_WORDS).index)
        if (value := getattr(change, name)) is not None
    ]
    if isinstance(change, CleanersAbsent) and change.cleaners is None:
        said.insert(0, "all")
    return f"{change.what} ({', '.join(said)})" if said else change.what


#: how each field of a change is said, in this order
_CHANGE_WORDS: dict[str, Callable[[Any], str]] = {
    "kits": lambda count: counted(count, "kit"),
    "batteries": lambda count: counted(count, "battery", "batteries"),
    "bays": lambda count: counted(count, "bay"),
    "chargers": lambda count: counted(count, "charger"),
    "cleaners": lambda count: counted(count, "cleaner"),
    "shift": lambda at_s: f"of the shift from {clock_text(at_s)}",
    "supply": lambda parts: "all parts" if parts == "all" else parts,
    "arrivals": lambda share: f"{share_text(share)} of the usual rate",
    "filters": lambda which: "prefilters and HE filters" if which == "both" else which,
    "life": lambda share: f"{share_text(share)} of their life",
    "kit": str,
    "allowed": lambda yes: "allowed" if yes else "not allowed",
    "wait": duration_text,
    "entries": lambda who: f"{who} entries",
    "dropped": lambda share: f"{share_text(share)} of routine entries made within other visits",
    "by": lambda seconds: f"by {duration_text(seconds)}",
    "share": lambda share: f"{share_text(share)} of them",
}


# --- what people waited for ---


def folded(text: str, longest: int) -> str:
    """Break a long command before options, so that it runs as it stands; other texts stay.

    Where that is not enough it is broken before its file, too.
    """
    if not text.startswith(COMMAND) or len(text) <= longest:
        return text
    first, *options = text.replace(" --", "\0--").split("\0")
    parts = first.rsplit(" ", 1) if len(first) > longest else [first]
    lines = [""]
    for part in (*parts, *options):
        if lines[-1] and len(lines[-1]) + len(part) >= longest:
            lines.append("")
        lines[-1] += f" {part}" if lines[-1] else part
    return " \\\n".join(lines)


def largest_cause(table: Columns) -> str:
    """Name the cause of the largest share of waiting: ``battery waiting for a bay``."""
    _, name = max(zip(table["share"], table["cause_of_waiting"], strict=True))
    return cause_words(name)


def cause_words(name: str) -> str:
    """Name a cause of waiting, and whether its time is fixed."""
    return f"{name}{_FIXED.get(name, '')}"


def waiting_words(table: Columns) -> str:
    """Say the largest causes of waiting, with the rest as one.

    Parameters
    ----------
    table : DataFrame or mapping of columns
        ``cause_of_waiting``, ``share`` [0..1] of all hours waited.

    Returns
    -------
    str
        For example ``battery waiting for a bay 60 %, battery in use 37 %, other 3 %``.
    """
    causes = sorted(
        zip(table["cause_of_waiting"], table["share"], strict=True), key=lambda one: -one[1]
    )
    if not causes:
        return "nothing: nobody waited"
    named = [one for one in causes[:_MOST_CAUSES] if one[1] >= _WORTH_NAMING] or causes[:1]
    said = [f"{cause_words(name)} {_whole(share)}" for name, share in named]
    if (rest := 1.0 - math.fsum(share for _, share in named)) >= _REST:
        said.append(f"other {_whole(rest)}")
    return ", ".join(said)


def _whole(share: float) -> str:
    """Write a share without decimals: causes are not known more closely."""
    return percent(share, known_to=0.1)
