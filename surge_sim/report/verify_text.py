"""The answer of a comparison of the engines on one screen."""

from __future__ import annotations

import textwrap

from surge_sim.cautions import CAUTION_IN_SHORT
from surge_sim.engine.compare import AFTER_ALL_S, Comparison, Difference
from surge_sim.engine.verify import Verdict
from surge_sim.units import DAY_S, clock_text


def verify_text(verdict: Verdict) -> str:
    """Return what was compared and what came of it, in at most 80 columns."""
    stock, last = verdict.stock, verdict.surges[-1]
    lines = [
        f"Stock       {_counted(stock.kits, 'kit')}, "
        f"{_counted(stock.batteries, 'battery', 'batteries')}, "
        f"{_counted(stock.bays, 'charger bay')}",
        f"Compared    {_counted(len(verdict.surges), 'surge')} of seed {verdict.seed}, "
        f"{_counted(int(verdict.total('entries')), 'entry', 'entries')}",
        f"            {_counted(int(verdict.total('rows')), 'row')} (one for each need), "
        f"{_counted(int(verdict.total('values')), 'value')}",
        _times(verdict),
    ]
    if last.first is None:
        lines += [
            "Result      no difference: every value is the same in both engines",
            "            (two programs of one model; it does not test the scenario)",
        ]
    else:
        lines += _parted(verdict, last, last.first)
    return "\n".join([*lines, *textwrap.wrap(CAUTION_IN_SHORT, 80)])


def _counted(number: int, one: str, many: str = "") -> str:
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def _times(verdict: Verdict) -> str:
    slow, fast = verdict.total("reference_s"), verdict.total("compiled_s")
    text = f"Playing     reference engine {slow:.2f} s, compiled engine {fast:.3f} s"
    return text + (f" ({slow / fast:.0f} times as fast)" if fast > 0 else "")


def _parted(verdict: Verdict, comparison: Comparison, first: Difference) -> list[str]:
    names = ", ".join(comparison.differing[:5])
    more = len(comparison.differing) - 5
    lines = [
        f"Result      the engines differ in surge {len(verdict.surges) - 1}; that is an error of "
        "this program",
        "",
        f"First part  {_moment(first.at_s)}: {first.where}, {first.what}",
        f"  reference engine   {first.reference}",
        f"  compiled engine    {first.compiled}",
        f"In all      {names}" + (f" and {more} more" if more > 0 else ""),
    ]
    if verdict.story:
        lines += ["", "What the reference engine told until then"]
        for one in verdict.story:
            said = f"  {_moment(one.at_s):<18}  {one.sort} {one.number} {one.said}"
            lines += textwrap.wrap(said, 80, subsequent_indent=" " * 22, break_on_hyphens=False)
    return lines


def _moment(at_s: int) -> str:
    """Say a moment as the day of the surge, from 1, and the time since its beginning."""
    if at_s >= AFTER_ALL_S:
        return "over the whole surge"
    day, second = divmod(at_s, DAY_S)
    return f"day {day + 1}, {_clock(second)}"


def _clock(second: int) -> str:
    return f"{clock_text(second // 60 * 60)}:{second % 60:02d}"
