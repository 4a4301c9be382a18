"""Names of former releases, keys and words, and what they are called now: one table for messages.

It is read when a name is not known in its place and its present name is (`faults.nearest`).
"""

FORMER_NAMES = {
    # keys
    "alarm_reserve": "low_battery_alarm",
    "blower_run_between_faults": "blower_run_between_failures",
    "check": "pre_use_check",
    "disruptions": "timeline",
    "dry": "drying_time",
    "early_take": "partial_charge_at_reissue",
    "fallback": "after_maximum_wait",
    "faults": "failures",
    "health": "state_of_health",
    "isolation": "length_of_isolation",
    "knee_charge": "constant_current_to",
    "knee_time": "constant_current_time",
    "least_run": "minimum_run_time",
    "main_filter": "he_filter",
    "main_filter_life": "he_filter_life",
    "main_filter_turnaround": "he_filter_turnaround",
    "main_filters": "he_filters",
    "order_size": "order_quantity",
    "patience": "maximum_wait",
    "present_at_start": "initial_census",
    "reorder_at": "reorder_point",
    "run_off": "run_out",
    "share_of_entries": "service_level",
    "short_wipe": "wipe_between_visits",
    "stay_at_start": "initial_stay",
    "urgent_patience": "urgent_maximum_wait",
    "wet": "contact_time",
    "wipe": "wipe_down",
    # columns of a log of entries
    "need": "requested",
    # what a key may hold
    "bad filters": "defective filter lot",
    "cleaners absent": "cleaning crew absent",
    "delivery missed": "late delivery",
    "kits borrowed": "kits on loan",
    "kits withdrawn": "kits recalled",
    "main filters": "HE filters",
    "other protection": "leaves the queue",
    "power cut": "power outage",
}
