"""What the columns of a comparison's tables mean."""

from __future__ import annotations

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
