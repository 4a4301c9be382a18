"""Parts of the document on a purchase: why not less, and why not more."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from surge_sim.equipment.stock import stock_words, within
from surge_sim.report.case_stages import count, limits_words, new_plays
from surge_sim.report.case_words import cost_head, hand_words, money_words, price_words
from surge_sim.report.document import Block, Column, Heading, Paragraph, Table
from surge_sim.report.phrases import counted_plays, per_play
from surge_sim.report.rounding import limit_number, number
from surge_sim.report.sizing_stages import NO_CANDIDATE
from surge_sim.report.sizing_words import money
from surge_sim.sizing.ledger import CONFIRMED, NOT_MET, UNDECIDED
from surge_sim.sizing.result import thinned
from surge_sim.units import share_text

if TYPE_CHECKING:
    from surge_sim.purchase.case import PurchaseCase

#: rows of the table of stages
_MOST_STAGES = 6
#: a least cost below this share of the request's price is not told
_SAYS_LITTLE = 0.5
#: what is about half of a price, and how near a lower limit is near
_HALF, _NEAR = (0.25, 0.75), 0.01


def less_and_more(case: PurchaseCase) -> Iterator[Block]:
    """Yield the stages of buying, and what speaks against less and against more."""
    stages, best = case.sized.tables["stages"], case.sized.place
    if best:
        yield Heading("Why not less")
        said = *_half(case), *_last_step(case), *_cheaper(case), *_most_saved(case)
        yield Paragraph(" ".join(said))
        yield _stages(case)
        yield Paragraph(" ".join(_how_to_read(case)))
    yield Heading("Why not more")
    patients = " for the patients that are expected" if not case.demand.empty else ""
    if best + 1 < len(stages):
        more = (case.stage(best + 1, "cost").value or 0) - (case.stage(best, "cost").value or 0)
        late, later = case.stage(best, "late").value, case.stage(best + 1, "late").value
        yield Paragraph(
            f"No more is needed to meet the target{patients}. The next stage "
            f"({stages['bought'].iloc[best + 1]}, {money_words(case, more)} more) would leave "
            f"{number(later)} instead of {number(late)} late entries {per_play(case.replay)}."
        )
    else:
        yield Paragraph(f"No more is needed to meet the target{patients}.")


def _half(case: PurchaseCase) -> Iterator[str]:
    """Say what a stage for about half of the price brings, and what it leaves."""
    best = case.sized.place
    costs = [case.stage(place, "cost").value or 0.0 for place in range(best + 1)]
    if best < 2 or not costs[best]:
        return
    place = min(range(1, best), key=lambda one: abs(costs[one] - costs[best] / 2))
    if not _HALF[0] <= costs[place] / costs[best] <= _HALF[1]:
        return
    late = [number(case.stage(one, "late").value) for one in (0, place, best)]
    met, played = (case.stage(place, one) for one in ("surges_on_target", "surges"))
    plays = counted_plays(round(played.value or 0), case.replay)
    yield (
        f"With {price_words(case, place)} (stage {place}) the target was met in {count(met)} of "
        f"{plays}; late entries {per_play(case.replay)} fall from {late[0]} with "
        f"{hand_words(case)} to {late[1]}, with the request to {late[2]}."
    )


def _cheaper(case: PurchaseCase) -> Iterator[str]:
    """Say that nothing cheaper was shown to do, and how near the next cheaper stock came."""
    sized, best, asked = case.sized, case.sized.place, case.target.share_of_surges
    tested, price = sized.tables["tested"], case.stage(best, "cost").value or 0.0
    cheaper = tested[tested["cost"] < price]
    if not (cheaper["verdict"] == CONFIRMED).any():
        yield "The request is the cheapest stock that was shown to meet the target."
    place = sized.next_cheaper
    if place is None:
        return
    met, played = (case.tested(place, one) for one in ("surges_on_target", "surges"))
    yield (
        f"The next cheaper one that was tested, {stock_words(sized.tested_stock(place))} for "
        f"{price_words(case, place, tested=True)}, met it in {count(met)} of "
        f"{new_plays(case, played.value)}{_became(case, place, asked)}."
    )


def _became(case: PurchaseCase, place: int, asked: float) -> str:
    """Say what the test of a cheaper stock showed, with the limit that decides."""
    verdict = case.sized.tables["tested"]["verdict"].iloc[place]
    low, high = (case.tested(place, one).value for one in ("low", "high"))
    if verdict == CONFIRMED:
        return " and was confirmed"
    if case.replay is not None or low is None or high is None:
        return " and was not shown to meet it"
    if verdict == UNDECIDED and low >= asked:
        return (
            f"; its lower limit, {limit_number(low, asked)} %, is high enough, but it is not "
            "confirmed: it was not a candidate, or was tested after one that was not confirmed"
        )
    if verdict == UNDECIDED:
        near = "narrowly missed the proof" if low >= asked - _NEAR else "was not shown to meet it"
        return (
            f" and {near}: the lower limit is {limit_number(low, asked)} %, {share_text(asked)} "
            "are asked for"
        )
    return (
        f" and was shown to miss it: the upper limit is {limit_number(high, asked)} %, "
        f"{share_text(asked)} are asked for"
    )


def _most_saved(case: PurchaseCase) -> Iterator[str]:
    """Say how much a cheaper stock could save at most, for what is not ruled out."""
    sized, price = case.sized, case.stage(case.sized.place, "cost").value or 0.0
    least = sized.least_cost.get("low")
    if not isinstance(least, int | float) or not least:
        yield "No lower price was ruled out, so what a cheaper stock could save is not known."
        return
    again = sized.tables["stages"]["paid_per_surge"].any()
    with_one = ", with what one surge costs" if again else ""
    if least >= price:
        yield f"Every lower price was ruled out{with_one}: see Confidence."
        return
    yield (
        f"A cheaper stock may do as well: only prices below {money_words(case, least)} were ruled "
        f"out, so {money_words(case, price - least)} is the most that could be saved{with_one}."
    )


def _last_step(case: PurchaseCase) -> Iterator[str]:
    """Say why a last step that hardly helps is requested all the same."""
    stages, best = case.sized.tables["stages"], case.sized.place
    before, late = (case.stage(place, "late").value or 0.0 for place in (best - 1, best))
    if before - late < 0.01 * before:
        yield (
            f"The last step ({stages['bought'].iloc[best]}) hardly changes late entries; it is "
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
    first = "the first" if case.stage(best, "surges").value != sized.same_surges else "the same"
    yield f"Late entries are means over {first} {new_plays(case, sized.same_surges)}."
    if case.replay is None:
        yield " ".join(_verdicts(case))


def _verdicts(case: PurchaseCase) -> Iterator[str]:
    """Say what the verdicts and the limits mean."""
    asked, shown = case.target.share_of_surges, _shown(case)
    said, stages = share_text(asked), case.sized.tables["stages"].iloc[list(_shown(case))]
    yield (
        f"Confirmed: the lower limit is {said} or more; not met: the upper limit is below {said}; "
        f"undecided: {said} lies between."
    )
    out = [by for place in shown if (by := _ruled_out_by(case, place)) is not None]
    if out:
        # stages grow: what rules the largest out rules the others out
        yield _ruled_out(case, out[-1])
    if ((stages["verdict"] == UNDECIDED) & (stages["low"] >= asked)).any():
        yield NO_CANDIDATE
    yield (
        f"Each limit holds by itself with {share_text(case.sized.confidence or 0)} confidence. The "
        f"test is made to decide about {said}: far from {said} its limits are wider than those "
        "that other tables give for as many surges."
    )


def _ruled_out(case: PurchaseCase, by: int) -> str:
    """Say which test rules stages out that are undecided by their own."""
    asked = case.target.share_of_surges
    stock, plenty, _ = stock_words(case.sized.tested_stock(by)).partition(", plenty of ")
    met, played = (count(case.tested(by, one)) for one in ("surges_on_target", "surges"))
    high = limit_number(case.tested(by, "high").value or 0.0, asked)
    return (
        "Ruled out: undecided by its own test, but a stock with as much or more of everything "
        f"({stock}{', plenty of spare parts' if plenty else ''}) was shown to miss the target "
        f"({met} of {played} surges, upper limit {high} %), and it is assumed that "
        "more stock never makes a surge worse."
    )


def verdict_words(case: PurchaseCase, place: int) -> str:
    """Return the verdict on a stage: that of its own test, or that another test rules it out."""
    if _ruled_out_by(case, place) is not None:
        return "ruled out"
    return str(case.sized.tables["stages"]["verdict"].iloc[place])


def _ruled_out_by(case: PurchaseCase, place: int) -> int | None:
    """Return the tested stock that rules an undecided stage out: more of everything, and not met.

    Its row in the table of tested stocks, the cheapest of them; None where there is none.
    """
    stages, tested = case.sized.tables["stages"], case.sized.tables["tested"]
    if case.replay is not None or stages["verdict"].iloc[place] != UNDECIDED:
        return None
    stock = case.sized.stages[place]
    for by in tested.index[tested["verdict"] == NOT_MET]:
        if within(stock, case.sized.tested_stock(int(by))):
            return int(by)
    return None


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
    columns = (
        Column("Stage", align="left"),
        Column("Kits, batteries, bays"),
        Column(cost_head(case), case.money_unit),
        Column("Met the target in"),
        *([] if case.replay is not None else [Column("Limits of that", "%")]),
        Column("Late entries"),
        Column("Verdict", align="left"),
    )
    shown = _shown(case)
    requested = tuple(at for at, place in enumerate(shown) if place == case.sized.place)
    return Table(columns, tuple(_row(case, place) for place in shown), strong=requested)


def _row(case: PurchaseCase, place: int) -> tuple[str, ...]:
    named = {0: "empty store" if case.sized.empty else "in hand", case.sized.place: "requested"}
    limits = () if case.replay is not None else (limits_words(case, place),)
    met, played = (count(case.stage(place, one)) for one in ("surges_on_target", "surges"))
    return (
        f"{place}: {named[place]}" if place in named else str(place),
        ", ".join(count(case.stage(place, item)) for item in ("kits", "batteries", "bays")),
        money(case.stage(place, "cost").value or 0.0),
        f"{met} of {played}",
        *limits,
        number(case.stage(place, "late").value),
        verdict_words(case, place),
    )
