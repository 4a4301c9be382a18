"""What each column of the tables in a results folder means: one table, from which help is made."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence

from surge_sim.cautions import CAUTION_IN_ONE_LINE

#: meaning by name of column, with the unit in square brackets; the same in every table
_EVERYWHERE = {
    "alarms": "alarms that sent a wearer out [count]",
    "bays": "charger bays [count]",
    "batteries": "batteries, those for the kits among them [count]",
    "boarded": "patients without an isolation room, boarded elsewhere and visited [count]",
    "cause": "why the alarm sounded",
    "cleans": "wipe-downs, short ones among them [count]",
    "class": "class of patients, as the scenario names it",
    "cost": "price of the whole stock, of spare parts those beyond the scenario's shelf "
    "[the scenario's currency]",
    "date": "date on which that day of the surge begins, year-month-day",
    "day": "day of the surge in which the entry was due, from 1; each begins as the surge did",
    "diverted": "patients without an isolation room, sent elsewhere and not visited [count]",
    "entries": "entries: one person, one visit [count]",
    "entries_per_surge": "entries, mean over surges [count per surge]",
    "surges_with_late": "surges in which at least one of these entries was late [count]",
    "estimate": "the estimate [the unit of what the row names]",
    "extra_cleaners": "cleaners beyond those of the scenario [count]",
    "extra_hoods": "hoods beyond those on the scenario's shelf and one per kit [count]",
    "extra_main_filters": "main filters beyond those on the scenario's shelf [count]",
    "extra_prefilters": "prefilters beyond those on the scenario's shelf [count]",
    "extra_tubes": "tubes beyond those on the scenario's shelf and one per kit [count]",
    "gave_up": "needs whose patience ran out [count]",
    "hours_per_surge": "hours waited for that cause, all people together, mean over surges [h per "
    "surge]",
    "hours_waited": "hours waited, all people together [h]",
    "hoods_used": "hoods thrown away [count]",
    "in_time": "entries of which every need was served within the target's wait [count]",
    "item": "the item whose number changes, the rest as recommended",
    "kits": "kits [count]",
    "left_waiting": "needs that still waited at the close [count]",
    "main_filters_used": "main filters fitted [count]",
    "measure": "mean; p50 to p99: so many percent of waits are no longer; max: the longest",
    "missed": "parts of the target that were missed; empty when all were kept",
    "missing": "what was missing while people waited: a kit (no clean blower was ready), a hood or "
    "a tube (a clean blower was ready without one), a battery, or nothing",
    "needs": "moments at which somebody was ready and wanted a kit [count]",
    "on_target": "whether the surge kept every part of the target [True, False]",
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
    "share_in_time": "share of entries in time, of all entries [0..1]",
    "share_longer": "share of needs that wait longer than that [0..1]",
    "spare_batteries": "batteries beyond one per kit [count]; 0 where there are fewer than kits",
    "stock_outs": "times that a spare part was wanted and there was none: a filter, or a hood "
    "or tube for a clean blower that stood ready [count]",
    "surge": "number of the surge, from 0",
    "surges": "surges played [count]",
    "surges_on_target": "of them, those that kept the target [count]",
    "test": "how it was tested: at looks fixed beforehand, or after any surge (anytime)",
    "tubes_used": "tubes thrown away [count]",
    "unit": "unit of the numbers in the row; min: minutes",
    "unmet": "entries with a need that was not served: patience ran out, or the close came [count]",
    "unmet_per_1000": "unmet entries per 1,000 entries",
    "urgency": "urgent entries, or routine ones",
    "urgent_entries": "urgent entries [count]",
    "urgent_late": "urgent entries later than their own wait allows [count]",
    "verdict": "passes, fails, or undecided: what the surges played show; not reached: not tested",
    "wait_max_min": "longest wait [min]",
    "wait_mean_min": "mean wait [min]",
    "wait_min": "a wait [min]",
    "wait_p95_min": "95 of 100 waits are no longer [min]",
    "worst_day": "day with the lowest share of entries in time, from 1",
    "worst_day_date": "date on which that day begins, year-month-day",
    "worst_day_share": "share of entries in time on that day [0..1]",
}

#: how to read the columns of a recorded period that was replayed
_REPLAYED = (
    "Where a column speaks of surges, read: plays of that period. A limit, where there is one, is "
    "about such plays and about no other period."
)

_LOW = "lower limit of that number: with 95 % confidence, or that of the sizing"
_HIGH = "upper limit of that number; empty where there is none"

_USE = {
    "state": "what is counted: things in a state; a kit, and a battery, is in one at a time. "
    "kits in use: taken, until handed in; kits drying: wet or drying after the wipe-down; kits "
    "ready: on the shelf; kits out: clean, and out for a repair, a main filter or a prefilter; "
    "kits away: not in the unit, since withdrawn, or borrowed and not yet come or gone back; "
    "batteries in bay: in a charger bay; batteries on shelf: at hand, in no bay and not in use; "
    "batteries away: gone with a kit that is away; entries waiting: people who wait for a kit",
    "mean": "how many, mean over surges and time [count]",
}
_WAITING = {
    "waiting_for": "cause of waiting: what was missing, and where it was. Each second of "
    "waiting is split evenly over the kinds of things that were missing, and for each kind "
    "evenly over all its things; a share says how many of them were held up there. kit in "
    "use: taken, until handed in; held between visits: kept by a wearer for the shift; waiting "
    "for a wipe-down: for a place, a cleaner or collection; waiting for a filter: there is "
    "none in stock; away: withdrawn with their kits; charged enough but kept until full: it "
    "holds the least run time, and only full batteries are handed out; failed check: a kit was "
    "looked at again or put aside; wearer busy: the wearer was not free before the close",
    "share": "share of all hours waited; without limits, for a few surges with long waits carry it "
    "[0..1]",
}
_CHANGE = {
    "change": "what is added (+) or left out (-)",
    "kind": "more: one lot more of an item; pair: of two items; less: one lot less",
    "price": "price of the change; negative: saved [the scenario's currency]",
    "surges_gained": "surges that missed the target and keep it after the change [count]",
    "surges_lost": "surges that kept the target and miss it after the change [count]",
    "surges_gain": "change in the share of surges on target [-1..1]",
    "surges_low": "lower limit of surges_gain [-1..1]",
    "surges_high": "upper limit of surges_gain [-1..1]",
    "entries_gain": "change in the share of entries in time, mean over surges [-1..1]",
    "entries_low": "lower limit of entries_gain [-1..1]",
    "entries_high": "upper limit of entries_gain [-1..1]",
    "per_money": "entries_gain per unit of the scenario's currency",
    "tells": "whether the change can be told apart from none: by surges_gained against "
    "surges_lost (exact sign test), or since the limits of entries_gain leave out 0 [True, False]",
    "apart": "whether its per_money, the gain in entries, can be told apart from that of the row "
    "above it of the same kind, surge by surge; empty: no such row, or no price",
    "kits": "kits after the change [count]",
    "batteries": "batteries after the change [count]",
    "bays": "charger bays after the change [count]",
}
_BAND = {
    "crew": "cleaners beyond those of the scenario [count]",
    "hoods": "hoods beyond those on the scenario's shelf and one per kit [count]",
    "tubes": "tubes beyond those on the scenario's shelf and one per kit [count]",
    "prefilters": "prefilters beyond those on the scenario's shelf [count]",
    "main_filters": "main filters beyond those on the scenario's shelf [count]",
    "state": "certified: at least as much of everything as a stock that was shown to keep the "
    "target; fails: no more of anything than one shown not to; or undecided. Of stocks that were "
    "not tested it holds if more stock never hurts. Items beyond the first two that vary are as "
    "recommended",
    "share": "share of choosing surges on target, an estimate; empty: not searched [0..1]",
}

_PARTS = {
    "part": "a spare part that can run out: the scenario's `supplies` name it",
    "recommended": "more: have more of it; as in hand: what is on the shelf does as well; held: "
    "left as it is, as was asked (--hold)",
    "on_shelf": "on the scenario's shelf when the surge begins; of hoods and tubes those beyond "
    "one per kit [count]",
    "on_shelf_recommended": "to be on the shelf when the surge begins [count]",
    "reorder_at": "reorder point that goes with it: the scenario's, and as much higher as there is "
    "more on the shelf; empty: never ordered again [count]",
    "order_size": "order quantity, as in the scenario [count]",
    "lead_time_days": "lead time [d]",
    "price_of_more": "price of what is beyond the scenario's shelf [the scenario's currency]",
    "share_of_surges": "share of surges that the target asks for [0..1]",
    "used": "no more were used in that share of the choosing surges, if none ran out: a quantile "
    "over surges, not a mean [count]",
    "used_low": "lower limit of used, with the confidence of the sizing: distribution-free, of "
    "that quantile; empty: so few surges give none [count]",
    "used_high": "upper limit of used, likewise [count]",
    "enough": "so many on the shelf would not have run out in that share of the choosing surges "
    "[count]",
    "enough_low": "lower limit of enough, as that of used [count]",
    "enough_high": "upper limit of enough, likewise [count]",
    "reorder_at_early": "reorder point at which an order goes out as soon as one of the scenario's "
    "shelf is used, where so early an order saves parts; empty: it does not, or no more are "
    "recommended [count]",
    "enough_early": "with that reorder point so many on the shelf would not have run out in that "
    "share of the choosing surges, if all such parts were ordered so early [count]",
    "surges": "fresh surges on which stock-outs were counted [count]",
    "surges_short_in_hand": "of them, those in which the part ran out with the stock in hand "
    "[count]",
    "stock_outs_in_hand": "stock-outs with the stock in hand, mean over those surges [count per "
    "surge]",
    "surges_short": "those in which the part ran out with the recommended stock [count]",
    "stock_outs": "stock-outs with the recommended stock, mean over those surges [count per surge]",
}

#: what a column of one table means besides, or otherwise
_OF_TABLE: dict[str, Mapping[str, str]] = {
    "band": _BAND,
    "by_hour": {"hour": "hour of the clock in which the entry was due, 0 to 23"},
    "share_in_time_by_hour": {"hour": "hour of the clock in which the entry was due, 0 to 23"},
    "chain": {
        "share_of_choosing_surges": "share of the choosing surges which it served, an estimate "
        "that flatters [0..1]",
        "surges": "fresh surges on which it was tested [count]",
    },
    "consumables": {
        "what": "what was used up",
        "share_of_surges": "share of surges that the target asks for [0..1]",
        "enough": "in that share of surges no more was used: a quantile over surges [count]",
        "enough_low": "lower limit of that quantile, 95 %, distribution-free; empty: so few surges "
        "give none [count]",
        "enough_high": "upper limit of it, likewise [count]",
    },
    "evidence": {
        "role": "recommended; one item less; extra parts less: with the parts of the scenario's "
        "shelf only; or a candidate on the way to it",
        "share": "share of those surges on target [0..1]",
        "low_alone": "the true share is at least so much [0..1], if no other stock were tested, "
        "with the confidence of the sizing: limits that can be compared",
        "low": "the true share is at least so much [0..1], with the confidence low_confidence",
        "high": "the true share is at most so much [0..1], with the confidence of the sizing",
        "low_confidence": "confidence of low: higher where many stocks share the chance of error",
    },
    "frontier": {
        "share": "share of choosing surges on target, an estimate [0..1]",
        "status": "certified: shown on fresh surges to keep the target; or estimated",
    },
    "more_stock": {
        "less": "the poorer stock",
        "more": "a stock with at least as much of everything",
        "surges": "surges that both were played on [count]",
        "hurt": "surges that kept the target with less and missed it with more [count]",
        "helped": "surges that missed the target with less and kept it with more [count]",
    },
    "needed": {
        "number": "so many of it [count]",
        "share_of_surges": "share of the choosing surges which that number serves [0..1]",
    },
    "needed_quantiles": {
        "share_of_surges": "share of the choosing surges [0..1]",
        "needed": "so many serve that share; empty: more than was searched [count]",
        "or_fewer": "whether fewer than needed may do: it is the least that was searched",
        "low": "lower limit of needed; empty: so few surges give none [count]",
        "high": "upper limit of needed; empty: so few surges give none [count]",
    },
    "next_item_in_hand": _CHANGE,
    "next_item_recommended": _CHANGE,
    "other_shares": {
        "share_of_surges": "another share of surges that is to be on target [0..1]",
        "cost": "price of the cheapest stock for it, an estimate [the scenario's currency]",
    },
    "parts": _PARTS,
    "recorded_waits": {
        "group": "the whole recorded period, or a day of it; entries without a recorded wait are "
        "left out",
        "date": "date on which that day begins, year-month-day; empty for the whole period",
        "entries": "entries of the group that have a recorded wait [count]",
        "measure": "share late: of entries that waited longer than the target, or in vain; mean; "
        "median and percentiles: so many percent of waits are no longer",
        "unit": "unit of the four numbers beside it",
        "recorded": "as the log has it",
        "simulated": "the same entries simulated, mean over plays",
        "simulated_lowest": "lowest of all plays",
        "simulated_highest": "highest of all plays",
    },
    "recorded_waits_by_entry": {
        "entry": "number of the entry, from 0: by need, urgent ones first within a second",
        "need": "when the entry was due, after the start [min]",
        "recorded_min": "wait that the log has [min]",
        "simulated_min": "wait in the simulation, mean over plays [min]",
        "lowest_min": "shortest simulated wait of all plays [min]",
        "highest_min": "longest simulated wait of all plays [min]",
        "share_of_plays_late": "share of plays in which it waited longer than the target [0..1]",
    },
    "spread": {"share_of_surges": "in this share of surges the quantity is no higher [0..1]"},
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
    "waiting_for": _WAITING,
    "waiting_in_hand": {
        **_WAITING,
        "hours_per_surge": "hours waited with the stock in hand for this cause, mean over the "
        "first of the choosing surges, at most 40 [h per surge]",
        "in_surges": "of these surges, those in which somebody waited for it [count]",
    },
    "waits": {"group": "all needs, or urgent ones"},
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
        *textwrap.wrap(CAUTION_IN_ONE_LINE, 98),
    ]
    for table, columns in sorted(tables.items()):
        width = max(map(len, columns), default=0) + 2
        lines += ["", f"{table}.csv"]
        for column in columns:
            text = textwrap.wrap(meaning(table, column) or "", 98 - width) or [""]
            lines += [f"  {column:<{width}}{text[0]}".rstrip()]
            lines += [f"  {'':<{width}}{line}" for line in text[1:]]
    return "\n".join(lines)
