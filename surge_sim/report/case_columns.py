"""What the columns of the tables of a case for a purchase mean, with their units."""

from __future__ import annotations

from surge_sim.report.sizing_columns import STAGES

_MEASURES = {
    "missed_target": "1 where the surge missed the target, else 0",
    "late": "late entries [count]",
    "urgent_late": "urgent entries later than the target's wait for them [count]",
    "unserved": "entries with a request that got no kit: its maximum wait ran out, or the "
    "simulation ended [count]",
    "hours_waited": "hours waited, all people together [h]",
    "longest_wait": "longest wait [min]",
    "worst_day_late": "share of late entries on the day with the smallest service level [0..1]",
}
_USED = {
    "entries": "entries [count]",
    "battery_hours": "time that batteries are in use, all together, within the horizon [h]",
    "charges": "charges begun [count]",
    "full_charges": "battery_hours over the shortest run time of a new battery: equivalent full "
    "charges, at most [count]",
    "wipe_downs": "wipe-downs, those between visits included [count]",
    "wiping_hours": "kits in wipe-down, all together, within the horizon [h]",
    "wipes": "wipes, as many for a wipe-down between visits as for a full one [count]",
    "hoods": "hoods used up, large ones left out [count]",
    "large_hoods": "large hoods used up [count]",
    "tubes": "tubes used up [count]",
    "prefilters": "prefilters used up [count]",
    "he_filters": "HE filters used up [count]",
    "repairs": "repairs of blowers [count]",
    "battery_replacements": "batteries that failed in use and were replaced [count]",
    "parts_price": "hoods of both sizes, tubes, prefilters and HE filters used up, at the "
    "scenario's prices; a part without a price counts nothing [the scenario's currency]",
}
_SURGE = "number of the new surge that tested the stocks, from 0"

_MONEY = "[the scenario's currency]"
_STOCKS = {"in_hand": "the stock in hand", "proposed": "the proposed stock"}


def _both(name: str, words: str) -> dict[str, str]:
    return {f"{name}_{stock}": f"{words}, with {said}" for stock, said in _STOCKS.items()}


_LIFE = {
    "life": {
        "sum": "bought now; replaced; capital: both; running, and running_per_year: used up and "
        "paid each year; paid: capital and running; present_value: of what is paid, empty without "
        "interest; waiting_per_year: time of those who wait, valued and not in paid; "
        "in_surges_per_year, in_ordinary_use_per_year, agreed_per_year: the parts of "
        "running_per_year",
        "in_hand": f"with the stock in hand {_MONEY}",
        "proposed": f"with the proposed stock {_MONEY}",
        "difference": f"proposed less in_hand {_MONEY}",
    },
    "life_lines": {
        "line": "what is paid for",
        "kind": "bought (at the start), replaced (when its life is over), used up, yearly (in any "
        "case), waiting (valued, not paid)",
        "unit": "unit of the numbers",
        "price": f"of one {_MONEY}; empty: none is known, and the line is not counted",
        "source": "where the price or the life comes from",
        **_both("number", "how many: in all where bought or replaced, else in a year"),
        **_both("cost", f"what it comes to over all years {_MONEY}"),
        "difference": f"cost_proposed less cost_in_hand {_MONEY}",
        **_both("one_surge", f"used up of it in one surge, mean over surges {_MONEY}"),
    },
    "life_replaced": {
        "replaced": "thing and year",
        "thing": "kits, batteries or chargers",
        "year": "year in which its life is over; 0 is the start; the year after the last one also "
        "holds what falls due at the very end",
        "counted": "whether it is in the sums: not in the year after the last one",
        "price": f"of one {_MONEY}",
        **_both("number", "how many are replaced"),
        **_both("cost", f"what that costs {_MONEY}"),
        "difference": f"cost_proposed less cost_in_hand {_MONEY}",
    },
    "life_years": {
        "year": "year; 0 is the start, all else is paid at the end of its year",
        "discount_factor": "what a sum of 1 in that year is worth at the start; empty without "
        "interest",
        **_both("bought", f"paid for what is bought {_MONEY}"),
        **_both("replaced", f"paid for what is replaced {_MONEY}"),
        **_both("running", f"paid for what is used up, and in any case {_MONEY}"),
        **_both("waiting", f"time of those who wait, valued and not paid {_MONEY}"),
        **_both("paid", f"bought, replaced and running {_MONEY}"),
        **_both("present_value", f"paid times discount_factor {_MONEY}"),
    },
    "life_things": {
        "thing": "kits, batteries or chargers",
        "price": f"of one {_MONEY}",
        **_both("count", "how many there are"),
        "years": "life by age [years]",
        "full_charges": "life of a battery by use, in equivalent full charges; empty: none is said",
        "age_in_hand": "age of those in hand [years]",
        **_both("charges_per_year", "equivalent full charges of all together in a year, at most"),
        **_both("lasts", "life by age or by use, whichever is shorter [years]"),
        "source": "where the lives come from",
    },
    "life_one_surge": {
        "stock": "in_hand or proposed",
        "surges": "surges that were simulated [count]",
        "mean": f"what is used up in one surge, mean over surges {_MONEY}",
        "least": "least of all surges",
        "median": "median over surges",
        "most": "most of all surges",
        "share_of_surges": "share of surges that the target asks for [0..1]",
        "enough": "in that share of surges no more is used up: a quantile over surges",
    },
    "life_by_surge": {
        "surge": "number of the new surge that tested the stocks, from 0",
        **{stock: f"what is used up in it, with {said} {_MONEY}"
           for stock, said in _STOCKS.items()},
    },
}  # fmt: skip

