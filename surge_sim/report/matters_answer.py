"""The answer of a study of inputs: which one to measure first, and what that is worth."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.equipment.stock import added_words
from surge_sim.report.document import (
    Answer,
    Column,
    Document,
    Heading,
    Paragraph,
    Remark,
    Rows,
    Table,
    document,
)
from surge_sim.report.input_words import NOT_A_CHOICE, input_words, is_set, short_words
from surge_sim.report.matters_table import (
    ROWS,
    acts_together,
    effects_table,
    is_shown,
    part_words,
    values_words,
)
from surge_sim.report.phrases import counted_plays, in_time_words, plays_name, replay_words
from surge_sim.report.rounding import counted, listed, percent
from surge_sim.report.sizing_words import money
from surge_sim.units import share_text
from surge_sim.whatif.matters import differs

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.whatif.matters import Effect, Matters, PassingStock

#: names in a list
_NAMES = 6
#: with fewer inputs that have a range most of what is not known is taken for exact
_FEW = 3

NEED_NOT_ADD_UP = "Inputs act together, so neither of these columns need add up to 100."
TIMES_CAUTION = (
    "Low and high are what may be true of a number, not what to choose: contact and drying times "
    "are those of the manufacturer's instructions, and every check is done in full."
)


def matters_answer(result: Matters) -> Document:
    """Return the answer as blocks: sentences, a table, how to read it, what was assumed."""
    return document(
        Heading(result.scenario.settings.title or result.scenario.name, 1),
        Answer(answer_words(result)),
        *(Paragraph(text) for text in (_more_words(result),) if text),
        effects_table(result, shares=True),
        Paragraph(_how_to_read(result)),
        Heading("What the inputs were held at"),
        _values(result),
        Rows(tuple(_rows(result))),
        *(Remark("note", text) for text in hints(result)),
        *(Remark("warning", text) for text in result.notes),
        Remark("caution", TIMES_CAUTION),
        Remark("caution", CAUTION_IN_SHORT),
    )


def answer_words(result: Matters) -> str:
    """Say what to measure first and why, what knowing it is worth, and what hardly matters."""
    first = first_to_measure(result)
    plays = counted_plays(result.surges, result.replay)
    if first is None:
        return (
            f"None of the {len(result.inputs)} inputs with a range moves the answer enough for "
            f"{plays} to show it; more surges may."
            if len(result.inputs) > 1
            else f"{input_words(result.inputs[0])} does not move the answer enough for {plays} "
            "to show it."
        )
    said = [f"Measure the {input_words(first.input)} first. {_moves(result, first)}"]
    if is_shown(first.value):
        assert first.value is not None and first.value.estimate is not None
        said.append(
            "Knowing it exactly before buying is worth about "
            f"{_money(result, float(f'{first.value.estimate:.2g}'))}."
        )
    together = first.index.together.estimate or 0.0
    if acts_together(first.index) and together > (first.index.first.estimate or 0.0):
        said.append("How much it matters depends on other inputs and on random variation.")
    idle = [one for one in result.effects if not one.is_shown]
    if idle and result.replay is None and len(idle) < len(result.effects):
        names = [short_words(one.input) for one in idle]
        said.append(f"Undecided with {plays}: {shortened(names, 3)}.")
    return " ".join(said)


def _more_words(result: Matters) -> str:
    """Say of the first input what the screen has no room for: its worth, and its own share."""
    first, said = first_to_measure(result), []
    if first is None or result.replay is not None:
        return ""
    if first.value is not None and not is_shown(first.value) and result.price:
        said.append(
            "How much money knowing it before buying would save is not known from "
            f"{result.surges:,} surges."
        )
    if part_words(first.index.first) == "0":
        said.append(
            "By itself it makes up about 0 % because single surges differ mostly by random "
            "variation; the best purchase on average still depends on it."
        )
    return " ".join(said)


def first_to_measure(result: Matters) -> Effect | None:
    """Return the input that is worth most to know; else the one that moves the answer most."""
    worth = [one for one in result.effects if is_shown(one.value) and one.is_shown]
    if worth:
        return max(worth, key=lambda one: (one.value and one.value.estimate) or 0.0)
    if result.replay is not None:
        return result.effects[0]
    return next((one for one in result.effects if one.is_shown), None)


def _moves(result: Matters, one: Effect) -> str:
    """Say what would have to be added at the two values, or what the service level is there."""
    low, _, high = values_words(result, one.input)
    shown = result.replay is not None or differs(one.money)
    if shown and one.passing is not None and one.passing[0].place != one.passing[1].place:
        here, there = (passing_words(result, passing) for passing in one.passing)
        worth = [result.worth(passing.place) for passing in one.passing]
        low_sum, high_sum = (f" for {money(amount)}" if amount else "" for amount in worth)
        currency = f" {result.scenario.settings.prices.currency}" if low_sum else ""
        if high_sum and not low_sum:
            high_sum += f" {result.scenario.settings.prices.currency}"
        return (
            f"At its low value ({low}) {here}{low_sum}{currency} would have to be added to meet "
            f"the target, at its high value ({high}) {there}{high_sum}."
        )
    return (
        f"With the stock in hand {percent(one.service.base)} of entries "
        f"{in_time_words(result.scenario.settings.target)} at its low value ({low}), "
        f"{percent(one.service.value)} at its high value ({high})."
    )


def _stock(result: Matters, passing: PassingStock) -> Stock | None:
    assert result.ladder is not None
    stocks = result.ladder.stocks
    return stocks[passing.place] if passing.place < len(stocks) else None


def passing_words(result: Matters, passing: PassingStock) -> str:
    """Say a stock to add."""
    stock, owned = _stock(result, passing), result.design.base.in_hand
    if stock is None:
        assert result.ladder is not None
        return f"more than {added_words(owned, result.ladder.stocks[-1])}"
    return added_words(owned, stock)


def _money(result: Matters, amount: float) -> str:
    return f"{money(amount)} {result.scenario.settings.prices.currency}"


def _how_to_read(result: Matters) -> str:
    said = [
        "At the low and the high value of each input. In time: entries that "
        f"{in_time_words(result.scenario.settings.target)}, with the stock in hand."
    ]
    if result.ladder is not None:
        said.append(
            f"To add, worth knowing: {result.scenario.settings.prices.currency}; worth is what "
            "knowing the input exactly before buying saves, empty where that is not shown."
        )
    said.append(
        "Of the variation, by itself and with others: per cent of the variance of the share of "
        f"entries in time between {plays_name(result.replay)}. {NEED_NOT_ADD_UP}"
    )
    if result.replay is None:
        said.append(
            f"* shown by these {result.surges:,} surges; with others: shown to be more than "
            "by itself."
        )
    if any(is_set(one.input) for one in result.effects):
        said.append(f"{NOT_A_CHOICE.capitalize()}: set by instructions, or the time people need.")
    more = len(result.effects) - ROWS
    if more > 0:
        said.append(f"{counted(more, 'more input')}, of less effect: tables/inputs.csv.")
    return " ".join(said)


def _values(result: Matters) -> Table:
    columns = (Column("", align="left"), Column("Low"), Column("Likely"), Column("High"))
    rows = []
    for one in result.effects[:ROWS]:
        low, likely, high = values_words(result, one.input)
        named = f"{input_words(one.input)}: {one.input.name}"
        rows.append((named, low, likely or "-", high))
    return Table(columns, tuple(rows))


def _rows(result: Matters) -> Iterator[tuple[str, str]]:
    target = result.scenario.settings.target
    if result.passing is not None:
        yield (
            "Now",
            f"with all inputs drawn, {percent(result.service)} of entries in time with the stock "
            f"in hand; to add: {passing_words(result, result.passing)}",
        )
        yield (
            "To add",
            f"the first stock of one order of buying that meets the target in "
            f"{share_text(target.share_of_surges)} of these surges; an estimate, and another mix "
            "may be cheaper: surge-sim size tests the purchase itself",
        )
        yield "Worth knowing", _price_words(result)
    if result.spread is not None:
        share, put = result.spread
        yield "Spread", f"{share_text(share)} on {len(put)} numbers that the file marks as invented"
    for why, group in groupby(sorted(result.left, key=lambda one: one[1]), lambda one: one[1]):
        names = [name for name, _ in group]
        yield "Taken exact", f"{shortened(names)} ({why})"
    if result.mixed:
        yield (
            "Taken exact",
            f"sources that name invented numbers and others: {shortened(result.mixed)}; say which, "
            "for example `kit.don: invented` under `sources`",
        )
    yield "Confidence", _confidence(result)


def _price_words(result: Matters) -> str:
    if result.price is None:
        return "no stock on the way meets the target, so nothing can be said"
    if result.stated_price is None and not result.price:
        return "the stock in hand meets the target, so no purchase depends on an input"
    price = _money(result, float(f"{result.price:.3g}"))
    how = (
        "as stated"
        if result.stated_price is not None
        else "the least at which it pays to buy for the target; --missed-surge states another"
    )
    return (
        f"expected value of partial perfect information, a low estimate, at {price} for a surge "
        f"that misses the target: {how}"
    )


def _confidence(result: Matters) -> str:
    if result.replay is not None:
        return replay_words(result.replay, result.surges)
    error = share_text(round(1.0 - result.confidence, 9))
    return (
        f"the same {result.surges:,} simulated surges at all values. Of each column with stars, "
        f"all limits hold together: in at most {error} of such studies is any of them wrong. "
        "Random variation only, not ranges that are too narrow"
    )


def hints(result: Matters, most: int = ROWS) -> Iterator[str]:
    """Say what could be read wrongly in a table of so many inputs, and what would tell more."""
    yield from _of_health(result.effects[:most])
    if len(result.inputs) < _FEW:
        count = f"{len(result.inputs)} input{'s have' if len(result.inputs) > 1 else ' has'}"
        yield (
            f"Only {count} a range; all else is taken as exact. Write ranges for what you have "
            "not measured, or put one on every number marked invented: --spread 25%."
        )


def _of_health(effects: Sequence[Effect]) -> Iterator[str]:
    for one in effects:
        low, high = one.service.base or 0.0, one.service.value or 0.0
        if one.input.path[-1] == "state_of_health" and one.is_shown and low > high:
            yield (
                "A battery in a lower state of health holds less, so in the model it is full and "
                "back on the shelf sooner; here that outweighs its shorter run time. It is no "
                "reason to keep worn batteries."
            )


def shortened(names: Sequence[str], most: int = _NAMES) -> str:
    """Return names as a list, the rest as a number."""
    if len(names) <= most:
        return listed(list(names))
    return f"{', '.join(names[:most])} and {len(names) - most} more"
