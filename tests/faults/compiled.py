"""Faults of the compiled engine; each costs a compilation, so there are few."""

from tests.faults.fault import Fault

TIMELINES = (
    "tests/engine/test_timelines.py tests/engine/test_finer_points.py tests/engine/test_score.py"
    " tests/engine/test_kits_away.py"
    " -k compiled"
)

_LINE, _VISITS = "engine/compiled/line.py", "engine/compiled/visits.py"
_AFTER, _BAYS = "engine/compiled/turnaround.py", "engine/compiled/charging.py"

_PLACES = [
    ("compiled: last come, first served", _LINE,
     "before = s.ends[queue, 1]\n", "before = NONE\n"),
    ("compiled: urgent entries stand in the routine line", _LINE,
     "URGENT_LINE if nd.urgent else ROUTINE_LINE", "ROUTINE_LINE"),
    ("compiled: patience is ignored", _LINE,
     "if patience_s == NEVER_S:", "if patience_s <= NEVER_S:"),
    ("compiled: a late entry is counted once for each need", _LINE,
     " and not first.late:", ":"),
    ("compiled: a kit is used wet", _AFTER,
     "moment(s, DRY, kit, f.n[0].wet_dry_s)", "moment(s, DRY, kit, ZERO)"),
    ("compiled: a new main filter is as worn as the old one", _AFTER,
     "        k.main_run_s = 0\n", ""),
    ("compiled: the check is part of the wait", _VISITS,
     "nd.wait_s = now_s - nd.need_s - n.check_s", "nd.wait_s = now_s - nd.need_s"),
    ("compiled: an alarm keeps the wearer in", _VISITS,
     "nd.worn_s = alarm_s + doff_s", "nd.worn_s = planned_s + doff_s"),
    ("compiled: the rest of a visit is forgotten", _VISITS,
     "return new_need(s, need, nd.rest_s, s.ward[0].now_s)", "return -1"),
    ("compiled: a wearer makes two visits at once", _VISITS,
     "if wearer >= 0 and s.wearers[wearer].busy:",
     "if wearer >= 0 and s.wearers[wearer].busy > 1:"),
    ("compiled: a torn hood is used again", _VISITS,
     "if e.hood_torn[luck] and k.has_hood:", "if e.hood_torn[luck] and not k.has_hood:"),
    ("compiled: hoods leave before the kits in use that they belong to", _AFTER,
     "    kits = ward.kits_away\n", "    kits = target\n"),
    ("compiled: batteries follow only one of the kits that leave", _BAYS,
     "kits = s.ward[0], s.ward[0].kits_away\n", "kits = s.ward[0], min(s.ward[0].kits_away, 1)\n"),
    ("compiled: last battery in, first on charge", _BAYS,
     "battery = pop_first(s.batteries, s.ends, BAY_QUEUE)\n",
     "battery = s.ends[BAY_QUEUE, 1]\n        remove(s.batteries, s.ends, BAY_QUEUE, battery)\n"),
    ("compiled: any battery on the shelf goes before a fuller one in a bay", _BAYS,
     "if battery_rank(n.most_capacity, False) < best_rank:", "if best >= 0:"),
    ("compiled: batteries on the shelf are all taken to be full", _BAYS,
     "s.ward[0].partly_charged += 1", "s.ward[0].partly_charged += 0"),
    ("compiled: the cleaners of a shift come a second late", _AFTER,
     "f.wipers[ward.crew_step + 1].at_s <= ward.now_s",
     "f.wipers[ward.crew_step + 1].at_s < ward.now_s"),
    ("compiled: an hour in which nothing changes counts nothing", "engine/compiled/basics.py",
     "s.use[use].in_hour = s.use[use].there * (ward.hour_end_s - from_s)",
     "s.use[use].in_hour = 0"),
    ("compiled: a reserve counts batteries that hold too little", _BAYS,
     "if s.batteries[last].capacity >= least:", "if s.batteries[last].capacity >= 0:"),
    ("compiled: supplies begin as the play before left them", "engine/compiled/tables.py",
     "_records(start.supplies.copy(), SUPPLY)", "_records(start.supplies, SUPPLY)"),
]  # fmt: skip

FAULTS = [
    *(Fault(name, "compiled engine", *rest, TIMELINES) for name, *rest in _PLACES),
    Fault(
        "a stop from the keyboard that compiling swallows is lost", "compiled engine",
        "engine/keyboard.py", "        if again:\n", "        if not again:\n",
        "tests/engine/test_keyboard.py",
    ),
    Fault(
        "a stop that compiling swallows is heard at its end only", "compiled engine",
        "engine/keyboard.py", "        again[-1].start()\n",
        "        again[-1].join = again[-1].cancel\n",
        "tests/engine/test_keyboard.py",
    ),
]  # fmt: skip
