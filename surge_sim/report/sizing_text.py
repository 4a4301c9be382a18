"""A sizing on one screen that a planner can read aloud."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from surge_sim.cautions import CAUTION_LINES
from surge_sim.report.cause_words import waiting_words
from surge_sim.report.lines import broken
from surge_sim.report.parts_words import parts_first, parts_row
from surge_sim.report.replay_words import NOT_COVERED, drawn_words, must_keep, plays_name
from surge_sim.report.target_words import target_words
from surge_sim.sizing.budget import budget_words
from surge_sim.sizing.items import ITEMS, VARIED, count_words, stock_cost, stock_words
from surge_sim.sizing.next_item import helping

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.result import SizeResult
    from surge_sim.sizing.watch import SoFar

_WIDTH, _LABEL = 80, 14
#: lines of the screen
LINES = 32
#: items that a stock counts only where they are extra, held fixed
_AS_THEY_ARE = {"crew": "the crew"}


def stopped_text(so_far: SoFar | None, currency: str) -> str:
    """Return what a search that was stopped from the keyboard had found."""
    if so_far is None:
        words = ["STOPPED before any answer was found."]
    else:
        stock = f"{stock_words(so_far.stock)}: {_money(so_far.cost)} {currency}"
        words = (
            [
                f"STOPPED. Confirmed so far, though a cheaper stock may do: {stock}.",
                f"It was {so_far.seen}.",
            ]
            if so_far.confirmed
            else [
                f"STOPPED, NOT CONFIRMED. Best so far: {stock}.",
                f"It is {so_far.seen}: do not plan on it.",
            ]
        )
    lines = [line for text in words for line in broken(text, _WIDTH)]
    return "\n".join([*lines, *CAUTION_LINES])


def size_text(result: SizeResult) -> str:
    """Return the answer: at most 32 lines of at most 80 columns; the caution stands whole."""
    for detail in (2, 1, 0):
        answer = _answer(result, detail)
        if len(answer) + len(CAUTION_LINES) <= LINES:
            break
    room = LINES - len(answer) - len(CAUTION_LINES)
    return "\n".join([*answer, *_notes(result.notes, room), *CAUTION_LINES])


def _answer(result: SizeResult, detail: int) -> list[str]:
    """Return the rows; where parts take much room, explanations are left out first."""
    money = result.prices.currency
    # a part that runs out comes first: no number of kits is its remedy
    lines = [line for text in parts_first(result) for line in broken(text, _WIDTH)]
    lines += broken(f"Target: {target_words(result.target, must_keep(result.replay))}.", _WIDTH)
    lines += _row(
        "Scenario",
        textwrap.shorten(result.title or result.name, _WIDTH - _LABEL, placeholder=" ..."),
    )
    replay = result.replay
    judged = (
        f"{result.choice.surges:,} chose, {result.chain.surges:,} fresh ones judge; "
        f"seed {result.seed}."
    )
    if replay is None:
        lines += _row("Surges", judged)
    else:
        counted = "" if replay.alike else f" Of these plays {judged}"
        lines += _row("Recorded", f"{NOT_COVERED} {drawn_words(replay)}{counted}")
    lines += _row(
        "Recommended", f"{stock_words(result.recommended)}: {_money(result.cost)} {money}"
    )
    if detail > 1 and result.recommended.batteries < result.recommended.kits:
        lines += _row(
            "",
            "(fewer batteries than kits: a kit takes one when it is put on, and needs none while "
            "it is wiped down, dries or is repaired)",
        )
    if parts := parts_row(result):
        lines += _row("Spare parts", parts)
    held = _held(result)
    if held:
        lines += _row("Held fixed", _held_words(result, held))
    lines += _row("In hand", _to_buy(result))
    if detail and result.waiting_in_hand is not None and not result.waiting_in_hand.empty:
        lines += _row("", f"people wait for: {waiting_words(result.waiting_in_hand)}")
    lines += _row(*_how_sure(result))
    lines += _row("Least cost", _least_cost_words(result))
    neighbours = [entry for entry in result.evidence[1:] if entry.role.endswith("less")]
    label = "One less"
    width = max([12, *(len(entry.role) - 5 for entry in neighbours)])
    for entry in neighbours:
        kept = f"{entry.passes} of {entry.surges} ({100 * entry.passes / entry.surges:.1f} %)"
        if replay is not None and replay.alike:
            kept = "on this period"
        lines += _row(label, f"{entry.role[:-5]:<{width}} {kept:<20} {entry.verdict}")
        label = ""
    # parts that come first are the next step; where the stock in hand is enough there is none
    buys = any(item.of(result.recommended) > item.of(result.in_hand) for item in ITEMS.values())
    step = result.next_in_hand if buys else None
    if step is not None and (detail or not any(result.recommended.extra_parts)):
        lines += _row("Next step", f"from the stock in hand, one thing at a time: {step.reading}.")
    if result.budget is not None:
        share = result.target.share_of_surges
        words = budget_words(result.budget, share, money, result.cost, plays_name(result.replay))
        lines += _row("Budget", words)
    if detail and result.arithmetic is not None:
        rates = result.arithmetic
        asked = _and(["kits", "batteries", "bays"], rates.stock)
        kept = f"kept the target in {rates.passes} of {rates.surges} {plays_name(replay)}"
        if replay is not None and replay.alike:
            kept = "keeps the target" if rates.passes else "misses the target"
        lines += _row(
            "Average rates", f"of the peak day, rounded up, ask for {asked}: that {kept}."
        )
    lines += _row("Not covered", _not_covered(result))
    return lines


def _notes(notes: tuple[str, ...], room: int) -> list[str]:
    """Lines of the notes, as many as there is room for; what is left out is counted."""
    lines: list[str] = []
    for place, note in enumerate(notes):
        left = len(notes) - place
        said = _row("Note", note)
        if lines and len(lines) + len(said) + (left > 1) > room:
            return [*lines, *_row("Note", f"{left} more: see summary.json, or --json.")]
        lines += said
    return lines


def _row(label: str, text: str) -> list[str]:
    wrapped = broken(text, _WIDTH - _LABEL)
    return [f"{label if not place else '':<{_LABEL}}{line}" for place, line in enumerate(wrapped)]


def _held(result: SizeResult) -> list[str]:
    """Items that the search could have changed and left as they are."""
    return [name for name in result.could_vary if name not in result.vary]


def _held_words(result: SizeResult, held: list[str]) -> str:
    """Say what was held fixed, whether more of it would help, and how to search it too."""
    said = [_AS_THEY_ARE.get(name) or _and([name], result.in_hand) for name in held]
    useful = [name for name in _helping(result) if name in held]
    # each item more takes several times as long: those that help, or one to begin with
    searched = useful or held[:1]
    named = [name for name in ITEMS if name in {*result.vary, *searched}]
    option = f"--vary {','.join(named)}"
    several = " and ".join("cleaners" if name == "crew" else name for name in searched)
    fixed = " and ".join([", ".join(said[:-1]), said[-1]] if len(said) > 1 else said)
    if useful:
        return (
            f"{fixed}, though more {several} would help: {option} searches {several} too and may "
            "find a cheaper stock."
        )
    return f"{fixed}; {option} searches {several} too."


def _helping(result: SizeResult) -> list[str]:
    """Items of which one more helps the stock in hand, beyond luck."""
    if result.next_in_hand is None:
        return []
    changes = helping(result.next_in_hand.table)["change"]
    one = {f"+{count_words(name, ITEMS[name].lot(result.prices))}": name for name in VARIED}
    return [one[change] for change in changes if change in one]


def _and(names: list[str], stock: Stock) -> str:
    return ", ".join(count_words(name, ITEMS[name].of(stock)) for name in names)


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
    least = result.least_cost
    percent = f"{100 * result.confidence:g} %"
    # of a recorded period there is no confidence about others, and none is claimed
    sure = f", with {percent} confidence," if result.replay is None else " on this period,"
    held = [name for name in _held(result) if name not in _AS_THEY_ARE]
    harm, plays = result.harm, plays_name(result.replay)
    # of a single play the table says it pair by pair
    if_so = "if more stock never hurts" + (
        f" (it hurt in {harm.hurt} of {harm.surges} {plays})" if harm.surges > 1 else ""
    )
    where = f"with {_and(held, result.in_hand)}, " if held else ""
    if least.low >= least.high - 1e-9:
        return f"{where}no cheaper stock is left that may keep the target{sure} {if_so}."
    first, open_one = "", least.cheapest_open
    if open_one is not None:
        parts = " (which are not priced)" if any(open_one.extra_parts) else ""
        first = f"the first stock not ruled out is {stock_words(open_one)}{parts}"
    span = f"{where}{_money(least.low)} to {_money(least.high)}"
    if open_one is not None and least.low >= stock_cost(open_one, result.prices) - 1e-9:
        return f"{span}: {first}. All cheaper ones fail{sure} {if_so}."
    first = f"{first}; all cheaper ones of them" if first else "all cheaper ones"
    return (
        f"{span}: of the stocks searched {first} fail{sure} {if_so}. Stocks with less or more of "
        f"an item than was searched are not all ruled out, hence {_money(least.low)}."
    )


def _how_sure(result: SizeResult) -> tuple[str, str]:
    """Return what was shown of the recommended stock, and its label."""
    best, replay = result.evidence[0], result.replay
    if replay is None:
        return (
            "How sure",
            f"it kept the target in {best.passes} of {best.surges} fresh surges; at least "
            f"{100 * result.target.share_of_surges:g} % of such surges keep it, with "
            f"{100 * result.confidence:g} % confidence.",
        )
    counted = "" if replay.alike else f" in {best.passes} of {best.surges} fresh plays of it"
    return "Shown", f"on this one period: it kept the target{counted}."


def _not_covered(result: SizeResult) -> str:
    if result.replay is not None:
        first = (
            " The log has recorded waits: before you use this answer, see whether `surge-sim run` "
            "reproduces them."
        )
        return (
            "any other period: a busier one, or the same number of entries at other times, may "
            "need more. Inputs that are wrong are not covered." + first * result.replay.waits
        )
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


def _money(amount: float) -> str:
    return f"{amount:,.0f}" if abs(amount) >= 1000 else f"{amount:,.2f}".rstrip("0").rstrip(".")
