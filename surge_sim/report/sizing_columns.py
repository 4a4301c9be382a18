"""What the columns of a sizing's tables mean, with their units and the formula of the limits."""

from __future__ import annotations

#: so that somebody with a pocket calculator can check each limit
_BET = (
    "A test by betting. Blocks of new surges end at 500, 800, 2000 and then 2.5 times as far each "
    "time. In block k there are s surges on target and m others (on_target_by_block), N is its "
    "end, q is required_share, u = min(0.75, sqrt(2 ln(1/alpha) q / ((1-q) N))), v = min(0.75, "
    "sqrt(2 ln(1/alpha) (1-q) / (q N)))"
)

_STAGE_MONEY = {
    "cost": "price of what the stock has beyond the one in hand: purchase and paid_per_surge "
    "[the scenario's currency]",
    "purchase": "of that, paid once [the scenario's currency]",
    "paid_per_surge": "of that, paid for each surge: extra cleaners [the scenario's currency]",
}

_EVIDENCE = {
    "surges": "new surges on which the stock was tested: from 100 on it stops at the one that "
    "decides [count]",
    "surges_on_target": "of them, those that met the target [count]",
    "on_target_by_block": "the same for each block of the test: see low",
    "low": "lower limit of the true share of surges on target [0..1]. It holds however many surges "
    "were looked at, so low and high are wider apart than the interval of a run, and not "
    f"symmetrical. {_BET}. It is the largest p "
    "for which the sum over blocks of s ln(1 + u (1-p)/p) + m ln(1-u) is at least ln(1/alpha); 0 "
    "if there is none. In a recorded period with one replication: whether it met the target",
    "high": "upper limit of it [0..1]: the smallest p for which the sum over blocks of m ln(1 + v "
    "p/(1-p)) + s ln(1-v) is at least ln(1/alpha), for the rest see low; 1 if there is none",
    "verdict": "confirmed: a candidate whose low, like that of all candidates tested before it, is "
    "at least required_share; together these hold with the confidence of the sizing. not met: high "
    "is below required_share, each by itself. undecided: neither. In a recorded period with one "
    "replication: whether the target was met",
}

STAGES = {
    **_STAGE_MONEY,
    **_EVIDENCE,
    "stage": "number of the stage: 0 is the stock in hand, nothing is bought",
    "bought": "what this stage buys beyond the one before",
    "recommended": "whether it is the recommended stock [True, False]",
    "same_surges": "new surges on which all stages were simulated to the end: the columns that "
    "follow are about them [count]",
    "same_surges_on_target": "of them, those that met the target [count]",
    "entries": "entries, mean over these surges [count per surge]",
    "late": "entries later than the target's wait, mean over these surges [count per surge]",
    "share_late": "late entries of all entries of these surges [0..1]",
    "hours_waited": "hours waited, all people together, mean over these surges [h per surge]",
    "worst_day_share_late": "late entries on the day of a surge with the largest share of them, "
    "mean over these surges [0..1]",
    "unserved": "entries that got no kit within their maximum wait, or by the end of the run-out "
    "period, mean over these surges [count per surge]",
    "urgent_entries": "urgent entries, mean over these surges [count per surge]",
    "urgent_unserved": "of them, those that got no kit, likewise [count per surge]",
    "worst_hour": "hour of the clock, 0 to 23, in which the largest share of the entries due then "
    "was late, in all these surges; of hours with 20 entries and more; empty: there is none",
    "worst_hour_share_late": "that share [0..1]",
}

TESTED = {
    **_STAGE_MONEY,
    **_EVIDENCE,
    "test": "why it was simulated: candidate (tested in the order fixed beforehand), least cost, "
    "stage (of the order of buying), or for so much money",
    "order_of_test": "place among the candidates, 1 first; empty: no candidate",
    "share_on_target_choosing": "share of the choosing surges on target [0..1]; a surge that less "
    "stock met, or more stock missed, counts as that without being simulated; too high on "
    "average, as candidates were chosen on them; empty: no candidate",
    "required_share": "share of surges that must be on target [0..1]",
    "alpha": "chance of error, at most: of all confirmed stocks together, of each limit and each "
    "`not met` by itself [0..1]",
}

PARTS = {
    "part": "a spare part that can run out: the scenario's `supplies` name it",
    "on_shelf": "on the scenario's shelf when the surge begins; of hoods and tubes those beyond "
    "one per kit [count]",
    "to_buy": "recommended beyond that [count]",
    "on_shelf_recommended": "to be on the shelf when the surge begins [count]",
    "reorder_point": "reorder point that goes with it: the scenario's, and as much higher as there "
    "is more on the shelf; empty: never ordered again [count]",
    "order_quantity": "order quantity, as in the scenario [count]",
    "lead_time_days": "lead time [d]",
    "price_of_more": "price of to_buy [the scenario's currency]",
    "share_of_surges": "share of surges that the target asks for [0..1]",
    "used": "with the recommended stock, no more were used in that share of the surges: a quantile "
    "over surges, not a mean [count]",
    "used_low": "lower limit of used, with the confidence of the sizing: distribution-free; empty: "
    "so few surges give none [count]",
    "used_high": "upper limit of used, likewise [count]",
    "surges": "new surges that were counted [count]",
    "surges_short_in_hand": "of them, those in which the part ran out with the stock in hand "
    "[count]",
    "surges_short": "those in which the part ran out with the recommended stock [count]",
}

WAITING = {
    "reduced_by": "the item of which more would reduce this waiting; empty: no purchase would",
    "hours_per_surge": "hours waited with the stock in hand for this cause, mean over the new "
    "surges that all stages were simulated on [h per surge]",
    "in_surges": "of these surges, those in which somebody waited for it [count]",
}
