"""The reporting checklist for studies by discrete-event simulation, filled in for a case.

The items and their numbers are those of a published reporting guideline, see `SOURCE`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from surge_sim.equipment.stock import stock_words
from surge_sim.purchase.assumptions import INVENTED, NOT_SAID, PARTLY, SOURCED
from surge_sim.report.case_planner import typed_words
from surge_sim.report.phrases import must_keep, target_words
from surge_sim.report.rounding import counted, listed
from surge_sim.units import duration_text, moment_text, share_text

if TYPE_CHECKING:
    from surge_sim.purchase.case import PurchaseCase


#: named beside the items, on paper too
SOURCE = (
    "Items and numbers: STRESS-DES; Monks, Currie, Onggo, Robinson, Kunc & Taylor, Strengthening "
    "the reporting of empirical simulation studies: introducing the STRESS guidelines, Journal of "
    "Simulation 13, 2019 (numbers read in a summary; authors and journal from memory)."
)


class Item(NamedTuple):
    """One item of the checklist: its number, what it asks, and what is said."""

    number: str
    asks: str
    said: str


def checklist(case: PurchaseCase) -> tuple[Item, ...]:
    """Return the checklist with all that the run itself knows; what only people know is asked."""
    return tuple(
        Item(*one) for part in (_aims, _logic, _data, _runs, _program) for one in part(case)
    )


def _aims(case: PurchaseCase) -> Iterator[tuple[str, str, str]]:
    settings, sized = case.scenario.settings, case.sized
    target = target_words(case.target, must_keep(case.replay))
    yield (
        "1.1",
        "Purpose",
        (
            f"To say what to add to the stock in hand so that the service target is met: {target}. "
            f"{settings.question} Title of the scenario: {settings.title}."
        ),
    )
    yield (
        "1.2",
        "Outputs",
        (
            "Share of simulated surges on target; late entries, hours waited, longest wait and "
            "share late on the worst day of a surge; what is used up; money. How each is counted: "
            "columns.txt. Limits of the share on target hold each by itself, wherever its test "
            "stops (columns.txt, sheet 'Limit'); all verdicts 'confirmed' hold together; means "
            "have 95 % intervals over surges."
        ),
    )
    sure = "" if sized.confidence is None else f", {share_text(sized.confidence)} confidence"
    yield (
        "1.3",
        "Aims of experiments",
        (
            "Optimisation: stocks are candidates on one set of simulated surges and are confirmed "
            f"on fresh ones ({counted(case.sized.same_surges, 'surge')} for the table of "
            f"stages{sure}). Compared: {stock_words(sized.in_hand)}, and "
            f"{stock_words(sized.proposed)}{_more_patients(case)}."
        ),
    )


def _more_patients(case: PurchaseCase) -> str:
    if case.demand.empty:
        return ""
    levels = sorted({one for one in case.demand["more_patients"].tolist() if one})
    return f"; both also with {listed([share_text(one) for one in levels])} more patients"


def _logic(case: PurchaseCase) -> Iterator[tuple[str, str, str]]:
    settings = case.scenario.settings
    cleaning = {
        "wearer": "the wearer", "crew": "a crew", "central": "a central department",
    }[settings.cleaning.by]  # fmt: skip
    yield (
        "2.1",
        "Diagram of the model",
        (
            "Patient arrivals -> isolation rooms -> entries by staff -> kit and battery from the "
            "shelf -> pre-use check, donning, room, doffing -> wipe-down, contact and drying time "
            "-> shelf; batteries -> charger bays -> shelf."
        ),
    )
    yield (
        "2.2",
        "Logic",
        (
            "README, how the model works; `surge-sim check FILE --full` reads the scenario back in "
            "sentences."
        ),
    )
    yield (
        "2.3",
        "Differences between scenarios",
        (
            "Stocks differ and nothing else"
            + ("." if case.demand.empty else "; with more patients, arrivals differ, too.")
            + (
                ""
                if case.comparison is None
                else " Alternatives: what each changes, in comparison/tables/alternatives.csv."
            )
        ),
    )
    yield (
        "2.4",
        "Algorithms",
        (
            "All demand is drawn before equipment is simulated. Arrivals: Poisson counts by time "
            "slot, then times within it. Kits are cleaned by "
            f"{cleaning}; batteries charge at constant current and then slower; failures are "
            "exponential in running time. Demand does not react to waiting but for maximum waits."
        ),
    )
    roles = ", ".join(settings.roles) or "those of the log"
    classes = ", ".join(settings.classes) or "those of the log"
    yield "2.5.1", "Entities", f"Patients ({classes}) and entries of staff ({roles})."
    yield (
        "2.5.2",
        "Activities",
        (
            "Check, donning, time in the room, doffing, wipe-down, contact and drying time, "
            "charging, filter change, repair."
        ),
    )
    yield "2.5.3", "Resources", f"{stock_words(case.sized.in_hand)} in hand; rooms; cleaners."
    yield (
        "2.5.4",
        "Queues",
        (
            "Urgent entries first, then battery swaps, then routine entries, each in order of "
            f"request; batteries issued: {settings.batteries.issued}; bays: first come, first "
            "served."
        ),
    )
    yield (
        "2.5.5",
        "Entry and exit points",
        (
            "Patients arrive by the curve of the scenario and leave when isolation ends"
            if settings.entries is None
            else "Entries come from a log"
        )
        + "; a visit that exceeds a maximum wait leaves the queue and counts as late.",
    )


def _data(case: PurchaseCase) -> Iterator[tuple[str, str, str]]:
    kinds = (SOURCED, PARTLY, INVENTED, NOT_SAID)
    counts = [f"{sum(one.standing == kind for one in case.assumptions)} {kind}" for kind in kinds]
    yield (
        "3.1",
        "Data sources",
        (
            f"Of {len(case.assumptions)} input values: {listed(counts)}, by the source that the "
            "scenario names for the section. Each value: sheet 'Inputs'."
        ),
    )
    yield (
        "3.2",
        "Pre-processing",
        (
            "By the tool: units are converted, nothing else. What was done before, whoever wrote "
            "the scenario must say."
        ),
    )
    ranges = [one.name for one in case.scenario.ranges]
    drawn = f"drawn anew for each surge: {listed(ranges)}" if ranges else "none has a range"
    yield (
        "3.3",
        "Input parameters",
        (f"Sheet 'Inputs', from the scenario that was simulated. Uncertain inputs: {drawn}."),
    )
    yield (
        "3.4",
        "Assumptions",
        (
            "README, assumptions; 'What it depends on' in case.docx, and sheets "
            "'Inputs' and 'Life inputs'."
        ),
    )


def _runs(case: PurchaseCase) -> Iterator[tuple[str, str, str]]:
    settings = case.scenario.settings
    start = "at the start all kits are ready and all batteries charged"
    if settings.run_in:
        start = f"before the start, {duration_text(settings.run_in)} of ordinary demand are played"
    yield (
        "4.1",
        "Initialisation",
        (
            f"Terminating: {start}; the census is "
            f"that of the scenario. After the horizon the simulation runs "
            f"{duration_text(settings.run_out)} on; entries still waiting then are late."
        ),
    )
    yield (
        "4.2",
        "Run length",
        (
            f"{duration_text(settings.horizon)} from {moment_text(settings.start)}, in whole "
            "seconds."
        ),
    )
    yield (
        "4.3",
        "Replications",
        (
            f"{counted(case.sized.same_surges, 'simulated surge')} for every stage, more for "
            "stocks that were hard to decide (sheet 'Evidence'); the test goes on until it decides "
            "or the surges that were asked for are over."
        ),
    )


def _program(case: PurchaseCase) -> Iterator[tuple[str, str, str]]:
    yield (
        "5.1",
        "Software",
        (
            f"{case.sized.tool}; releases of Python and of every package that results depend on: "
            "manifest.json of the sizing and of this folder."
        ),
    )
    yield (
        "5.2",
        "Random numbers",
        (
            f"Philox4x64-10, keyed by seed ({case.sized.seed}), sample and surge, with a numbered "
            "stream for each purpose: all stocks meet the same draws. Surges that choose and "
            "surges that confirm are different samples."
        ),
    )
    yield (
        "5.3",
        "Execution",
        (
            "Events in order of time, ties in one second by a fixed order; two engines that agree "
            "to the last bit (`surge-sim verify`); the answer does not depend on the number of "
            "processes."
        ),
    )
    yield (
        "5.4",
        "System",
        ("System, machine and run times: manifest.json of the sizing and of this folder."),
    )
    yield (
        "6.1",
        "Access to the model",
        (
            "Open source, with its licence in the package. The scenario and every number are in "
            "this folder, with checksums in manifest.json. To repeat it: "
            f"{typed_words(case)}."
        ),
    )
