"""A sizing as a document: what to add, in which order, for which money, and how sure that is."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pandas as pd

from surge_sim.cautions import CAUTION_IN_SHORT, FIXED_TIMES
from surge_sim.equipment.causes import Cause
from surge_sim.equipment.stock import (
    ITEMS,
    added_words,
    count_words,
    listed,
    stock_words,
    within,
)
from surge_sim.report.document import (
    Answer,
    Document,
    Heading,
    Paragraph,
    Remark,
    Rows,
    document,
)
from surge_sim.report.phrases import (
    NOT_COVERED,
    drawn_words,
    has_more,
    largest_cause,
    must_keep,
    plays_name,
    share_of_ten,
    target_words,
    waiting_words,
)
from surge_sim.report.rounding import percent_number
from surge_sim.report.sizing_stages import IN_SHORT, stages_read, stages_shown, table_words
from surge_sim.report.sizing_words import bought_words, money, remaining_words
from surge_sim.sizing.inputs import CHOOSE, SURGES
from surge_sim.sizing.ledger import CONFIRMED, NOT_MET
from surge_sim.sizing.result import shelf_words
from surge_sim.statistics.waits import cause_name
from surge_sim.units import share_text

if TYPE_CHECKING:
    from surge_sim.sizing.ledger import Entry
    from surge_sim.sizing.result import SizeResult


def size_document(result: SizeResult, full: bool = True) -> Document:
    """Return the answer as blocks: a sentence, why, the order of buying, then the details.

    Parameters
    ----------
    result : SizeResult
        What was found.
    full : bool
        With the details, as in the results folder; else what fits a screen.
    """
    ordered = len(result.stages) > 1
    if not full:
        return document(
            Heading(result.title or result.name, 1),
            Answer(_answer(result, full)),
            stages_shown(result),
            Rows(tuple(_short_rows(result, ordered))),
            *(Remark("warning", note) for note in result.notes),
            Remark("caution", CAUTION_IN_SHORT),
        )
    return document(
        Heading(result.title or result.name, 1),
        Answer(_answer(result)),
        Rows(tuple(_first_rows(result))),
        stages_shown(result),
        Paragraph(stages_read(result)) if ordered else None,
        Rows(tuple(_rows(result))),
        *(Remark("warning", note) for note in result.notes),
        Remark("caution", CAUTION_IN_SHORT),
    )


def _answer(result: SizeResult, full: bool = True) -> str:
    best, owned = result.recommended, result.owned
    target = target_words(result.target, "").split(";")[0]
    share = share_of_ten(result.target.share_of_surges, result.replay)
    alike = _played_once(result)
    where = "in the recorded period" if alike else f"in at least {share}"
    if best == owned:
        return f"Buy nothing: with the stock in hand {target} {where}."
    beside = f", in addition to the {listed(kept)} in hand" if (kept := _kept(result)) else ""
    buy = f"{bought_words(result, best)}{beside}"
    buy = f"From an empty store, {buy}" if result.new and not beside else buy[0].upper() + buy[1:]
    said = f"{buy}: then {target} {where}."
    if result.new:
        return said
    hand = result.ledger.entry(owned)
    tells_why = not full and _tells_why(result)
    cause = f"; largest cause of waiting: {largest_cause(result.waiting)}" if tells_why else ""
    if alike:
        return f"{said} The stock in hand misses it{cause}."
    if tells_why:
        # its limits stand in the first row of the table
        return f"{said} Buying nothing: {_met(result, hand, limits=False)}{cause}."
    return f"{said} The stock in hand is on target in {_met(result, hand)}."


def _played_once(result: SizeResult) -> bool:
    """Say whether all plays are the same one: of a recorded period in which nothing is random."""
    return result.replay is not None and result.replay.alike


def _kept(result: SizeResult) -> list[str]:
    """Return what a store that is sized anew begins with: what is not searched, spare parts."""
    if not result.new:
        return []
    names = [name for name in IN_SHORT if ITEMS[name].of(result.owned)]
    return [
        *(count_words(name, ITEMS[name].of(result.owned)) for name in names),
        *shelf_words(result.shelf),
    ]


def _at_first(result: SizeResult) -> str:
    """Name the stock that a sizing begins with."""
    if not result.new:
        return "the stock in hand"
    return f"only {listed(kept)}" if (kept := _kept(result)) else "an empty store"


def _met(result: SizeResult, entry: Entry, limits: bool = True) -> str:
    """Say in how many of the surges that tested it a stock met the target, and the limits.

    The counts say which surges these are: `run` and `compare` simulate others, and find another
    share.
    """
    if _played_once(result):
        return "the recorded period" if entry.passes else "no play of the recorded period"
    if result.replay is not None:
        share = entry.passes / max(entry.surges, 1)
        return f"{percent_number(share, 0.2)} % of replications"
    if not limits:
        return f"{entry.passes:,} of {entry.surges:,}"
    low, high = (percent_number(one, 0.2) for one in (entry.low, entry.high))
    return f"{entry.passes:,} of {entry.surges:,} new surges ({low} to {high} %)"


def _first_rows(result: SizeResult) -> Iterator[tuple[str, str]]:
    replay = result.replay
    if has_more(result.target):
        yield "Target", f"{target_words(result.target, must_keep(replay))}."
    if replay is not None:
        yield "Recorded", f"{NOT_COVERED} {drawn_words(replay)}"
    if left := remaining_words(result, result.recommended):
        yield "Not solved", f"with the recommended stock {left}."
    yield from _how_sure(result, result.best)
    if _tells_why(result):
        yield "Why", _why(result)


def _rows(result: SizeResult) -> Iterator[tuple[str, str]]:
    empty = result.new and not _kept(result)
    yield "Empty store" if empty else "In hand", f"{stock_words(result.owned)}."
    yield "In all", f"{stock_words(result.recommended)}."
    yield from _parts(result)
    if before := _before(result):
        saved = money(result.cost - result.region.money(before.stock))
        words = f"met in {_met(result, before)}; {before.verdict}"
        advice = "" if before.verdict in (CONFIRMED, NOT_MET) else ": do not plan on it"
        added = added_words(before.stock, result.recommended)
        missed = before.verdict == NOT_MET and _played_once(result)
        said = "misses the target" if missed else words + advice
        yield "One step less", f"without {added} ({saved} less): {said}."
    if result.recommended != result.owned:
        yield "Least cost", _least(result)
    if result.spend is not None:
        yield "For the money", _spent(result)
    yield "Not covered", _not_covered(result)


def _short_rows(result: SizeResult, ordered: bool) -> Iterator[tuple[str, str]]:
    """Say on a screen how to read the table, how sure it is, and why; the rest is in the folder."""
    if left := remaining_words(result, result.recommended, brief=True):
        yield "Not solved", f"with *, {left}."
    if ordered:
        yield "Table", table_words(result)
    if has_more(result.target):
        yield "Target", f"{target_words(result.target, must_keep(result.replay))}."
    if result.replay is not None:
        yield "Recorded", f"{NOT_COVERED} {drawn_words(result.replay)}"
        yield from _how_sure(result, result.best)
    else:
        yield (
            "Confidence",
            f"{100 * result.confidence:g} % that at least "
            f"{share_text(result.target.share_of_surges)} of surges meet the target "
            f"({result.best.passes:,} of {result.best.surges:,} new ones did), if inputs are "
            f"right. Undecided: may be enough; unproven.{_first_look(result)}",
        )
    if rows := result.parts_table.to_dict("records"):
        shelf = [count_words(row["part"], row["on_shelf_recommended"]) for row in rows]
        yield "Spare parts", f"{listed(shelf)} on the shelf."
    if result.spend is not None:
        yield "For the money", _spent(result)


def _tells_why(result: SizeResult) -> bool:
    """Say whether what people wait for at first tells anything: with nothing, it does not."""
    owned = result.owned
    return bool(owned.kits and owned.batteries) and not result.waiting.empty


def _how_sure(result: SizeResult, best: Entry) -> Iterator[tuple[str, str]]:
    replay = result.replay
    if replay is not None:
        counts = (
            "" if replay.alike else f" in {best.passes:,} of {best.surges:,} new replications of it"
        )
        yield "Shown", f"on this one period: the target is met{counts}."
        return
    yield (
        "Confidence",
        f"{100 * result.confidence:g} % that at least "
        f"{share_text(result.target.share_of_surges)} of surges meet the target, and so for all "
        f"confirmed stocks together: {best.passes:,} of {best.surges:,} new simulated surges met "
        f"it. {result.choose:,} others had chosen what was tested."
        f"{_first_look(result)}",
    )


def _first_look(result: SizeResult) -> str:
    """Say that fewer surges than usual were simulated, as a cheaper stock may have been missed."""
    if result.choose >= CHOOSE and result.surges >= SURGES:
        return ""
    return (
        f" A first look: before ordering, size without --quick (on {CHOOSE} + {SURGES} surges), "
        "which may find a cheaper stock."
    )


def _before(result: SizeResult) -> Entry | None:
    """Return what is known of the stage before the recommended one."""
    place = result.stages.index(result.recommended)
    return result.ledger.entry(result.stages[place - 1]) if place else None


def _least(result: SizeResult) -> str:
    least, replay = result.least, result.replay
    if least.low <= 0:
        return "not known: so few surges do not even rule out paying nothing."
    hurt, compared = result.ledger.monotonicity_violations()
    did = f"it did in {hurt:,} of {compared:,}" if hurt else "none was seen to"
    sure = f"with {100 * result.confidence:g} % confidence, " if replay is None else ""
    if_so = f"{sure}if more stock never makes a surge worse ({did})"
    if least.strength == "exact":
        return f"nothing cheaper meets the target, {if_so}."
    paid = f"at least {money(least.low)} of these {money(least.high)} must be paid, {if_so}"
    if least.strength == "strong":
        return f"{paid}; this limit is strong."
    return f"{paid}. This limit is weak: what costs more may do, or may not."


def _why(result: SizeResult) -> str:
    said = f"causes of waiting with {_at_first(result)}: {waiting_words(result.waiting)}"
    mended = result.waiting[result.waiting["reduced_by"] != ""]
    kinds = mended.groupby("reduced_by")["share"].sum().sort_values(ascending=False)
    several = [ITEMS[str(name)].several or str(name) for name in kinds[kinds >= 0.05].index]
    if several and not result.new:
        said += f". More {listed(several)} would reduce this waiting"
    if (result.waiting["cause_of_waiting"] == cause_name(Cause.KIT_DRYING)).any():
        said += f". {FIXED_TIMES.removesuffix('.')}"
    return said + "."


def _parts(result: SizeResult) -> Iterator[tuple[str, str]]:
    rows = result.parts_table.to_dict("records")
    if not rows:
        return
    shelf = [count_words(row["part"], row["on_shelf_recommended"]) for row in rows]
    points = [
        "none" if pd.isna(row["reorder_point"]) else f"{row['reorder_point']:,}" for row in rows
    ]
    said = f"{listed(shelf)} on the shelf; reorder points {listed(points)}."
    short = [row for row in rows if row["surges_short_in_hand"]]
    if short:
        names = listed([ITEMS[row["part"]].several or row["part"] for row in short])
        counts = listed([f"{row['surges_short_in_hand']:,}" for row in short])
        plays = "simulated surges" if result.replay is None else plays_name(result.replay)
        some = f" in {counts} of {short[0]['surges']:,} {plays}"
        said += f" With the stock in hand {names} run out{'' if _played_once(result) else some}."
    yield "Spare parts", said


def _spent(result: SizeResult) -> str:
    assert result.spent is not None and result.spend is not None
    entry, stock = result.ledger.entry(result.spent), result.spent
    enough, spent = result.cost <= result.spend, result.region.money(stock)
    if enough and stock == result.recommended:
        return f"{money(result.spend)}: the answer above takes {money(result.cost)} of it."
    if enough:
        more = added_words(result.recommended, stock) if within(result.recommended, stock) else ""
        more = f"{more} more" if more else added_words(result.owned, stock)
        return (
            f"{money(result.spend)}: the answer above takes {money(result.cost)} of it and is "
            f"enough for the target. With {more} ({money(spent)} in all) it is met in "
            f"{_met(result, entry)}{'; nothing dearer was tested' * (stock == result.chain[0])}."
        )
    said = f"best use of {money(result.spend)} found: {bought_words(result, stock)}"
    if entry.passes or not _played_once(result):
        said += f"; the target is then met in {_met(result, entry)}"
    if entry.verdict == CONFIRMED:
        return f"{said}: confirmed."
    lacks = result.cost - spent
    missing = "misses the target" if entry.verdict == NOT_MET else "is not shown to meet it"
    return f"{said}. It {missing}; the answer above takes {money(lacks)} more."


def _not_covered(result: SizeResult) -> str:
    replay = result.replay
    if replay is not None:
        first = (
            " The log has recorded waits: before you use this answer, see whether `surge-sim run` "
            "reproduces them."
        )
        return "any other period, and inputs that are wrong." + first * replay.waits
    if result.central is not None:
        passes, surges = result.central
        return (
            "inputs that are wrong. Random variation and the ranges in the file are allowed for; "
            f"at their central values the target is met in {passes:,} of {surges:,}."
        )
    return (
        "inputs that are wrong or not known exactly (give ranges in the file). Random variation "
        "between simulated surges is allowed for."
    )
