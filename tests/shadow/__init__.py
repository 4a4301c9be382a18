"""Accounts kept a second time: each number that is shown, from raw rows, in plain pandas.

Written from what README, ``columns.txt`` and the logs of the engines say, not from the code of
`surge_sim.statistics` or `surge_sim.report`.
"""
