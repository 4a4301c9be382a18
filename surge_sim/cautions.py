"""What the tool does not say: shown wherever results are shown."""

from __future__ import annotations

import textwrap

#: the whole caution, as one line; `surge-sim sources` and the README show it
CAUTION_IN_ONE_LINE = (
    "This is a planning aid: it counts equipment and time, and says nothing about whether a "
    "respirator protects a person. Do not enter with a respirator that has not passed its pre-use "
    "check. Manufacturer's instructions, your respiratory protection program and local codes take "
    "precedence; licensed, accountable staff decide."
)

#: the same as lines of at most 80 columns
CAUTION_LINES = tuple(textwrap.wrap(CAUTION_IN_ONE_LINE, 80))
CAUTION = "\n".join(CAUTION_LINES)

#: the caution below every answer: two lines of a screen, with the way to the whole of it
CAUTION_IN_SHORT = (
    "Planning aid: counts equipment and time, says nothing about protection. Your respiratory "
    "protection program comes first. In full: surge-sim sources"
)
