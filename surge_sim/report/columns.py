"""What each column of the tables in a results folder means: one table, from which help is made."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence

from surge_sim.cautions import CAUTION
from surge_sim.report import case_columns, sizing_columns, whatif_columns

#: meaning by name of column, with the unit in square brackets; the same in every table
_EVERYWHERE = {
    "alarms": "alarms that sent a wearer out [count]",
    "bays": "charger bays [count]",
    "batteries": "batteries, those for the kits among them [count]",
    "boarded": "patients without an isolation room, boarded elsewhere and visited [count]",
    "cause": "why the alarm sounded",
    "wipe_downs": "wipe-downs, those between visits among them [count]",
    "class": "class of patients, as the scenario names it, or `no class` for entries of a log",
    "date": "date on which that day of the surge begins, year-month-day",
    "late_by_delay": "entries late by their own wait, or with a kit in hand so much later than "
    "with ample stock: a named wearer who is kept by a wait comes late to the next door [count]",
    "day": "day of the surge in which the entry was due, from 1; the last day for entries "
    "postponed beyond the horizon; each day begins at the clock time at which the surge began",
    "diverted": "patients without an isolation room, sent elsewhere and not visited [count]",
    "entries": "entries: one person, one visit [count]",
    "entries_per_surge": "entries, mean over surges [count per surge]",
    "surges_with_late": "surges in which at least one of these entries was late [count]",
    "estimate": "the estimate [the unit of what the row names]",
    "extra_cleaners": "cleaners beyond those of the scenario [count]",
    "extra_hoods": "hoods beyond those on the scenario's shelf and one per kit [count]",
    "extra_he_filters": "HE filters beyond those on the scenario's shelf [count]",
    "extra_large_hoods": "large hoods beyond those on the scenario's shelf [count]",
    "extra_prefilters": "prefilters beyond those on the scenario's shelf [count]",
    "extra_tubes": "tubes beyond those on the scenario's shelf and one per kit [count]",
    "reached_maximum_wait": "requests whose maximum wait ran out [count]",
    "hours_per_surge": "hours waited for that cause, all people together, mean over surges [h per "
    "surge]",
    "hours_waited": "hours waited, all people together [h]",
    "hoods_used": "hoods thrown away [count]",
    "in_time": "entries of which every request was served within the target's wait, and, where the "
    "target counts delays, no more than that wait later than with ample stock [count]",
    "kits": "kits [count]",
    "waiting_at_end": "requests that still waited at the end of the run-out period [count]",
    "he_filters_used": "HE filters fitted [count]",
    "large_hoods_used": "large hoods thrown away [count]",
    "measure": "mean; p50 to p99: so many percent of waits are no longer; max: the longest",
    "target_parts_missed": "parts of the target that were missed; empty when all were met",
    "missing": "what was missing while people waited: a kit (no clean blower was ready), a hood or "
    "a tube (a clean blower was ready without one), a battery, or nothing",
    "requests": "requests for a kit: moments at which somebody was ready and wanted one [count]",
    "on_target": "whether the surge met every part of the target [True, False]",
    "patients": "patients admitted or present [count]",
    "peak_highest": "most at any moment of any surge [count]",
    "peak_kits_in_use": "most kits in use at one moment [count]",
    "peak_mean": "most at any moment of a surge, mean over surges [count]",
    "peak_waiting": "most people who waited at one moment [count]",
    "per_1000_entries": "so many per 1,000 entries, all surges together",
    "per_surge": "mean over surges [count per surge]",
    "in_surges": "surges in which it happened at all [count]",
    "prefilters_used": "prefilters fitted [count]",
    "quantity": "which column of surges.csv the row is about; its unit holds for the row",
    "role": "role of the staff, as the scenario names it",
    "service_level": "share of entries in time, of all entries [0..1]",
    "share_longer": "share of requests that wait longer than that [0..1]",
    "stock_outs": "times that a spare part was wanted and there was none: a filter, or a hood "
    "or tube for a clean blower that stood ready [count]",
    "surge": "number of the surge, from 0",
    "surges": "simulated surges [count]",
    "surges_on_target": "of them, those that met the target [count]",
    "tubes_used": "tubes thrown away [count]",
    "unit": "unit of the numbers in the row; min: minutes",
    "unserved": "entries with a request that was not served: the maximum wait ran out, or the end "
    "of the run-out period came [count]",
    "unserved_per_1000": "unserved entries per 1,000 entries",
    "urgency": "urgent entries, or routine ones",
    "urgent_entries": "urgent entries [count]",
    "urgent_late": "urgent entries later than their own wait allows [count]",
    "wait_max_min": "longest wait [min]",
    "wait_mean_min": "mean wait [min]",
    "wait_min": "a wait [min]",
    "wait_p95_min": "95 of 100 waits are no longer [min]",
    "late_by_wait": "entries of which a request waited longer than the target's wait, or was not "
    "served [count]",
    "worst_day": "day with the lowest share of entries in time, from 1",
    "worst_day_date": "date on which that day begins, year-month-day",
    "worst_day_service_level": "share of entries in time on that day [0..1]",
}

#: how to read the columns of a recorded period that was replayed
_REPLAYED = (
    "Where a column speaks of surges, read: replications of that period. A limit, where there is "
    "one, is about such replications and about no other period."
)

_LOW = "lower limit of that number: with 95 % confidence, or that of the sizing"
_HIGH = "upper limit of that number; empty where there is none"

_USE = {
    "state": "what is counted: things in a state; a kit, and a battery, is in one at a time. "
    "kits in use: taken, until handed in; kits drying: in contact or drying time; kits "
    "ready: on the shelf; kits out of service: clean, and away for a repair, an "
    "HE filter or a prefilter; "
    "kits away: not in the unit, since recalled, or of a loan that has not begun or is over; "
    "batteries cooling: before they are charged; batteries in bay: in a charger bay; batteries on "
    "shelf: at hand, in no bay and not in use; batteries out of service: failed and not "
    "replaced yet; "
    "batteries away: gone with a kit that is away, or of a loan that has not begun or is over; "
    "entries waiting: people who wait for a kit",
    "mean": "how many, mean over surges and time [count]",
}
_WAITING = {
    "cause_of_waiting": "cause of waiting: what was missing, and where it was. Each second of "
    "waiting is split evenly over the kinds of things that were missing, and for each kind "
    "evenly over all its things; a share says how many of them were held up there. kit in "
    "use: taken, until handed in; held between visits: kept by a wearer for the shift; waiting "
    "for a wipe-down: for a place, a cleaner or collection; waiting for a filter: there is "
    "none in stock; away: recalled with their kits; charging to full: it "
    "holds the minimum run time, and only full batteries are issued; failed check: a kit was "
    "checked again or put aside; wearer busy: the wearer was not free before the end of the "
    "run-out period",
    "share": "share of all hours waited; without limits, for a few surges with long waits carry it "
    "[0..1]",
}
#: what a column of one table means besides, or otherwise
_OF_TABLE: dict[str, Mapping[str, str]] = {
    **case_columns.TABLES,
    "alternatives": whatif_columns.ALTERNATIVES,
    "differences": whatif_columns.DIFFERENCES,
    "outcomes": whatif_columns.OUTCOMES,
    "inputs": whatif_columns.INPUTS,
    "replications": whatif_columns.PLAYS,
    "order_of_buying": whatif_columns.LADDER,
    "by_hour": {"hour": "hour of the clock in which the entry was due, 0 to 23"},
    "service_level_by_hour": {"hour": "hour of the clock in which the entry was due, 0 to 23"},
    "consumables": {
        "what": "what was used up",
        "share_of_surges": "share of surges that the target asks for [0..1]",
        "enough": "in that share of surges no more was used: a quantile over surges [count]",
        "enough_low": "lower limit of that quantile, 95 %, distribution-free; empty: so few surges "
        "give none [count]",
        "enough_high": "upper limit of it, likewise [count]",
    },
    "recorded_waits": {
        "group": "the whole recorded period, or a day of it; entries without a recorded wait are "
        "left out",
        "date": "date on which that day begins, year-month-day; empty for the whole period",
        "entries": "entries of the group that have a recorded wait [count]",
        "measure": "share late: of entries that waited longer than the target, or were not served; "
        "mean; median and percentiles: so many percent of waits are no longer",
        "unit": "unit of the four numbers beside it",
        "recorded": "as the log has it",
        "simulated": "the same entries simulated, mean over replications",
        "simulated_lowest": "lowest of all replications",
        "simulated_highest": "highest of all replications",
    },
    "recorded_waits_by_entry": {
        "entry": "number of the entry, from 0: by moment of the request, urgent ones first within "
        "a second",
        "requested_min": "moment of the request in the log, after the start [min]",
        "recorded_min": "wait that the log has [min]",
        "simulated_min": "wait in the simulation, mean over replications [min]",
        "lowest_min": "shortest simulated wait of all replications [min]",
        "highest_min": "longest simulated wait of all replications [min]",
        "share_of_replications_late": "share of replications in which it waited longer than the "
        "target, or was not served [0..1]",
    },
    "parts": sizing_columns.PARTS,
    "spread": {"share_of_surges": "in this share of surges the quantity is no higher [0..1]"},
    "stages": sizing_columns.STAGES,
    "tested": sizing_columns.TESTED,
    "use": _USE,
    "use_over_time": {
        **_USE,
        "hour": "hours since the surge began at which the stretch of time begins [h]",
        "begins": "date and clock time at which it begins, year-month-day hour:minute",
        "hours": "length of the stretch of time [h]",
        "mean": "how many in that stretch, mean over surges [count]",
        "p10": "in one surge of ten it is no more, of the first 200 surges [count]",
        "p90": "in nine surges of ten it is no more, of the first 200 surges [count]",
    },
    "cause_of_waiting": _WAITING,
    "cause_of_waiting_in_hand": {**_WAITING, **sizing_columns.WAITING},
    "waits": {"group": "all requests, or urgent ones"},
    "work": {"what": "work done, or a spare part that was wanted and not there"},
}


#: an uncertain input is named as in the scenario
_INPUT = (
    "uncertain input, the value drawn for this surge [after its name: min, per day, per h, or "
    "L/min; otherwise a share, 0..1, or a number]; shares of classes before they are brought to 1 "
    "in sum"
)


def meaning(table: str, column: str) -> str | None:
    """Return what a column means, with its unit; None if nobody wrote it down.

    Parameters
    ----------
    table : str
        Path of the table in the folder, without its ending: ``tables/waits``.
    column : str
        Name of the column.
    """
    short = table.rsplit("/", 1)[-1]
    own = _OF_TABLE.get(table) or _OF_TABLE.get(short, {})
    found = own.get(column) or _EVERYWHERE.get(column)
    if found:
        return found
    for ending, word in (("_low", "lower"), ("_high", "upper")):
        base = column.removesuffix(ending)
        if base != column and meaning(table, base):
            return (
                f"{word} limit of {base}: of a 95 % interval; empty where too few surges tell of it"
            )
    if short == "surges" and "." in column:
        return _INPUT
    return {"low": _LOW, "high": _HIGH}.get(column)


def columns_text(tables: Mapping[str, Sequence[str]], covers: str = "") -> str:
    """Return the help on all tables of a folder.

    Parameters
    ----------
    tables : mapping
        Path of each table in the folder, without its ending -> its columns.
    covers : str, optional
        Of plays of a recorded period: what they cover, said first.

    Returns
    -------
    str
        Lines of at most 100 columns.
    """
    lines = [
        *([*textwrap.wrap(f"{covers} {_REPLAYED}", 98), ""] if covers else []),
        "What the columns of the tables mean; units stand in square brackets. A figure's numbers",
        "lie beside it, under its name. An empty field is a number that is not known. A text that",
        "begins with = + - or @ has an apostrophe in front, or a spreadsheet would take it for a",
        "formula; numbers stand as they are.",
        "",
        *textwrap.wrap(CAUTION, 98),
    ]
    for table, columns in sorted(tables.items()):
        width = max(map(len, columns), default=0) + 2
        lines += ["", f"{table}.csv"]
        for column in columns:
            text = textwrap.wrap(meaning(table, column) or "", 98 - width) or [""]
            lines += [f"  {column:<{width}}{text[0]}".rstrip()]
            lines += [f"  {'':<{width}}{line}" for line in text[1:]]
    return "\n".join(lines)
