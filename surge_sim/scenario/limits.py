"""How much may be asked for: memory and time are judged before they are spent.

A process stays below 1 GB, and a simulated surge takes seconds, with every number at its limit.
The README lists the limits.
"""

from __future__ import annotations

import os

#: requests for a kit in one simulated surge, those after alarms and postponements included;
#: some 650 bytes and 3 microseconds each
MOST_REQUESTS = 1_000_000
#: the same in the reference engine (`--engine reference`, `verify`, `explain`)
MOST_IN_REFERENCE = 100_000
#: patients in one simulated surge
MOST_PATIENTS = 200_000
#: kits, batteries or bays in hand, kits on loan included; search limits; other counts of things
MOST_OF_ANYTHING = 100_000
#: one spare part, on the shelf or in an order: a delivery's number has room for its amount
#: (`equipment/order.py`)
MOST_PARTS = 1_000_000
#: lives of filters, and runs between faults, drawn for one simulated surge
MOST_LIVES = 8_000_000
#: items of one list of a scenario file, or names in one section
MOST_LISTED = 1_000
#: characters of a name: of a class, a role, a wearer, a currency
MOST_NAME = 100
#: characters of the title
MOST_TITLE = 200
#: classes of patients, and roles
MOST_CLASSES = 100
#: characters of a scenario file; bytes of another file that it names
MOST_SCENARIO, MOST_FILE = 1_000_000, 100_000_000
#: shortest latent or infectious time of an epidemic [s]
SHORTEST_STAGE_S = 3_600
MOST_REPRODUCTION = 100
#: surges of one command
MOST_SURGES = 100_000
MOST_SEED = 2**63 - 1
#: paths through an exercise, each of which is played on every surge
MOST_PATHS = 100
#: other surges of an exercise: from fewer an average says little
FEWEST_OTHERS, MOST_OTHERS = 20, 2_000
MOST_PROCESSES, MOST_PROCESSES_A_CORE = 32, 4


def most_processes() -> int:
    """Return how many worker processes may be asked for on this machine."""
    return max(MOST_PROCESSES, MOST_PROCESSES_A_CORE * (os.cpu_count() or 1))
