"""Every check against the outside world, in the order of the table in tests/README.md."""

from __future__ import annotations

from tests.validation.catalogue import (
    theory_lines,
    theory_rest,
    tool_answers,
    tool_demand,
    tool_lines,
    tool_loops,
    tool_rules,
    tool_software,
    tool_use,
)
from tests.validation.check import Check

#: the whole list, surge_sim itself first; ids are unique
CHECKS: tuple[Check, ...] = (
    *tool_lines.CHECKS,
    *tool_loops.CHECKS,
    *tool_use.CHECKS,
    *tool_software.CHECKS,
    *tool_answers.CHECKS,
    *tool_demand.CHECKS,
    *tool_rules.CHECKS,
    *theory_lines.CHECKS,
    *theory_rest.CHECKS,
)
