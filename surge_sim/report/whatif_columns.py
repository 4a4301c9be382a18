"""What the columns of the tables of a comparison, and of a study of inputs, mean."""

from __future__ import annotations

from surge_sim.equipment.stock import ITEMS, PARTS

ALTERNATIVES = {
    "alternative": "name of the alternative; the first is the scenario as it is",
    "kind": "rule (an operating rule), purchase, or stress (what may happen); empty: not said",
    "service_level": "share of entries in time, of all entries of all surges [0..1]",
    "share_on_target": "share of surges that met every part of the target [0..1]",
    "hours_waited": "hours waited, all people together, mean over surges [h per surge]",
    "urgent_late": "urgent entries later than the target's wait for them, mean over surges [count "
    "per surge]",
    "worst_day_service_level": "share of entries in time on the day of a surge where it is "
    "smallest, mean over surges with entries [0..1]",
    "alarms_per_1000": "alarms per 1,000 entries, all surges together",
    "surges": "simulated surges, the same for all alternatives [count]",
    "surges_on_target": "of them, those that met every part of the target [count]",
    "purchase": "price of what the alternative has more of, paid once [the scenario's currency]",
    "paid_per_surge": "price of more cleaners, paid for each surge [the scenario's currency]",
    "without_a_price": "what costs something and has no price in the scenario",
    "relaxes": "what the manufacturer's instructions, the respiratory protection program and local "
    "codes would have to allow; empty: nothing is relaxed",
    "assumes": "what the alternative takes for granted",
    "changes": "what was changed in the scenario, by dotted name",
}

DIFFERENCES = {
    "alternative": "name of the alternative",
    "measure": "a column of alternatives.csv; its unit holds for the row",
    "base": "the measure for the scenario as it is",
    "value": "the measure for the alternative",
    "difference": "value less base, from the same surges",
    "low": "lower limit of the difference; all limits of the table hold together with 95 % "
    "confidence; empty: too few surges differ to tell",
    "high": "upper limit of the difference, see low",
    "surges_that_differ": "surges in which the two differ in this measure [count]",
    "finding": "better or worse: the limits leave no doubt; undecided: they hold 0, or there are "
    "none; none: no surge differs; empty: replications of a recorded period",
}

OUTCOMES = {
    "alternative": "name of the alternative",
    "urgent_late": "urgent entries later than the target's wait for them [count]",
    "unserved": "entries with a request that was never served [count]",
    "worst_entries": "entries of the day with the smallest service level [count]",
    "worst_in_time": "of them, those in time [count]",
}

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
            **{
                f"{ITEMS[name].field}_at_{end}": f"{ITEMS[name].several or name} of it beyond the "
                "scenario's shelf [count]"
                for name in PARTS
            },
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
