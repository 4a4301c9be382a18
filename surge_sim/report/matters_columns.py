"""What the columns of the tables of a study of inputs mean."""

from __future__ import annotations

_ENDS = {"low": "with the input at its low value", "high": "with the input at its high value"}


def _of_ends() -> dict[str, str]:
    columns: dict[str, str] = {}
    for end, where in _ENDS.items():
        columns |= {
            f"service_level_at_{end}": f"share of entries in time with the stock in hand, {where} "
            "[0..1]",
            f"share_on_target_at_{end}": f"share of surges on target with the stock in hand, "
            f"{where} [0..1]",
            f"kits_at_{end}": f"kits of the first stock of the order of buying that meets the "
            f"target in its share of surges, {where}; empty: none does [count]",
            f"batteries_at_{end}": "batteries of it [count]",
            f"bays_at_{end}": "charger bays of it [count]",
            f"extra_cleaners_at_{end}": "more cleaners on every shift [count]",
            f"cost_at_{end}": "price of what it has beyond the stock in hand [the scenario's "
            "currency]",
            f"cost_low_at_{end}": "lower 95 % limit of that price, over surges",
            f"cost_high_at_{end}": "upper 95 % limit of that price; empty: beyond the order of "
            "buying",
        }
    return columns


INPUTS = {
    "input": "name of the input in the scenario file; the last row is random variation: all that "
    "is drawn for a surge besides uncertain inputs",
    "low": "low value, as it is written",
    "likely": "most likely value; empty: all values between low and high alike",
    "high": "high value",
    **_of_ends(),
    "service_level_difference": "share of entries in time at high less at low, same surges",
    "service_level_difference_low": "its lower limit; the limits of all inputs hold together with "
    "95 % confidence",
    "service_level_difference_high": "its upper limit",
    "cost_difference": "price of the stock to add at high less at low, same surges [the "
    "scenario's currency]; beyond the order of buying the price of its end",
    "cost_difference_low": "its lower limit; the limits of all inputs hold together",
    "cost_difference_high": "its upper limit",
    "value_of_information": "expected value of knowing the input exactly before buying (partial "
    "perfect information), a low estimate, which noise may bring below 0 [the scenario's currency]",
    "value_of_information_low": "its lower limit; the limits of all inputs hold together",
    "value_of_information_high": "its upper limit",
    "first_order": "first-order index: share of the variance of a surge's share of entries in time "
    "that the input makes alone; noise may bring it below 0",
    "first_order_low": "its lower limit; those of all inputs hold together",
    "first_order_high": "its upper limit",
    "total_order": "total index: the same with all that the input does together with others",
    "total_order_low": "its lower limit; those of all inputs hold together",
    "total_order_high": "its upper limit",
    "interaction": "total less first-order index: what the input does together with others",
    "interaction_low": "its lower limit; those of all inputs hold together",
    "interaction_high": "its upper limit",
}

PLAYS = {
    "variant": "as it is; with an input at its low or high value; with an input, or random "
    "variation, as in a second surge; second surge: all of it so",
    "stage": "first stock of the order of buying (order_of_buying.csv) that meets the target in "
    "the surge; as many as there are: none; -1: not looked for",
}

LADDER = {
    "stage": "number of the stock in the order of buying; 0 is the stock in hand",
    "cost": "price of what it has beyond the stock in hand [the scenario's currency]",
    "share_missed": "share of surges that miss the target with it, inputs drawn [0..1]",
}
