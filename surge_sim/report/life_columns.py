"""What the columns of the tables on the life of the equipment mean, with their units."""

from __future__ import annotations

_MONEY = "[the scenario's currency]"
_STOCKS = {"in_hand": "the stock in hand", "proposed": "the proposed stock"}


def _both(name: str, words: str) -> dict[str, str]:
    return {f"{name}_{stock}": f"{words}, with {said}" for stock, said in _STOCKS.items()}


LIFE = {
    "life": {
        "sum": "bought now; replaced; capital: both; running, and running_per_year: used up and "
        "paid each year; paid: capital and running; present_value: of what is paid, empty without "
        "interest; waiting_per_year: time of those who wait, valued and not in paid",
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
