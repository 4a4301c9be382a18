"""Theory that owes nothing to surge_sim: textbook formulas, written out again and checked.

Nothing in this folder imports surge_sim. Each function is first checked against values that
others have printed (``tests/validation/catalogue``) and only then used to judge the simulator.
"""
