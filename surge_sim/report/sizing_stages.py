"""The stages of a sizing as a table: what is bought so far, what it costs, what it serves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from surge_sim.equipment.stock import ITEMS, count_words, per_surge
from surge_sim.report.document import Column, Table
from surge_sim.report.phrases import counted_plays, plays_name
from surge_sim.report.rounding import limit_number, number, percent_number
from surge_sim.report.sizing_words import money
from surge_sim.sizing.ledger import UNDECIDED
from surge_sim.sizing.result import thinned

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.result import SizeResult

#: stages on the screen
SHOWN = 5
#: what stands in a stock in short, in this order
IN_SHORT = ("kits", "batteries", "bays")
#: how to read their table, and which surges each column is about
STAGES_READ = (
    "Buy: in all, at this cost: {bought}. Stock: kits-batteries-bays. {on_target}Late entries, "
    "Hours waited by all people together, and late entries on the Worst day: {whose}. {verdicts} "
    "* recommended."
)
_VERDICTS = (
    "Confirmed: the lower limit is at the share that is asked for, or above. Not met: the upper "
    "limit is below it. Undecided: it lies between."
)
#: why a verdict can be undecided beside limits that are high enough
NO_CANDIDATE = (
    "A stage that was not a candidate, or was tested after one that was not confirmed, stays "
    "undecided even if its lower limit is high enough."
)
#: of a period that is played once
_ONCE = "of that one period", "Confirmed: the target is met. Not met: it is missed."
#: why they look unlike the interval of a run
LIMITS = (
    "These limits hold however many surges were looked at, so they are wider than the interval "
    "of `run`, and not symmetrical."
)


def bought_in_short(owned: Stock, stock: Stock, short: Sequence[str] = IN_SHORT) -> str:
    """Say what is bought in all, as a stock is written: ``3-5-4, 2 tubes``.

    Parameters
    ----------
    owned, stock : Stock
        Less and more.
    short : sequence of str
        Names of the items that are told by their number alone, in this order.
    """
    more = {name: item.of(stock) - item.of(owned) for name, item in ITEMS.items()}
    others = [
        count_words(name, count) for name, count in more.items() if count and name not in short
    ]
    counts = "-".join(f"{more[name]}" for name in short)
    return ", ".join([counts, *others] if any(more[name] for name in short) else others)


def stages_read(result: SizeResult) -> str:
    """Say in full how to read the table, and which surges its columns are about."""
    plays, on_target, (whose, verdicts) = plays_name(result.replay), "", _ONCE
    if result.replay is None or not result.replay.alike:
        entries = [result.ledger.entry(stock) for stock in _shown(result)]
        counts = [entry.surges for entry in entries]
        tested = f"{min(counts):,}" + (f" to {max(counts):,}" if max(counts) > min(counts) else "")
        limits = "" if result.replay else f", and its limits, each by itself. {LIMITS}"
        on_target = f"On target: share of the {tested} new {plays} that tested a stock{limits}"
        on_target = f"{on_target.rstrip('.')}. "
        same = counted_plays(len(result.ledger.rows(result.owned)), result.replay)
        whose = f"of the first {same}, the same for every stock, means that a few bad ones raise"
        verdicts = _VERDICTS
        if any(entry.above and entry.verdict == UNDECIDED for entry in entries):
            verdicts = f"{_VERDICTS} {NO_CANDIDATE}"
    bought = "-".join(_bought_names(result))
    return STAGES_READ.format(bought=bought, on_target=on_target, whose=whose, verdicts=verdicts)


def _shown(result: SizeResult) -> tuple[Stock, ...]:
    return thinned(result.stages, result.recommended, SHOWN)


def stages_shown(result: SizeResult) -> Table | None:
    """Return the table: nothing bought, some stages up to the recommended stock, and one beyond."""
    if len(result.stages) < 2:
        return None
    stocks = _shown(result)
    table = result.table_of(stocks)
    columns = (
        Column("Buy", align="left"),
        Column("Cost"),
        Column("Stock"),
        Column("On target", "%"),
        Column("Late", "%"),
        Column("Hours waited"),
        Column("Worst day, late", "%"),
        Column("Verdict", align="left"),
    )
    rows = []
    for row, stock in zip(table.to_dict("records"), stocks, strict=True):
        share = row["surges_on_target"] / max(row["surges"], 1)
        asked = result.target.share_of_surges
        shown = percent_number(share, 0.2)
        low, high = (
            limit_number(one, asked).replace("over ", ">").replace("under ", "<")
            for one in (row["low"], row["high"])
        )
        bought = (
            bought_in_short(result.owned, stock, _bought_names(result))
            if row["stage"]
            else "nothing"
        )
        rows.append(
            (
                bought + (" *" if row["recommended"] else ""),
                money(row["cost"]),
                f"{row['kits']}-{row['batteries']}-{row['bays']}",
                f"{shown} ({low}-{high})" if result.replay is None else shown,
                percent_number(row["share_late"]),
                number(row["hours_waited"]),
                percent_number(row["worst_day_share_late"], 0.2),
                row["verdict"],
            )
        )
    return Table(columns, tuple(rows))


def table_words(result: SizeResult) -> str:
    """Say on a screen how to read the table of stages."""
    stocks = _shown(result)
    each = any(per_surge(result.owned, stock, result.prices) for stock in stocks)
    if not each:
        return "Buy, Stock: kits-batteries-bays. Late, hours: means. * recommended."
    return (
        f"Buy: {'-'.join(_bought_names(result))} per shift; Stock: the first three. Cost: with one "
        "surge. Late, hours: means. * recommended."
    )


def _bought_names(result: SizeResult) -> tuple[str, ...]:
    """Return the items that the table tells by their number alone."""
    some = any(stock.extra_cleaners > result.owned.extra_cleaners for stock in result.stages)
    return (*IN_SHORT, "cleaners") if some else IN_SHORT
