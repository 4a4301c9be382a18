"""The numbers of a sizing's screen, held against the second accounts of the plays."""

from __future__ import annotations

import re
from typing import Any

from tests.shadow.run_screen import N, Screen, time_words

NAMES = {"kits": "kit", "batteries": "battery", "bays": "bay"}


def stock_words(counts: dict[str, Any]) -> str:
    """Write a stock as people say it."""
    return ", ".join(number_of(name, counts[name]) for name in NAMES)


def number_of(name: str, count: int) -> str:
    """`1 kit`, `2 kits`."""
    return f"{count:,} {NAMES[name] if count == 1 else name}"


def money(amount: float) -> str:
    """Write an amount with its thousands parted."""
    return f"{amount:,.0f}" if amount >= 1_000 else f"{amount:g}"


def reached(answer: dict[str, Any]) -> str:
    """Say whether a budget reaches the target, and what does if it is not shown to."""
    said = {"shown": "reaches", "no": "does NOT reach", "not shown": "is not shown to reach"}
    verdict = answer["budget"]["reaches_target"]
    costs = f" (the recommended stock costs {money(answer['recommended']['cost'])})"
    return f"{said[verdict]} the target{'' if verdict == 'shown' else costs}"


def screen_differences(text: str, answer: dict[str, Any], target: Any, cost: Any) -> list[str]:
    """Return what is not said on a screen as the second summary has it."""
    screen = Screen(text)
    best, hand = answer["evidence"][0], answer["in_hand"]
    rest, certain = answer["recommended"], f"{100 * answer['confidence']:g} %"
    promised = (
        f"Target: in {100 * target.share_of_surges:g} % of surges, "
        f"{100 * target.share_of_entries:g} % of entries wait {time_words(target.wait)} or less; "
        f"{100 * target.urgent.share_of_entries:g} % of urgent ones "
        f"{time_words(target.urgent.wait)} or less."
    )
    wanted = [
        promised,
        f"{answer['surges_choosing']} chose, {answer['surges_certifying']} fresh ones judge; "
        f"seed {answer['seed']}.",
        f"Recommended {stock_words(rest['stock'])}: {money(rest['cost'])} {answer['currency']}",
        f"In hand {stock_words(hand)}",
        f"it kept the target in {best['surges_on_target']} of {best['surges']} fresh surges; at "
        f"least {100 * target.share_of_surges:g} % of such surges keep it, with {certain} "
        "confidence.",
        f"{money(answer['budget']['budget'])} {answer['currency']} {reached(answer)}: the best "
        "whole stock for it, what is in hand not "
        f"counted, is {stock_words(answer['budget'])} ({money(answer['budget']['cost'])}): "
        f"{answer['budget']['surges_on_target']} of {answer['budget']['surges']} surges on target",
    ]
    rates = answer["average_rates"]
    if "Average rates" in screen.flat:
        wanted.append(
            f"ask for {stock_words(rates['stock'])}: that kept the target in "
            f"{rates['surges_on_target']} of {rates['surges']} surges."
        )
    more = {name: rest["stock"][name] - hand[name] for name in NAMES}
    bought = [number_of(name, gap) for name, gap in more.items() if gap > 0]
    if bought:
        price = cost({name: max(rest["stock"][name], hand[name]) for name in NAMES}) - hand["cost"]
        wanted.append(f"; buy {', '.join(bought)} for {money(price)}")
    spared = [number_of(name, -gap) for name, gap in more.items() if gap < 0]
    if spared:
        wanted.append(f"; {', '.join(spared)} not needed for this target")
    least = answer["least_cost"]
    open_one = least["cheapest_not_ruled_out"]
    if open_one is not None:
        first, all_of = (
            f"the first stock not ruled out is {stock_words(open_one)}",
            "All cheaper ones",
        )
        between = ". "
        if least["low"] < cost(open_one) - 1e-9:
            # less or more of an item than was searched may cost less
            first, all_of, between = (
                f"of the stocks searched {first}",
                "all cheaper ones of them",
                "; ",
            )
        wanted.append(
            f"{money(least['low'])} to {money(least['high'])}: {first}{between}{all_of} fail, with "
            f"{certain} confidence"
        )
    for entry in answer["evidence"][1:]:
        if entry["role"].endswith("less"):
            share = f"{100 * entry['surges_on_target'] / entry['surges']:.1f} %"
            wanted.append(
                f"{entry['role'].removesuffix(' less')} {entry['surges_on_target']} of "
                f"{entry['surges']} ({share}) {entry['verdict']}"
            )
    screen.wrong += [f"not said: {words}" for words in wanted if words not in screen.flat]
    screen.look(rf"on target, {N} % of entries in time",
                (answer["budget"]["share_in_time"], "%"))  # fmt: skip
    if answer["budget"]["reaches_target"] == "no" and answer["budget"]["high"]:
        screen.look(rf"At most {N} % of surges are on target; {N} % are needed",
                    (answer["budget"]["high"], "%"), (target.share_of_surges, "%"))  # fmt: skip
    if not re.search(rf"{money(least['high'])}", screen.flat):
        screen.wrong.append("the highest least cost is not said")
    return screen.wrong
