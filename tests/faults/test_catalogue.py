"""Every fault of the catalogue can still be put in, and the table of results is of this one."""

from __future__ import annotations

import ast
import shlex
from dataclasses import replace

import pytest

from tests.conftest import ROOT
from tests.faults.catalogue import FAULTS
from tests.faults.fault import WIDER, Fault


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_the_fault_still_applies(fault: Fault) -> None:
    """Its old text stands exactly once in its file, and the changed file is still Python."""
    source = fault.path(ROOT).read_text(encoding="utf-8")
    changed = fault.applied(source)
    assert ast.dump(ast.parse(changed)) != ast.dump(ast.parse(source))
    assert fault.domain in WIDER
    paths = [word for word in shlex.split(fault.tests) if word.startswith("tests/")]
    assert paths and all((ROOT / path).exists() for path in paths)


def test_there_are_enough_faults_of_every_domain() -> None:
    """A table of a few would say little of the tests, and so would one without a domain."""
    assert len(FAULTS) >= 80
    assert len({fault.name for fault in FAULTS}) == len(FAULTS)
    assert {fault.domain for fault in FAULTS} == set(WIDER)


def test_a_fault_that_no_longer_applies_is_noticed() -> None:
    moved = replace(FAULTS[0], old="no such text")
    with pytest.raises(ValueError, match="0 times, not once"):
        moved.applied("text")
    with pytest.raises(ValueError, match="2 times, not once"):
        replace(moved, old="t").applied("text")