TABLES: dict[str, dict[str, str]] = {
    "same_surges": {
        "surge": _SURGE,
        "entries": _USED["entries"],
        **{f"in_hand_{name}": f"stock in hand: {words}" for name, words in _MEASURES.items()},
        **{f"proposed_{name}": f"proposed stock: {words}" for name, words in _MEASURES.items()},
    },
    "doing_nothing": {
        "measure": "what was measured in each surge; same_surges.csv says what it is",
        "unit": "unit of the numbers beside it",
        "surges": "surges that both stocks were simulated on [count]",
        "in_hand": "stock in hand, mean over surges",
        "proposed": "proposed stock, mean over the same surges",
        "difference": "proposed less in_hand, mean over surges",
        "in_hand_median": "stock in hand, median over surges",
        "in_hand_worst": "stock in hand, largest of all surges",
        "proposed_median": "proposed stock, median over surges",
        "proposed_worst": "proposed stock, largest of all surges",
    },
    "used_by_surge": {"surge": _SURGE, **_USED},
    "used": {
        "what": "what is used with the proposed stock; used_by_surge.csv says what it is",
        "unit": "unit of the numbers beside it",
        "surges": "surges that were simulated [count]",
        "in_hand_mean": "the same with the stock in hand, mean over surges",
        "mean": "mean over surges",
        "least": "least of all surges",
        "median": "median over surges",
        "most": "most of all surges",
        "share_of_surges": "share of surges that the target asks for [0..1]",
        "enough": "in that share of surges no more is used: a quantile over surges",
        "enough_low": "lower limit of that quantile, 95 %, distribution-free; empty: so few surges "
        "give none",
        "enough_high": "upper limit of it, likewise",
    },
    "by_wait": {
        "stage": "number of the stage: see sizing/tables/stages.csv",
        "surge": _SURGE,
        "wait_min": "target wait that lateness is counted at [min]",
        "entries": _USED["entries"],
        "late": "entries later than that wait [count]",
        "urgent_late": "urgent ones among them [count]",
        "worst_day_late": "share of late entries on the day with the largest one [0..1]",
    },
    "course": {
        "stock": "in_hand, proposed, or both: what does not depend on the stock",
        "thing": "people at the door, kits, batteries, rooms",
        "hour": "beginning of the stretch of time, from the start of the surge; of surges of more "
        "than ten days, each day's stretch with most people at the door, least kits ready, least "
        "batteries on the shelf, most patients in rooms [h]",
        "hours": "its length; rooms are counted at the middle of it [h]",
        "state": "where they are",
        "mean": "mean number in the stretch, over surges [count]",
        "p10": "in 1 surge of 10 the number is lower [count]",
        "p90": "in 1 surge of 10 the number is higher [count]",
    },
    "waiting": {
        "missing": "what was missing",
        "cause_of_waiting": "cause: what was missing, and where it was",
        "hours_per_surge_in_hand": "hours waited for it with the stock in hand, mean over surges "
        "[h per surge]",
        "share_in_hand": "that over all hours waited with the stock in hand [0..1]",
        "hours_per_surge_proposed": "the same with the proposed stock [h per surge]",
        "share_proposed": "that over all hours waited with the proposed stock [0..1]",
        "reduced_by": "the item of which more would reduce this waiting; empty: no purchase would",
    },
    "waiting_by_item": {
        "reduced_by": "the item of which more would reduce waiting; none: no purchase would",
        "share_in_hand": "hours waited that it would reduce over all hours waited, stock in hand "
        "[0..1]",
        "share_proposed": "the same with the proposed stock [0..1]",
        "causes": "causes of waiting in waiting.csv that are added up [count]",
    },
    "request": {
        "item": "what may be bought",
        "in_hand": "in hand; of spare parts, those in the scenario's `supplies` [count]",
        "to_buy": "requested beyond that [count]",
        "in_all": "in hand and requested together [count]",
        "lot": "smallest number that is sold at once [count]",
        "price_of_lot": "price of so many [the scenario's currency]",
        "price": "price of to_buy, in whole lots [the scenario's currency]",
        "paid": "once, or each surge: extra cleaners",
    },
    "used_in_hand": {"surge": _SURGE, **_USED},
    "higher_demand": {
        "more_patients": "so many more patients arrive than the scenario says [0..1]",
        "stock": "in_hand or proposed",
        "surges": "surges simulated, the same in each row [count]",
        "surges_on_target": "of them, those that met the target [count]",
        "share_on_target": "their share [0..1]",
        "low": "lower 95 % limit of that share, exact (Clopper-Pearson)",
        "high": "upper 95 % limit of it",
        "entries": "entries, mean over surges",
        "late": "late entries, mean over surges",
        "share_late": "late entries of all entries of all surges [0..1]",
        "hours_waited": "hours waited, all people together, mean over surges [h]",
    },
    "ready_for_more": {
        "more_patients": "so many more patients arrive than the scenario says [0..1]",
        "bought": "what to buy to be ready for them, in words",
        "cost_requested": "cost of the request, for the patients that are expected [the scenario's "
        "currency]",
        "more_than_requested": "cost less cost_requested [the scenario's currency]",
        **{
            name: STAGES[name]
            for name in (
                "cost",
                "purchase",
                "paid_per_surge",
                "surges",
                "surges_on_target",
                "low",
                "high",
                "verdict",
            )
        },
    },
    **_LIFE,
}
