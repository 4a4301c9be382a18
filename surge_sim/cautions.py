"""What the tool does not say: shown wherever results are shown."""

from __future__ import annotations

#: the whole caution; `surge-sim sources` and the README show it
CAUTION = (
    "This is a planning aid: it counts equipment and time, and says nothing about whether a "
    "respirator protects a person. Do not enter with a respirator that has not passed its pre-use "
    "check. Manufacturer's instructions, your respiratory protection program and local codes take "
    "precedence; licensed, accountable staff decide."
)

#: beside operating rules that are compared
RULES_CAUTION = (
    "No result here permits anything. What the manufacturer's instructions, your respiratory "
    "protection program or local codes forbid stays forbidden, however well it does here. Every "
    "kit passes its pre-use check before every entry, whichever rule is followed."
)

#: at the foot of pages that hold the whole caution; and below every answer on a screen, with the
#: way to the whole of it
CAUTION_ON_PAPER = (
    "Planning aid: counts equipment and time, says nothing about protection. Your respiratory "
    "protection program comes first."
)
CAUTION_IN_SHORT = f"{CAUTION_ON_PAPER} In full: surge-sim sources"

#: said where kits in contact or drying time are named as a cause: no purchase makes these shorter
FIXED_TIMES = (
    "Contact and drying times are fixed by the label of the disinfectant and the manufacturer's "
    "instructions."
)
