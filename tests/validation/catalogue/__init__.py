"""Every check against the outside world, in the order of the table in tests/README.md."""

from __future__ import annotations

from tests.validation.catalogue import theory_lines, theory_rest
from tests.validation.check import Check

#: the whole list; ids are unique
CHECKS: tuple[Check, ...] = (*theory_lines.CHECKS, *theory_rest.CHECKS)
