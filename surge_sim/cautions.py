"""What the tool does not say: shown wherever results are shown."""

from __future__ import annotations

#: stands below every answer; each line fits an 80-column screen
CAUTION_LINES = (
    "A planning aid: it counts equipment and time, and says nothing about whether a",
    "respirator protects a person. Nobody goes in with a kit that has not passed its",
    "check. The maker's instructions, the employer's respiratory protection programme",
    "and local rules stand above it; decisions rest with the licensed and accountable",
    "people.",
)

#: the caution as lines of at most 80 columns
CAUTION = "\n".join(CAUTION_LINES)

#: the caution as one line, for programs
CAUTION_IN_ONE_LINE = " ".join(CAUTION_LINES)

#: the same in short, for help texts and figures
CAUTION_IN_SHORT = (
    "A planning aid: it counts equipment and time and says nothing about whether a respirator "
    "protects a person. Maker's instructions and local rules come first."
)

#: the same in two lines of a screen, with the way to the whole of it
CAUTION_ON_SCREEN = (
    "Planning aid: counts equipment and time, says nothing about protection. Your respiratory "
    "protection program comes first. In full: surge-sim sources"
)
