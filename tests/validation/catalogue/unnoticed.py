"""What the checks would not notice, written once for checks of one kind.

Each completes the sentence 'It would not notice ...'.
"""

from __future__ import annotations

from tests.validation.check import Kind

LINE = (
    "a fault of anything but kits in one line, first come, first served: batteries, bays, "
    "cleaning, parts, faults, wearers and urgent entries have no part, and the entries come from "
    "a log, so none of them is drawn; errors of single waits that cancel in the mean or share"
)
LOST = (
    "a maximum wait other than none at all, or what becomes of an entry that is not served; a "
    "fault of batteries, bays, cleaning, parts, faults, wearers and urgent entries, which have no "
    "part; how entries are drawn, for they come from a log"
)
LOOP = (
    "a wrong order of service or of wipe-down that leaves the means over time as they are; a "
    "fault of shifts (the crew works round the clock), batteries, bays, parts, faults and urgent "
    "entries; how entries are drawn, for they come from a log"
)
AMPLE = (
    "a fault of any rule of waiting, for nobody waits; the tables of use over time, for use is "
    "counted here from the times of hand-over and return; how entries are drawn, for they come "
    "from a log"
)
BESIDE = (
    "a fault of anything but the waits: which kit goes to whom, use, counts and causes of "
    "waiting; batteries, bays, crews, parts and faults, which have no part; how entries are "
    "drawn, for they come from a log"
)
BESIDE_BATTERIES = (
    "a fault that shows only where uses, wipe-downs or charging times differ, for all are alike; "
    "batteries handed out partly charged; which kit or battery goes to whom, use, counts and "
    "causes of waiting; how entries are drawn, for they come from a log"
)
DAY_OF_RUN = (
    "a fault of rooms, admissions and stays (one patient is there throughout), of several classes "
    "or roles, of batteries, bays, cleaning and parts; waits of single entries and surges, as long "
    "as the mean over surges is right"
)
SIZED = (
    "a dearer mix of kits, batteries and bays than need be, for kits alone vary; wrong limits of "
    "the least cost; an answer that is wrong in one sizing of many, for each is done once"
)
ENTRIES_IN_ALL = (
    "entries at the wrong time of the day, of the wrong role or length: only their number in a "
    "surge is compared; a fault of any equipment, which is ample"
)
LIMITS = (
    "a wrong limit at numbers other than these; a call of the formula with the wrong numbers, for "
    "it is called here by itself"
)
LIMITS_OF_RUN = (
    "surges wrongly counted as on target, for the number is that of the run itself; a confidence "
    "other than 95 %"
)
ERROR_OF_RUN = (
    "a wrong service level, for the shares of the surges are those of the run itself; limits that "
    "are wrong near 0 or 1, where they are not symmetric; a ratio of errors that is off by less "
    "than a twentieth"
)
SHUT_ROOM = (
    "an error of less than half a minute; a mixing factor other than 1, more than one room, "
    "patients who wait for the room (here they are diverted), terminal cleaning"
)
DIVERTED = (
    "a fault of waiting for a room and of clearing its air, for both are left out; arrivals that "
    "change by hour or day; which of the free rooms a patient gets"
)
EPIDEMIC_IN_ALL = (
    "admissions at the wrong time, for only their number over the whole course is compared; a "
    "wrong share of admissions, immunity or time to admission, which are 100 %, 0 and 0 here"
)
EPIDEMIC_PEAK = (
    "a wrong number at any moment but that of the expected peak; a wrong share of admissions, "
    "immunity or time to admission, which are 100 %, 0 and 0 here; counts that vary more or less "
    "than they should, for their variation is taken as known"
)
SERIES = (
    "a fault of counts that are drawn or scaled (they are taken exactly as in the file); small "
    "errors of the hour at which a patient comes; a fault of entries and equipment, of which there "
    "are none"
)
STAYS = (
    "stays that depend on each other, on the class or on the hour of admission; patients who are "
    "there at the start; stays wrong where these shares and parameters do not tell; a fault of "
    "entries and equipment, of which there are none"
)
LOADER = (
    "a rule that is not kept while entries are simulated: only what the loader refuses or warns "
    "of is looked at"
)
RECHECKS = (
    "checks at the wrong moment, the time that they take and what follows from a failed one: only "
    "their number is compared, over a single use"
)
ROTATION = (
    "a fault that shows where uses differ in length, for all last as long as a battery, or where "
    "batteries are handed out partly charged; how long somebody waits, for only whether anybody "
    "does is looked at"
)
SHARED_KIT = (
    "a hand-over too early where a crew or a central unit cleans, where kits are held for a shift "
    "or wiped for a short time; a rule broken in cases other than these 2,000 entries"
)
STAYED = (
    "a wearer who stays after an alarm of a battery or filter, of which there are none here; "
    "how soon the room is left; a fault of the blower that sounds no alarm"
)

_FORMULA = (
    "any fault of surge_sim, for only the formula of the tests that judges it is computed; a fault "
    "of the formula at other numbers"
)
_VALUE = {
    Kind.RECOMPUTED: "; a formula misread from its source, for the value was worked out from it",
    Kind.OWN: "; an error of reasoning, for formula and value are both our own",
    Kind.FROM_MEMORY: "; a value that the source does not print, for it is written from memory",
    Kind.COMMON: "; a wrong value, for no source is known that prints it",
    Kind.SECOND: "; an error of the copy in which the source was read",
}


def formula(kind: Kind) -> str:
    """Return what a check of a formula alone would not notice."""
    return _FORMULA + _VALUE.get(kind, "")
