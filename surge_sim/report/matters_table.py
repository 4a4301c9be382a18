"""The table of a study of inputs: what comes of the low and the high value of each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from surge_sim.report.document import Column, Table
from surge_sim.report.input_words import table_words
from surge_sim.report.rounding import percent_number
from surge_sim.report.sizing_words import money
from surge_sim.scenario.yaml_text import value_at
from surge_sim.statistics.intervals import Interval
from surge_sim.whatif.matters import differs

if TYPE_CHECKING:
    from surge_sim.scenario.ranges import Range
    from surge_sim.whatif.indices import Index
    from surge_sim.whatif.matters import Effect, Matters, PassingStock

#: inputs in the whole table
ROWS = 8
#: where random variation may have made the difference, and where there is none
_OPEN, _SAME = "undecided", "no change"
#: an input is said to act with others when it does so for more than this share of the variance
_TOGETHER = 0.02


def effects_table(result: Matters, most: int = ROWS, shares: bool = False) -> Table:
    """Return what comes of the low and the high value of the inputs that move most.

    Parameters
    ----------
    result : Matters
        What was found.
    most : int
        Only so many inputs.
    shares : bool
        Also show which part of the differences between surges each makes, in place of its values,
        for which there is another table.
    """
    shown, replayed = result.effects[:most], result.replay is not None
    worth = any(_worth(one.value, replayed) for one in shown)
    heads = [Column("", align="left")] + [Column("Low to high", align="left")] * (not shares)
    heads.append(Column("In time", "%"))
    if result.ladder is not None:
        heads += [Column("To add for the target")] + [Column("Worth knowing")] * worth
    empty = [""] * (len(heads) - 1)
    heads += [Column(f"Of the variation: {how}", "%")
              for how in ("by itself", "with others") if shares]  # fmt: skip
    rows: list[tuple[str, ...]] = []
    for one in shown:
        cells = [table_words(one.input)] + [_low_to_high(result, one.input)] * (not shares)
        cells.append(_in_time(one, replayed))
        if one.passing is not None:
            cells += [_to_add(result, one)] + [_worth(one.value, replayed)] * worth
        rows.append((*cells, *(_shares(one.index) if shares else ())))
    if shares:
        rows.append(("random variation", *empty, *_shares(result.indices[-1])))
    return Table(tuple(heads), tuple(rows))


def _low_to_high(result: Matters, one: Range) -> str:
    """Write both values of an input, a common unit once: ``1.05 to 1.75 per day``."""
    low, _, high = values_words(result, one)
    (first, _, unit), last = low.partition(" "), high.partition(" ")[2]
    return f"{first if unit == last else low} to {high}"


def values_words(result: Matters, one: Range) -> tuple[str, str, str]:
    """Return the low, likely and high value of an input, as they are written."""
    ends = value_at(result.scenario.tree.root, one.path)
    return ends["low"], ends.get("likely", ""), ends["high"]


def is_shown(interval: Interval | None) -> bool:
    """Say whether limits leave no doubt that something is above 0."""
    return interval is not None and interval.low is not None and interval.low > 0.0


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
    assert one.passing is not None and result.ladder is not None
    at_low, at_high = one.passing
    if result.replay is None and not differs(one.money):
        if one.money != Interval(0.0, 0.0, 0.0):
            return _OPEN
        most = len(result.ladder.stocks)
        if at_low.place == at_high.place:
            return _SAME if at_low.place < most else _OPEN
        # things without a price: another stock costs as much
        if max(at_low.place, at_high.place) < most:
            return "another stock"
    low, high = (_worth_of(result, passing) for passing in one.passing)
    return f"{_star(one.money)}{low} to {high}"


def _worth_of(result: Matters, passing: PassingStock) -> str:
    worth = result.worth(passing.place)
    if worth is None:
        assert result.ladder is not None
        most = result.ladder.money[-1]
        return f"over {money(most)}" if most else "more than tried"
    return money(worth)


def _worth(value: Interval | None, replayed: bool) -> str:
    """Write what knowing an input is worth; empty where that is not shown."""
    if value is None or value.estimate is None or not (replayed or is_shown(value)):
        return ""
    return f"{_star(value)}{money(float(f'{max(value.estimate, 0.0):.2g}'))}"


def _shares(index: Index) -> tuple[str, str]:
    star = "*" if acts_together(index) else ""
    return part_words(index.first), f"{star}{part_words(index.total)}"


def acts_together(index: Index) -> bool:
    """Say whether an input does something together with others, for certain."""
    together = index.together
    return is_shown(together) and (together.estimate or 0.0) > _TOGETHER


def part_words(share: Interval) -> str:
    """Write a part of the variance in per cent."""
    if share.estimate is None:
        return "-"
    return f"{100 * min(max(share.estimate, 0.0), 1.0):.0f}"
