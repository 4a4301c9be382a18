"""The case for a purchase as a document: for people who were not there and have only this."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.cautions import CAUTION
from surge_sim.report.case_beside import alternative_parts, leans_parts
from surge_sim.report.case_life import demand_parts, life_parts
from surge_sim.report.document import (
    Answer,
    Block,
    Column,
    Document,
    Heading,
    Paragraph,
    Remark,
    Rows,
    Table,
    document,
)
from surge_sim.report.phrases import must_keep, per_play, plays_name, replay_words, target_words
from surge_sim.report.rounding import (
    NONE,
    listed,
    number,
    percent,
    percent_number,
    share_in_limits,
)
from surge_sim.report.sizing_answer import money
from surge_sim.sizing.items import ITEMS, added_words, stock_words
from surge_sim.sizing.result import thinned
from surge_sim.units import share_text

if TYPE_CHECKING:
    from surge_sim.purchase.case import Cell, PurchaseCase

#: measures of the table of doing nothing: label, and whether they are shares
_MEASURES = {
    "missed_target": ("{surges} that miss the target", True),
    "late": ("late entries {per}", False),
    "urgent_late": ("late urgent entries {per}", False),
    "hours_waited": ("hours waited by all people together, {per}", False),
    "longest_wait": ("longest wait, min", False),
    "worst_day_late": ("late entries on the worst day", True),
}
_USED = {
    "entries": "entries",
    "battery_hours": "hours that batteries are in use",
    "charges": "charges begun",
    "full_charges": "equivalent full charges, at most",
    "wipe_downs": "wipe-downs",
    "wiping_hours": "hours of wipe-down work",
    "wipes": "wipes",
    "hoods": "hoods used up",
    "tubes": "tubes used up",
    "prefilters": "prefilters",
    "he_filters": "HE filters",
    "repairs": "blower repairs",
    "battery_replacements": "batteries that failed",
}
_MOST_STAGES, _MOST_NOTES = 6, 4


def case_document(case: PurchaseCase, signatures: bool = True) -> Document:
    """Return the case as blocks.

    Parameters
    ----------
    case : PurchaseCase
        What is told.
    signatures : bool
        Whether there is a place to sign; a screen has none.
    """
    title = case.scenario.settings.title or case.scenario.name
    return document(
        Heading(f"The case for a purchase: {title}", 1),
        Answer(answer_words(case)),
        *_request(case),
        *_what_we_have(case),
        *_less_and_more(case),
        *_doing_nothing(case),
        *demand_parts(case),
        *_used(case),
        *life_parts(case),
        *alternative_parts(case),
        *_how_sure(case),
        *leans_parts(case),
        *_warnings(case),
        *_where_to_check(case),
        *(_signatures() if signatures else ()),
        Remark("caution", CAUTION),
    )


def answer_words(case: PurchaseCase) -> str:
    """Say the request in two sentences."""
    sized = case.sized
    asked = target_words(case.target, must_keep(case.replay))
    asked = f"{asked[0].upper()}{asked[1:]}"
    if sized.in_hand == sized.proposed:
        return f"Nothing is requested: the stock in hand meets the target. {asked}."
    price = _money(case, case.stage(sized.place, "cost"))
    met, missed = _met(case, sized.place), _met(case, 0)
    return (
        f"Requested: {added_words(sized.in_hand, sized.proposed)} for {price}, so that the target "
        f"is met: {asked[0].lower()}{asked[1:]}. With this stock it was met in {met}; with the "
        f"stock in hand, in {missed}."
    )


def met_words(case: PurchaseCase, place: int) -> str:
    """Say the share of surges in which a stage met the target, with its limits."""
    met, surges = (case.stage(place, name).value for name in ("surges_on_target", "surges"))
    share = (met or 0) / max(surges or 1, 1)
    low, high = case.stage(place, "low").value, case.stage(place, "high").value
    if case.replay is not None or low is None or high is None:
        return f"{percent_number(share, 0.1)} %"
    return share_in_limits(share, low, high)


def _met(case: PurchaseCase, place: int) -> str:
    met, surges = case.stage(place, "surges_on_target"), case.stage(place, "surges")
    new = "replications" if case.replay is not None else "new simulated surges"
    return f"{count(met)} of {count(surges)} {new}"


def count(cell: Cell) -> str:
    """Write a whole number."""
    return NONE if cell.value is None else f"{cell.value:,.0f}"


def _money(case: PurchaseCase, cell: Cell) -> str:
    return f"{money(cell.value or 0.0)} {case.currency}"


def _request(case: PurchaseCase) -> Iterator[Block]:
    sized, prices = case.sized, case.scenario.settings.prices
    yield Heading("Request")
    rows = []
    for name, item in ITEMS.items():
        more = item.of(sized.proposed) - item.of(sized.in_hand)
        if not more and name not in ("kits", "batteries", "bays"):
            continue
        lot = item.lot(prices)
        each = money(item.lot_price(prices)) + (f" per {lot} bays" if lot > 1 else "")
        numbers = (item.of(sized.in_hand), more, item.of(sized.proposed))
        label = item.several or name.replace("_", " ")
        rows.append((label, *(f"{one:,}" for one in numbers), each))
    columns = [Column("Item", align="left"), Column("In hand"), Column("To buy")]
    columns += [Column("Then"), Column("Price each", case.currency)]
    yield Table(tuple(columns), tuple(rows))
    once, again = case.stage(sized.place, "purchase"), case.stage(sized.place, "paid_per_surge")
    said = f"Paid once: {_money(case, once)}."
    if again.value:
        said += f" Paid for each surge: {_money(case, again)} for extra cleaners."
    yield Paragraph(f"{said} Prices are those of the scenario file.")


def _what_we_have(case: PurchaseCase) -> Iterator[Block]:
    yield Heading("What we have")
    waiting = case.sized.tables["cause_of_waiting_in_hand"]
    said = f"In hand: {stock_words(case.sized.in_hand)}."
    if len(waiting):
        top = [
            f"{waiting['cause_of_waiting'].iloc[place]} "
            f"({percent(case.waited_for(place, 'share').value, 0.1)})"
            for place in range(min(3, len(waiting)))
        ]
        said += f" With it people wait for: {listed(top)} of the hours waited."
    yield Paragraph(said)


def _less_and_more(case: PurchaseCase) -> Iterator[Block]:
    stages, best = case.sized.tables["stages"], case.sized.place
    if best:
        yield Heading("Why not less")
        yield _stages(case)
        before = best - 1
        yield Paragraph(
            f"One stage less ({_money(case, case.stage(before, 'cost'))}) met the target in "
            f"{_met(case, before)}: {stages['verdict'].iloc[before]}. Only a stage that is "
            "'confirmed' was shown to meet the target."
        )
    yield Heading("Why not more")
    if best + 1 < len(stages):
        more = (case.stage(best + 1, "cost").value or 0) - (case.stage(best, "cost").value or 0)
        late, later = case.stage(best, "late").value, case.stage(best + 1, "late").value
        yield Paragraph(
            f"The target is met without it. The next stage ({stages['bought'].iloc[best + 1]}, "
            f"{money(more)} {case.currency} more) would leave {number(later)} instead of "
            f"{number(late)} late entries {per_play(case.replay)}."
        )
    else:
        yield Paragraph("The target is met without more.")


def _stages(case: PurchaseCase) -> Table:
    stages, best = case.sized.tables["stages"], case.sized.place
    rows = []
    for place in thinned(range(len(stages)), best, _MOST_STAGES):
        stock = "-".join(str(stages[name].iloc[place]) for name in ("kits", "batteries", "bays"))
        rows.append(
            (
                f"{stock}{' *' if place == best else ''}",
                money(case.stage(place, "cost").value or 0.0),
                met_words(case, place),
                number(case.stage(place, "late").value),
                number(case.stage(place, "hours_waited").value),
                str(stages["verdict"].iloc[place]),
            )
        )
    columns = (
        Column("Kits-batteries-bays", align="left"),
        Column("Cost", case.currency),
        Column("Met the target"),
        Column(f"Late entries {per_play(case.replay)}"),
        Column("Hours waited", "h"),
        Column("Verdict (* requested)", align="left"),
    )
    return Table(columns, tuple(rows))


def _doing_nothing(case: PurchaseCase) -> Iterator[Block]:
    sized = case.sized
    if sized.in_hand == sized.proposed:
        return
    plays, per = plays_name(case.replay), per_play(case.replay)
    rows = []
    for measure, (words, is_share) in _MEASURES.items():
        if not any(case.nothing(measure, kind).value for kind in ("in_hand", "proposed")):
            continue
        label = words.format(surges=plays, per=per)
        rows.append((label, *_three(case, measure, is_share)))
    yield Heading("If nothing is done")
    heads = ("Stock in hand", "As requested", "Change", "95 % interval")
    yield Table((Column("", align="left"), *(Column(head) for head in heads)), tuple(rows))
    surges = count(case.nothing("late", "surges"))
    same = (
        "the same replications"
        if case.replay is not None
        else f"the same {surges} simulated surges"
    )
    yield Paragraph(
        f"Doing nothing costs no money now. Both columns are means over {same}, so the change is "
        "that of the stock alone; each interval holds by itself, and '-' means that too few "
        "surges differ to give one."
    )


def _three(case: PurchaseCase, measure: str, is_share: bool) -> tuple[str, ...]:
    now, then, change, low, high = (
        case.nothing(measure, name).value
        for name in ("in_hand", "proposed", "difference", "difference_low", "difference_high")
    )
    if is_share:
        points = "-" if change is None else f"{100 * change:+.1f} points"
        limits = NONE if low is None or high is None else f"{100 * low:+.1f} to {100 * high:+.1f}"
        return percent(now), percent(then), points, limits
    limits = NONE if low is None or high is None else f"{number(low)} to {number(high)}"
    return number(now), number(then), number(change), limits


def _used(case: PurchaseCase) -> Iterator[Block]:
    yield Heading(f"What is used {per_play(case.replay)}")
    rows = []
    for what, label in _USED.items():
        names = ("mean", "least", "most", "enough", "enough_low", "enough_high")
        mean, least, most, enough, low, high = (case.use(what, name).value for name in names)
        if not most:
            continue
        sure = NONE if low is None or high is None else f"{number(low)} to {number(high)}"
        spread = f"{number(least)} to {number(most)}"
        rows.append((label, number(mean), spread, number(enough), sure))
    share = share_text(case.target.share_of_surges)
    columns = (
        Column("With the stock requested", align="left"),
        Column("Mean"),
        Column("Least to most"),
        Column(f"Enough in {share}"),
        Column("95 % interval of it"),
    )
    yield Table(columns, tuple(rows))
    yield Paragraph(
        "What the model does not use up, or what the scenario leaves out, is not in the table. "
        "Hours are those within the horizon."
    )


def _how_sure(case: PurchaseCase) -> Iterator[Block]:
    sized, best = case.sized, case.sized.place
    yield Heading("Confidence")
    if case.replay is not None:
        yield Paragraph(replay_words(case.replay, len(case.same_surges)))
        return
    rows = []
    low = case.stage(best, "low")
    if sized.confidence is not None and low.value is not None:
        sure = share_text(sized.confidence)
        rows.append(
            (
                "shown",
                f"the true share of surges on target is at least {percent(low.value)}, with "
                f"{sure} confidence: {_met(case, best)} met it; these were not the surges that "
                "chose the stock",
            )
        )
    least = sized.least_cost.get("low")
    if isinstance(least, int | float) and least:
        strong = sized.least_cost.get("strength")
        rows.append(
            (
                "least cost",
                f"at least {money(float(least))} {case.currency} must be paid, if more stock never "
                f"makes a surge worse (that proof is {strong})",
            )
        )
    rows.append(
        (
            "not covered",
            "what the scenario leaves out, and inputs that are wrong; more surges do not help "
            "against either",
        )
    )
    yield Rows(tuple(rows))


def _warnings(case: PurchaseCase) -> Iterator[Block]:
    for note in case.notes[:_MOST_NOTES]:
        yield Remark("warning", note)
    if len(case.notes) > _MOST_NOTES:
        more = len(case.notes) - _MOST_NOTES
        yield Remark("note", f"{more} further warnings stand in the workbook.")


def _where_to_check(case: PurchaseCase) -> Iterator[Block]:
    yield Heading("Where to check")
    yield Rows(
        (
            ("numbers", "case.xlsx, sheet 'Where from': file, row and column of each number"),
            ("files", "sizing/ and tables/ beside this document; columns.txt says what they mean"),
            ("checklist", "case.xlsx, sheet 'Checklist': the reporting checklist STRESS-DES"),
            ("again", shlex.join(case.sized.command)),
            ("release", f"{case.sized.tool}; seed {case.sized.seed}"),
        )
    )


def _signatures() -> tuple[Block, ...]:
    heads = ("Requested by", "Name", "Signature", "Date")
    columns = tuple(Column(head, align="left") for head in heads)
    roles = ("Unit", "Respiratory protection program", "Finance")
    return Heading("Signatures"), Table(columns, tuple((role, "", "", "") for role in roles))
