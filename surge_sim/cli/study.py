"""What `compare` and `matters` have in common: plays that outlast a stop, and a folder."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from surge_sim.cli.screen import announce, progress_bar, tell

if TYPE_CHECKING:
    from surge_sim.cli.options import Shared
    from surge_sim.cli.screen import Advance
    from surge_sim.report.document import Document
    from surge_sim.report.folder import ResultFolder
    from surge_sim.scenario.load import Scenario
    from surge_sim.whatif.design import Design
    from surge_sim.whatif.parts import Parts


@dataclass
class Study:
    """A design that is being played."""

    folder: ResultFolder
    #: what was played, also by a run that was stopped
    parts: Parts

    @contextmanager
    def progress(self, design: Design, surges: int) -> Iterator[Advance]:
        """Show how far the plays have come while the block runs.

        The first step, before any play, counts those that are there from a run that was stopped.
        """
        from surge_sim.whatif.play import plays_of

        plays = plays_of(design, surges)
        told = False
        with progress_bar("replications", plays) as advance:

            def advanced(steps: int = 1) -> None:
                nonlocal told
                if steps and not told:
                    known = f"{steps:,} of {plays:,} replications"
                    announce(f"{known} are there from a run that was stopped.")
                told = True
                advance(steps)

            yield advanced

    def tell(self, answer: Document | dict[str, Any]) -> None:
        """Print the answer of a study that is whole, and where its folder is."""
        tell(answer)
        announce(self.folder.result_lines)


@contextmanager
def study_of(scenario: Scenario, shared: Shared, facts: Mapping[str, Any]) -> Iterator[Study]:
    """Give a place for a study; what it keeps for a stop goes away once its folder is whole."""
    from surge_sim.report.folder import RESULTS, result_folder
    from surge_sim.whatif.parts import Parts, unfinished

    out, typed = shared.out_folder, ["surge-sim", *sys.argv[1:]]
    parts = Parts(unfinished(out.parent if out else RESULTS, scenario.name))
    # the place is tried before the work begins
    with result_folder(out, scenario, typed, facts) as folder:
        yield Study(folder, parts)
    parts.forget()
