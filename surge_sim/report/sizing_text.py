"""A sizing on one screen that a planner can read aloud."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from surge_sim.cautions import CAUTION_LINES
from surge_sim.report.target_words import target_words
from surge_sim.sizing.items import ITEMS, count_words, stock_cost, stock_words

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.result import SizeResult

_WIDTH, _LABEL = 80, 14


def size_text(result: SizeResult) -> str:
    """Return the answer: at most 32 lines of at most 80 columns; the caution stands whole."""
    money = result.prices.currency
    best = result.evidence[0]
    percent = f"{100 * result.confidence:g} %"
    lines = [f"Target: {target_words(result.target)}."]
    lines += _row(
        "Scenario",
        f"{result.name}, seed {result.seed}; {result.choice.surges} surges chose, "
        f"{result.chain.surges} fresh ones judge.",
    )
    lines += _row(
        "Recommended", f"{stock_words(result.recommended)}: {_money(result.cost)} {money}"
    )
    if result.recommended.batteries < result.recommended.kits:
        lines += _row(
            "",
            f"(fewer batteries than kits: at most {result.recommended.batteries} kits are worn at "
            "once, while others are wiped down, dry or are repaired)",
        )
    held = _held(result)
    if held:
        lines += _row("Held fixed", f"{_and(held, result.in_hand)}; {_vary_words(result)}.")
    lines += _row("In hand", _to_buy(result))
    lines += _row(
        "How sure",
        f"it kept the target in {best.passes} of {best.surges} fresh surges; at least "
        f"{100 * result.target.share_of_surges:g} % of such surges keep it, with {percent} "
        "confidence.",
    )
    lines += _row("Least cost", _least_cost_words(result))
    neighbours = [entry for entry in result.evidence[1:] if entry.role.endswith("less")]
    label = "One less"
    for entry in neighbours:
        kept = f"{entry.passes} of {entry.surges} ({100 * entry.passes / entry.surges:.1f} %)"
        lines += _row(label, f"{entry.role[:-5]:<12} {kept:<20} {entry.verdict}")
        label = ""
    if result.next_in_hand is not None:
        lines += _row(
            "Next step",
            f"from the stock in hand, one thing at a time: {result.next_in_hand.reading}"
            + (" (of what is held fixed above, too)." if held else "."),
        )
    if result.budget is not None:
        lines += _row("Budget", _budget_words(result))
    if result.arithmetic is not None:
        rates = result.arithmetic
        lines += _row(
            "Average rates",
            f"would say {_and(['kits', 'batteries', 'bays'], rates.stock)}: kept the target in "
            f"{rates.passes} of {rates.surges} surges.",
        )
    lines += _row("Not covered", _not_covered(result))
    if result.notes:
        more = f" ({len(result.notes) - 1} more: see --json)" if len(result.notes) > 1 else ""
        lines += _row("Note", f"{result.notes[0]}{more}")
    return "\n".join([*lines, *CAUTION_LINES])


def _row(label: str, text: str) -> list[str]:
    wrapped = textwrap.wrap(text, _WIDTH - _LABEL, break_on_hyphens=False, replace_whitespace=False)
    return [f"{label if not place else '':<{_LABEL}}{line}" for place, line in enumerate(wrapped)]


def _held(result: SizeResult) -> list[str]:
    """Items of a whole kit's supply that the search left as they are in hand."""
    return [name for name in ("kits", "batteries", "bays") if name not in result.vary]


def _and(names: list[str], stock: Stock) -> str:
    return ", ".join(count_words(name, ITEMS[name].of(stock)) for name in names)


def _vary_words(result: SizeResult) -> str:
    rest = [name for name in result.vary if name not in ("kits", "batteries", "bays")]
    return f"--vary {','.join(['kits', 'batteries', 'bays', *rest])} searches all of them"


def _to_buy(result: SizeResult) -> str:
    more, fewer, both = [], [], result.in_hand
    for name, item in ITEMS.items():
        gap = item.of(result.recommended) - item.of(result.in_hand)
        if gap > 0:
            more.append(count_words(name, gap))
            both = item.put(both, item.of(result.recommended))
        elif gap < 0:
            fewer.append(count_words(name, -gap))
    words = stock_words(result.in_hand)
    if more:
        price = stock_cost(both, result.prices) - stock_cost(result.in_hand, result.prices)
        words += f"; buy {', '.join(more)} for {_money(price)}"
    if fewer:
        words += f"; {', '.join(fewer)} not needed for this target"
    return words if more or fewer else words + "; nothing to buy"


def _least_cost_words(result: SizeResult) -> str:
    low, high = result.least_cost.low, result.least_cost.high
    percent = f"{100 * result.confidence:g} %"
    held = _held(result)
    if low >= high - 1e-9:
        said = f"no cheaper stock is left that may keep the target, with {percent} confidence"
    else:
        said = f"lies between {_money(low)} and {_money(high)}, each with {percent} confidence"
    hurt = f" (it hurt in {result.harm.hurt} of {result.harm.surges} surges)"
    return (
        f"with {_and(held, result.in_hand)}, " if held else ""
    ) + f"{said}, if more stock never hurts{hurt if result.harm.surges else ''}."


def _budget_words(result: SizeResult) -> str:
    budget = result.budget
    assert budget is not None
    return (
        f"{_money(budget.budget)} buys best {stock_words(budget.stock)} "
        f"({_money(stock_cost(budget.stock, result.prices))}): {budget.passes} of "
        f"{budget.surges} surges on target, {_percent(budget.share_in_time)} of entries in time."
    )


def _not_covered(result: SizeResult) -> str:
    if result.central is not None:
        central = result.central
        return (
            "the claim averages over the ranges in the file; at central values it is kept in "
            f"{central.passes} of {central.surges} surges. Inputs that are wrong are not covered."
        )
    return (
        "confidence is about the luck of surges drawn from this file; inputs that are wrong "
        "or not known exactly are not covered (give ranges in the file)."
    )


def _percent(share: float) -> str:
    """Return a share with one decimal where it matters; never 100 % for less than all."""
    digits = 1 if 0.895 < share < 1 or 0 < share < 0.01 else 0
    text = f"{100 * share:.{digits}f}"
    if share < 1 and float(text) >= 100:
        text = "99.9"
    return f"{text.removesuffix('.0')} %"


def _money(amount: float) -> str:
    return f"{amount:,.0f}" if abs(amount) >= 1000 else f"{amount:,.2f}".rstrip("0").rstrip(".")
