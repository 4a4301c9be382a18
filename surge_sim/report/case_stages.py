"""Parts of the document on a purchase: what is requested, why not less, why not more."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.equipment.stock import stock_words
from surge_sim.report.case_words import cost_head, money_words, price_words
from surge_sim.report.document import Block, Column, Heading, Paragraph, Table
from surge_sim.report.phrases import per_play
from surge_sim.report.rounding import NONE, counted, limit_number, listed, number, percent
from surge_sim.report.sizing_words import money
from surge_sim.sizing.ledger import CONFIRMED, UNDECIDED
from surge_sim.sizing.result import thinned
from surge_sim.units import share_text

if TYPE_CHECKING:
    from surge_sim.purchase.case import Cell, PurchaseCase

#: rows of the tables of stages and of causes of waiting
_MOST_STAGES, _MOST_CAUSES = 6, 3
#: a least cost below this share of the request's price is not told
_SAYS_LITTLE = 0.5
_ITEMS = {
    "kits": "kits", "batteries": "batteries", "bays": "bays", "cleaners": "cleaners",
    "hoods": "spare hoods", "tubes": "spare tubes", "prefilters": "spare prefilters",
    "he_filters": "spare HE filters", "large_hoods": "spare large hoods",
}  # fmt: skip


def count(cell: Cell) -> str:
    """Write a whole number."""
    return NONE if cell.value is None else f"{cell.value:,.0f}"


def met_words(case: PurchaseCase, place: int, tested: bool = False) -> str:
    """Say in how many surges a stage met the target, with the limits of its share.

    Parameters
    ----------
    case : PurchaseCase
        What is told.
    place : int
        Row of the table of stages.
    tested : bool
        Whether it is a row of the table of tested stocks instead.
    """
    of = case.tested if tested else case.stage
    said = f"{count(of(place, 'surges_on_target'))} of {count(of(place, 'surges'))}"
    limits = limits_words(case, place, tested)
    return f"{said} ({limits} %)" if limits else said


def limits_words(case: PurchaseCase, place: int, tested: bool = False) -> str:
    """Say the limits of that share in per cent; empty where there are none."""
    of = case.tested if tested else case.stage
    low, high = of(place, "low").value, of(place, "high").value
    if case.replay is not None or low is None or high is None:
        return ""
    asked = case.target.share_of_surges
    return f"{limit_number(low, asked)} to {limit_number(high, asked)}"


def new_plays(case: PurchaseCase) -> str:
    """Return what the plays that tested a stock are called."""
    return "replications" if case.replay is not None else "new simulated surges"


def request_parts(case: PurchaseCase) -> Iterator[Block]:
    """Yield what is requested, with its prices."""
    yield Heading("Request")
    rows, table = [], case.tables["request"]
    for place, item in enumerate(table["item"]):

        def told(column: str, place: int = place) -> Cell:
            return case.of("request", place, column)

        lot = told("lot").value or 1
        each = money(told("price_of_lot").value or 0.0) + (f" per {lot:.0f} bays" * (lot > 1))
        counts = tuple(count(told(name)) for name in ("in_hand", "to_buy", "in_all"))
        if item == "cleaners":
            counts = _a_shift(case, round(told("to_buy").value or 0))
        rows.append((str(item), *counts, each, money(told("price").value or 0.0)))
    once = case.stage(case.sized.place, "purchase").value
    again = case.stage(case.sized.place, "paid_per_surge").value
    total = len(rows)
    rows.append(("in all, paid once", "", "", "", "", money(once or 0.0)))
    if again:
        each = "in each surge" if case.replay is None else "each time"
        rows.append((f"besides, paid {each}: cleaners", "", "", "", "", money(again)))
    heads = ("Empty store" if case.sized.new else "In hand", "To buy", "In all")
    prices = [Column(head, case.money_unit) for head in ("Price each", "Price")]
    first = Column("Item", align="left")
    yield Table((first, *map(Column, heads), *prices), tuple(rows), sums=(total,))


def _a_shift(case: PurchaseCase, more: int) -> tuple[str, str, str]:
    """Say how many cleaners a shift has, how many come to each, and how many it has then."""
    shifts = [one.cleaners for one in case.scenario.settings.cleaning.crew]

    def told(counts: list[int]) -> str:
        least, most = min(counts), max(counts)
        return f"{least if least == most else f'{least} to {most}'} a shift"

    return told(shifts), f"+{more}", told([one + more for one in shifts])


def what_we_have(case: PurchaseCase) -> Iterator[Block]:
    """Yield what is in hand, and what people wait for with it."""
    yield Heading("What we have")
    if case.sized.new:
        yield Paragraph(
            "Nothing: the sizing began with an empty store, with which no entry gets a kit."
        )
        return
    waiting = case.sized.tables["cause_of_waiting_in_hand"]
    said = f"In hand: {stock_words(case.sized.in_hand)}."
    if len(waiting):
        top = [
            f"{waiting['cause_of_waiting'].iloc[place]} "
            f"({percent(case.waited_for(place, 'share').value, 0.1)})"
            for place in range(min(_MOST_CAUSES, len(waiting)))
        ]
        said += f" With it people wait for {listed(top)} of the hours waited"
        rest = len(waiting) - len(top)
        said += f"; the rest, for {counted(rest, 'rarer cause')}." if rest else "."
        if reduced := list(_reduced(case)):
            said += f" More {listed(reduced)}."
    yield Paragraph(said)


def _reduced(case: PurchaseCase) -> Iterator[str]:
    """Yield the items of which more would reduce waiting, with its share."""
    words = " would help in {} of these hours"
    for place, item in enumerate(case.tables["waiting_by_item"]["reduced_by"]):
        share = case.of("waiting_by_item", place, "share_in_hand").value or 0.0
        if item in _ITEMS and share >= 0.005:
            yield f"{_ITEMS[item]}{words.format(percent(share, 0.1))}"
            words = " in {}"


def less_and_more(case: PurchaseCase) -> Iterator[Block]:
    """Yield the stages of buying, and what speaks against less and against more."""
    stages, best = case.sized.tables["stages"], case.sized.place
    if best:
        yield Heading("Why not less")
        yield Paragraph(" ".join((*_cheaper(case), *_last_steps(case))))
        yield _stages(case)
        yield Paragraph(" ".join(_how_to_read(case)))
    yield Heading("Why not more")
    patients = "For the patients that are expected, the" if not case.demand.empty else "The"
    if best + 1 < len(stages):
        more = (case.stage(best + 1, "cost").value or 0) - (case.stage(best, "cost").value or 0)
        late, later = case.stage(best, "late").value, case.stage(best + 1, "late").value
        yield Paragraph(
            f"{patients} target is met without it. The next stage "
            f"({stages['bought'].iloc[best + 1]}, {money_words(case, more)} more) would leave "
            f"{number(later)} instead of {number(late)} late entries {per_play(case.replay)}."
        )
    else:
        yield Paragraph(f"{patients} target is met without more.")


def _cheaper(case: PurchaseCase) -> Iterator[str]:
    """Say what became of the nearest cheaper stock that was tested, and of those below it."""
    sized, best = case.sized, case.sized.place
    tested, price = sized.tables["tested"], case.stage(best, "cost").value or 0.0
    cheaper = tested[tested["cost"] < price]
    if not (cheaper["verdict"] == CONFIRMED).any():
        yield "No cheaper stock that was tested was shown to meet the target."
    if cheaper.empty:
        return
    place = int(cheaper.sort_values(["cost", "surges"], kind="stable").index[-1])
    verdict, same, plays = tested["verdict"].iloc[place], sized.same_surges, new_plays(case)
    became = {UNDECIDED: "stayed undecided", CONFIRMED: "was confirmed"}
    longer = (case.tested(place, "surges").value or 0) > same
    yield (
        f"The next cheaper stock that was tested, {stock_words(sized.tested_stock(place))} for "
        f"{price_words(case, place, tested=True)}, met it in "
        f"{met_words(case, place, tested=True)} {plays} and "
        f"{became.get(verdict, 'was shown to miss it')}"
        f"{', so testing stopped there' if longer else ''}."
    )
    least = least_cost_told(case) or 0.0
    below = cheaper[(cheaper["surges"] <= same) & (cheaper["verdict"] == UNDECIDED)]
    below = below[below["cost"] >= least]
    if longer and not below.empty and case.replay is None:
        most = money_words(case, float(below["cost"].max()))
        yield (
            f"{most} and cheaper {'ones' if not least else f'ones from {money(least)} on'} were "
            f"seen on {same:,} only, and some may do as well."
        )


def _last_steps(case: PurchaseCase) -> Iterator[str]:
    """Say what the last kits add, and what the steps after them."""
    stages, best = case.sized.tables["stages"], case.sized.place
    late = [case.stage(place, "late").value or 0.0 for place in range(best + 1)]
    kits = [place for place in range(1, best + 1)
            if stages["kits"].iloc[place] > stages["kits"].iloc[place - 1]]  # fmt: skip
    if kits:
        last = kits[-1]
        said = (
            f"The last step with a kit ({stages['bought'].iloc[last]}) takes late entries "
            f"{per_play(case.replay)} from {number(late[last - 1])} to {number(late[last])}"
        )
        rest = f"; the steps after it, to {number(late[best])}" if last < best else ""
        yield f"{said}{rest}."
    if late[best - 1] - late[best] < 0.01 * late[best - 1]:
        yield (
            f"The last step ({stages['bought'].iloc[best]}) hardly changes that mean; it is "
            "requested because no stock without it was shown to meet the target."
        )


def _how_to_read(case: PurchaseCase) -> Iterator[str]:
    """Say on how many surges what was counted, and what the limits are."""
    sized, best = case.sized, case.sized.place
    total, shown = len(sized.stages), len(_shown(case))
    if shown < total:
        yield (
            f"On paper the table shows {shown} of {total} stages; case.html and case.xlsx, sheet "
            "'Stages', show all."
        )
    surges, same = case.stage(best, "surges").value, sized.same_surges
    plays = new_plays(case)
    if surges != same:
        yield (
            f"The test of the request was stopped when decided, after {surges:,.0f} {plays}; the "
            f"limits allow for that. Late entries are means over the first {same:,}."
        )
    else:
        yield f"Late entries are means over the same {same:,} {plays}."
    if case.replay is None:
        yield (
            f"Limits of the share of surges hold each by itself with "
            f"{share_text(sized.confidence or 0)} confidence; far from the share that is asked "
            "for they are wide. Only what is 'confirmed' was shown to meet the target; "
            "'undecided' may or may not."
        )


def least_cost_told(case: PurchaseCase) -> float | None:
    """Return the price below which nothing meets the target; None where that says little."""
    least, price = case.sized.least_cost.get("low"), case.stage(case.sized.place, "cost").value
    if not isinstance(least, int | float) or not least or not price:
        return None
    return float(least) if least >= _SAYS_LITTLE * price else None


def _shown(case: PurchaseCase) -> tuple[int, ...]:
    places = range(len(case.sized.stages))
    return tuple(thinned(places, case.sized.place, _MOST_STAGES))


def _stages(case: PurchaseCase) -> Table:
    near, best, rows = case.sized.nearest_cheaper, case.sized.place, []
    for place in _shown(case):
        if place == best and near is not None:
            rows.append(_row(case, near, "also tested", tested=True))
        now = "empty store" if case.sized.new else "in hand"
        name = "requested" if place == best else f"stage {place}" if place else now
        rows.append(_row(case, place, name))
    columns = (
        Column("Stock", align="left"),
        Column("Kits, batteries, bays"),
        Column(cost_head(case), case.money_unit),
        Column("Met the target in"),
        *([] if case.replay is not None else [Column("Limits of that", "%")]),
        Column("Late entries"),
        Column("Verdict", align="left"),
    )
    return Table(columns, tuple(rows))


def _row(case: PurchaseCase, place: int, name: str, tested: bool = False) -> tuple[str, ...]:
    of = case.tested if tested else case.stage
    table = case.sized.tables["tested" if tested else "stages"]
    limits = () if case.replay is not None else (limits_words(case, place, tested),)
    verdict, least = str(table["verdict"].iloc[place]), least_cost_told(case)
    if verdict == UNDECIDED and least is not None and (of(place, "cost").value or 0.0) < least:
        verdict += " (ruled out, see Confidence)"
    return (
        name,
        ", ".join(count(of(place, item)) for item in ("kits", "batteries", "bays")),
        money(of(place, "cost").value or 0.0),
        f"{count(of(place, 'surges_on_target'))} of {count(of(place, 'surges'))}",
        *limits,
        "" if tested else number(case.stage(place, "late").value),
        verdict,
    )
