"""The answer of a study of inputs: which one to measure first, and what that is worth."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.equipment.stock import ITEMS, added_words, count_words
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
from surge_sim.report.input_words import NOT_A_CHOICE, input_words, is_set, table_words
from surge_sim.report.phrases import plays_name, replay_words
from surge_sim.report.rounding import (
    counted,
    listed,
    percent,
    percent_number,
    three_digits,
)
from surge_sim.scenario.yaml_text import value_at
from surge_sim.statistics.intervals import Interval
from surge_sim.units import duration_text, share_text
from surge_sim.whatif.matters import differs

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.scenario.ranges import Range
    from surge_sim.whatif.indices import Index
    from surge_sim.whatif.matters import Effect, Matters, PassingStock

#: inputs in the table of the screen; names in a list
_ROWS, _NAMES = 8, 6
#: with fewer inputs that have a range most of what is not known is taken for exact
_FEW = 3
#: where random variation may have made the difference, and where there is none
_OPEN, _SAME = "undecided", "no change"
#: an input is said to act with others when it does so for more than this share of the variance
_TOGETHER = 0.02

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
        effects_table(result),
        Paragraph(_how_to_read(result)),
        Heading("What the inputs were held at"),
        _values(result),
        Rows(tuple(_rows(result))),
        *(Remark("note", text) for text in hints(result)),
        *(Remark("warning", text) for text in result.notes),
        Remark("caution", TIMES_CAUTION),
        Remark("caution", CAUTION_IN_SHORT),
    )


def values_words(result: Matters, one: Range) -> tuple[str, str, str]:
    """Return the low, likely and high value of an input, as they are written."""
    ends = value_at(result.scenario.tree.root, one.path)
    return ends["low"], ends.get("likely", ""), ends["high"]


# --- sentences -------------------------------------------------------------------------------


def answer_words(result: Matters) -> str:
    """Say what to measure first and why, what knowing it is worth, and what hardly matters."""
    first = first_to_measure(result)
    plays = f"{result.surges:,} {plays_name(result.replay)}"
    if first is None:
        return (
            f"None of the {len(result.inputs)} inputs with a range moves the answer enough for "
            f"{plays} to show it; more surges may."
            if len(result.inputs) > 1
            else f"{input_words(result.inputs[0])} does not move the answer enough for {plays} "
            "to show it."
        )
    low, _, high = values_words(result, first.input)
    said = [
        f"Measure the {input_words(first.input)} first: between its low and high value ({low} to "
        f"{high}) {_moves(result, first)}."
    ]
    if is_shown(first.value):
        assert first.value is not None and first.value.estimate is not None
        said.append(
            "Knowing it exactly before buying is worth about "
            f"{_money(result, float(f'{first.value.estimate:.2g}'))}."
        )
    elif first.value is not None and result.replay is None and result.price:
        said.append(
            f"{plays[0].upper()}{plays[1:]} cannot show what knowing it before buying is worth."
        )
    if _part(first.index.first) == "0" and result.replay is None:
        said.append(
            "By itself it makes up about 0 % because single surges differ mostly by random "
            "variation; the best purchase on average still depends on it."
        )
    together = first.index.together.estimate or 0.0
    if acts_together(first.index) and together > (first.index.first.estimate or 0.0):
        said.append("How much it matters depends on other inputs and on random variation.")
    idle = [one for one in result.effects if not one.is_shown]
    if idle and result.replay is None and len(idle) < len(result.effects):
        names = [input_words(one.input) for one in idle]
        said.append(f"Undecided with {plays}: {shortened(names, 3)}.")
    return " ".join(said)


def first_to_measure(result: Matters) -> Effect | None:
    """Return the input that is worth most to know; else the one that moves the answer most."""
    worth = [one for one in result.effects if is_shown(one.value) and one.is_shown]
    if worth:
        return max(worth, key=lambda one: (one.value and one.value.estimate) or 0.0)
    if result.replay is not None:
        return result.effects[0]
    return next((one for one in result.effects if one.is_shown), None)


def is_shown(interval: Interval | None) -> bool:
    """Say whether limits leave no doubt that something is above 0."""
    return interval is not None and interval.low is not None and interval.low > 0.0


def _moves(result: Matters, one: Effect) -> str:
    """Say how the stock to add goes between the two values, or the service level."""
    if one.passing is not None and one.passing[0].place != one.passing[1].place:
        return f"the stock to add goes {_stocks_words(result, *one.passing)}"
    wait = duration_text(result.scenario.settings.target.wait)
    return (
        f"the share of entries that wait {wait} or less goes from {percent(one.service.base)} to "
        f"{percent(one.service.value)} with the stock in hand"
    )


def _stocks_words(result: Matters, low: PassingStock, high: PassingStock) -> str:
    """Say from what to what a stock to add goes: ``from 13 to 18 kits``."""
    before, after = (_stock(result, passing) for passing in (low, high))
    if before is None or after is None:
        here, there = (passing_words(result, passing) for passing in (low, high))
        return f"from {here} to {there}"
    owned, parts = result.design.base.in_hand, []
    for name, item in ITEMS.items():
        ends = [item.of(stock) - item.of(owned) for stock in (before, after)]
        if ends[0] != ends[1]:
            parts.append(f"{ends[0]:,} to {count_words(name, ends[1])}")
    worth = [result.worth(passing.place) for passing in (low, high)]
    money = f"{worth[0]:,.10g} to {_money(result, worth[1] or 0.0)}"
    return f"from {listed(parts)} ({money})"


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
    return f"{_amount(amount)} {result.scenario.settings.prices.currency}"


def _amount(amount: float) -> str:
    return f"{amount:,.10g}" if amount == round(amount) else three_digits(amount)


# --- tables ----------------------------------------------------------------------------------


def effects_table(result: Matters, most: int = _ROWS) -> Table:
    """Return what comes of the low and the high value of the inputs that move most."""
    shown, replayed = result.effects[:most], result.replay is not None
    worth = any(_worth(one.value, replayed) for one in shown)
    heads = [Column("", align="left"), Column("In time", "%")]
    if result.ladder is not None:
        heads += [Column("To add for the target")] + [Column("Worth knowing")] * worth
    heads += [Column("By itself", "%"), Column("With others too", "%")]
    rows = []
    for one in shown:
        cells = [table_words(one.input), _in_time(one, replayed)]
        if one.passing is not None:
            cells += [_to_add(result, one)] + [_worth(one.value, replayed)] * worth
        rows.append((*cells, *_shares(one.index)))
    empty = [""] * (len(heads) - 3)
    rows.append(("random variation", *empty, *_shares(result.indices[-1])))
    return Table(tuple(heads), tuple(rows))


def _star(interval: Interval | None) -> str:
    return "*" if differs(interval) else ""


def _in_time(one: Effect, replayed: bool) -> str:
    if not replayed and not differs(one.service.by):
        # numbers that random variation may have made would be read as what comes of it
        return _OPEN if one.service.surges else _SAME
    ends = (one.service.base, one.service.value)
    for known_to in (0.1, None):
        low, high = ("-" if end is None else percent_number(end, known_to) for end in ends)
        if low != high:
            break
    return f"{_star(one.service.by)}{low} to {high}"


def _to_add(result: Matters, one: Effect) -> str:
    assert one.passing is not None
    if result.replay is None and not differs(one.money):
        return _SAME if one.money == Interval(0.0, 0.0, 0.0) else _OPEN
    low, high = (_worth_of(result, passing) for passing in one.passing)
    return f"{_star(one.money)}{low} to {high}"


def _worth_of(result: Matters, passing: PassingStock) -> str:
    worth = result.worth(passing.place)
    if worth is None:
        assert result.ladder is not None
        return f"over {result.ladder.money[-1]:,.10g}"
    return f"{worth:,.10g}"


def _worth(value: Interval | None, replayed: bool) -> str:
    """Write what knowing an input is worth; empty where that is not shown."""
    if value is None or value.estimate is None or not (replayed or is_shown(value)):
        return ""
    return f"{_star(value)}{_amount(float(f'{max(value.estimate, 0.0):.2g}'))}"


def _shares(index: Index) -> tuple[str, str]:
    star = "*" if acts_together(index) else ""
    return _part(index.first), f"{star}{_part(index.total)}"


def acts_together(index: Index) -> bool:
    """Say whether an input does something together with others, for certain."""
    together = index.together
    return is_shown(together) and (together.estimate or 0.0) > _TOGETHER


def _part(share: Interval) -> str:
    if share.estimate is None:
        return "-"
    return f"{100 * min(max(share.estimate, 0.0), 1.0):.0f}"


def _how_to_read(result: Matters) -> str:
    wait = duration_text(result.scenario.settings.target.wait)
    said = [f"At the low and the high value of each input. In time: entries that wait {wait} or "
            "less with the stock in hand."]  # fmt: skip
    if result.ladder is not None:
        said.append(
            f"To add, worth knowing: {result.scenario.settings.prices.currency}; worth is what "
            "knowing the input exactly before buying saves, empty where that is not shown."
        )
    said.append(
        "By itself, with others too: part of what makes the share of entries in time differ "
        f"between {plays_name(result.replay)}. {NEED_NOT_ADD_UP}"
    )
    if result.replay is None:
        said.append(
            f"* shown by these {result.surges:,} surges; with others too: shown to be more than "
            "by itself."
        )
    if any(is_set(one.input) for one in result.effects):
        said.append(f"{NOT_A_CHOICE.capitalize()}: set by instructions, or the time people need.")
    more = len(result.effects) - _ROWS
    if more > 0:
        said.append(f"{counted(more, 'more input')}, of less effect: tables/inputs.csv.")
    return " ".join(said)


def _values(result: Matters) -> Table:
    columns = (Column("", align="left"), Column("Low"), Column("Likely"), Column("High"))
    rows = []
    for one in result.effects[:_ROWS]:
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


def hints(result: Matters, most: int = _ROWS) -> Iterator[str]:
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
