"""Words of a sizing: money, cleaners on their shifts, and what stays bad with a stock."""

from __future__ import annotations

from typing import TYPE_CHECKING

from surge_sim.equipment.stock import PER_SURGE, added_words, per_surge, purchase
from surge_sim.report.phrases import per_play
from surge_sim.report.rounding import counted, number, percent
from surge_sim.units import HOUR_S, clock_text

if TYPE_CHECKING:
    from surge_sim.equipment.stock import Stock
    from surge_sim.sizing.result import SizeResult

#: shifts that are named one by one
_MOST_SHIFTS = 3


def money(amount: float) -> str:
    """Write an amount of money: thousands parted, cents only of small ones."""
    return f"{amount:,.0f}" if abs(amount) >= 1000 else f"{amount:,.2f}".rstrip("0").rstrip(".")


def bought_words(result: SizeResult, stock: Stock) -> str:
    """Say what a stock adds and what it costs: once, and apart from it in every surge.

    A cleaner here is one more on every shift. That is said, or two cleaners would be read as two
    people for one night.
    """
    owned, prices = result.owned, result.prices
    currency = prices.currency
    extra = stock.extra_cleaners - owned.extra_cleaners
    things = added_words(owned, stock, without=PER_SURGE)
    once = f"{things} for {money(purchase(owned, stock, prices))} {currency}"
    if not extra:
        return f"buy {once}"
    alone = things == "nothing"
    each = money(per_surge(owned, stock, prices)) + f" {currency}" * alone
    on_shifts = f"have {_cleaners(result, extra)} for {each} a surge"
    return on_shifts if alone else f"buy {once}, and {on_shifts}"


def _cleaners(result: SizeResult, extra: int) -> str:
    """Say how many more cleaners work on which shifts, and for how many hours in a surge."""
    shifts = [f"{clock_text(start)}-{clock_text(end)}" for start, end in result.shifts]
    hours = f"{extra * result.cleaner_hours:,.0f} hours"
    more = counted(extra, "more cleaner")
    if len(shifts) == 1:
        return f"{more} on the shift {shifts[0]} ({hours})"
    if len(shifts) > _MOST_SHIFTS:
        return f"{more} on each of {len(shifts)} shifts ({hours})"
    return f"{more} on each shift ({', '.join(shifts)}; {hours})"


def remaining_words(result: SizeResult, stock: Stock, brief: bool = False) -> str:
    """Say what stays bad with a stock that meets the target; nothing where nothing does.

    A target is a share of all entries: those that are late can be the same hours every night, or
    entries without any kit. In brief only what is more than a trifle: at least one entry without a
    kit in two surges, or an hour in which twice as many are late as the target allows.
    """
    left, said = result.remaining(stock), []
    got = _mean(left["unserved"])
    if left["unserved"] >= 0.5 or (left["unserved"] and not brief):
        gets = f"{got} {'entry' if got == '1' else 'entries'} {per_play(result.replay)} "
        gets += "gets no kit" if got == "1" else "get no kit"
        urgent = ""
        if left["urgent_unserved"]:
            got, every = _mean(left["urgent_unserved"]), left["urgent_entries"]
            share = percent(left["urgent_unserved"] / every, known_to=0.1)
            urgent = f", {got} of them urgent ({share} of urgent ones)"
            if brief:
                urgent = f", {got} of {_mean(every)} urgent ones"
        said.append(f"{gets}{urgent}")
    late = left["worst_hour_share_late"] or 0.0
    allowed = 1 - result.target.service_level
    if late > (2 * allowed if brief else allowed):
        hour = left["worst_hour"]
        which = f"{clock_text(HOUR_S * hour)}-{clock_text(HOUR_S * (hour + 1))}"
        share = percent(late, known_to=0.1)
        if brief:
            why = " (no cleaner: add a shift)" if hour in result.unwiped else ""
            said.append(f"{share} of those due {which} are late{why}")
        else:
            why = (
                "; nobody wipes kits then, and a sizing adds cleaners only to shifts that the "
                "file has: add one there and size again (`surge-sim compare --usual` tries it)"
                if hour in result.unwiped
                else ""
            )
            said.append(f"of all entries due {which} {share} are late{why}")
    return "; ".join(said)


def _mean(count: float) -> str:
    """Write a mean count: from ten on without decimals, as no planner needs them there."""
    return number(count) if count < 10 else f"{count:,.0f}"
