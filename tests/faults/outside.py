"""Faults of what a planner types and reads: options, units, words, rounding."""

from tests.faults.fault import Fault

RUN, SIZE = "tests/report/test_run_command.py", "tests/sizing/test_size_command.py"
RUN_JSON, TEXT = "tests/report/test_run_json.py", "tests/report/test_run_text.py"
ROUNDING, UNITS = "tests/report/test_rounding.py", "tests/test_units.py"
FIGURES = "tests/report/test_sizing_figures.py"

_PLACES = [
    ("hours are minutes", "units.py", '"hour", "hours"), HOUR_S', '"hour", "hours"), MINUTE_S',
     UNITS),
    ("shares are not divided by 100", "units.py",
     "return float(Decimal(found[1]) / 100)", "return float(Decimal(found[1]))", UNITS),
    ("the target's wait is in seconds", "report/run_json.py",
     '"wait_minutes": for_json(target.wait / 60, 4)', '"wait_minutes": for_json(target.wait, 4)',
     RUN_JSON),
    ("mean of shares for share of all", "report/run_json.py",
     '"share_in_time": interval_json(result.share_in_time, SHARE_DIGITS)',
     '"share_in_time": interval_json(result.share_in_time_by_surge, SHARE_DIGITS)', RUN_JSON),
    ("almost all is printed as all", "report/rounding.py",
     "if from_edge >= 0.01 or 0.0 < shown < 100.0:", "if from_edge >= 0.0:", ROUNDING),
    ("hours of waiting are printed as minutes", "report/rounding.py",
     "{value / 60:.1f} h", "{value:.1f} h", ROUNDING),
    ("the verdict is said the other way round", "report/run_text.py",
     '"keeps": "The target is kept"', '"keeps": "The target is NOT kept"', TEXT),
    ("the median is printed for the 95 % wait", "report/run_text.py",
     "95 % {wait['p95']}", "95 % {wait['p50']}", TEXT),
    ("--kits is ignored", "cli/common.py", '{"kits": kits, "batteries"', '{"batteries"', RUN),
    ("--bays is ignored", "cli/common.py", ', "bays": bays}', "}", RUN),
    ("--seed of a run is ignored", "cli/run.py",
     "                seed=seed,\n", "                seed=1,\n", RUN),
    ("--surges of a run is ignored", "cli/run.py",
     "                surges=surges,\n", "                surges=3,\n", RUN),
    ("--vary is ignored", "cli/size.py",
     "            vary=read_names(vary),\n", '            vary=("kits", "batteries"),\n', SIZE),
    ("a number that was not searched is drawn as serving all", "report/sizing_figures.py",
     "        known = served[min(max(bought - numbers[0], 0), len(served) - 1)]\n",
     "        known = 100 * float(np.mean(needed <= bought))\n", FIGURES),
    ("an item named twice in --vary goes unnoticed", "sizing/size.py",
     "    if twice:\n", "    if False:\n", SIZE),
    ("of a part of --target given twice the last counts", "cli/size_options.py",
     "        if key in pairs:\n", "        if False:\n", SIZE),
    ("--target is ignored", "cli/size.py",
     "            target=target,\n", "            target=None,\n", SIZE),
    ("--prices is ignored", "cli/size.py",
     "            prices=prices,\n", "            prices=None,\n", SIZE),
    ("--confidence is ignored", "cli/size.py",
     "            confidence=sure,\n", "            confidence=0.95,\n", SIZE),
    ("--budget is ignored", "cli/size.py",
     "            budget=budget,\n", "            budget=None,\n", SIZE),
    ("--anytime is ignored", "cli/size.py",
     "            anytime=anytime,\n", "            anytime=False,\n", SIZE),
    ("--seed of a sizing is ignored", "cli/size.py",
     "            seed=seed,\n        )", "            seed=1,\n        )", SIZE),
]  # fmt: skip

FAULTS = [Fault(name, "reports and options", *rest) for name, *rest in _PLACES]
