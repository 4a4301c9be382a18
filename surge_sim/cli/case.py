"""``surge-sim case``: the case for a purchase, for people who were not there."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path

import click

from surge_sim.cli.options import Place, json_option, out_option, processes_option
from surge_sim.cli.screen import announce, progress_bar, tell


@click.command(name="case")
@click.argument("sizing", metavar="FOLDER", type=Place())
@click.option(
    "--with",
    "beside",
    metavar="FOLDER",
    type=Place(),
    multiple=True,
    help="Tell also what this folder holds: one of `compare`, one of `matters`, one of `size` with "
    "more patients (what it costs to be ready for them); may be given for each.",
)
@click.option(
    "--life",
    "life_file",
    metavar="FILE",
    type=Place(),
    help="Tell also what it costs to own the equipment: how long things last, and prices. "
    "`surge-sim new --life FILE` writes one to start from.",
)
@out_option
@json_option
@processes_option
def command(
    sizing: Path,
    beside: tuple[Path, ...],
    life_file: Path | None,
    out_folder: Path | None,
    as_json: bool,
    processes: int | None,
) -> None:
    """Make the case for the purchase that `size` found and left in FOLDER.

    Writes `case.docx`, a document of a few pages to edit and to sign, and `case.xlsx`, a workbook
    with formulas in which each number has its file, row and column; and `case.html`, a page that
    opens offline in a browser, where a reader moves money and target and sees what follows. The
    cells of formulas are empty until the workbook is opened in a spreadsheet program, which works
    them out.
    Present and proposed stock meet the same simulated surges, which say what follows if nothing is
    done or more patients come, and what is used up in a surge. FOLDER stays as it is; what was
    changed in it since is refused.
    """
    from surge_sim.purchase.beside import read_beside
    from surge_sim.purchase.case import purchase_case
    from surge_sim.purchase.sized import read_sized
    from surge_sim.report.case_document import case_document
    from surge_sim.report.case_folder import case_json, fill_case_folder
    from surge_sim.report.folder import result_folder
    from surge_sim.scenario.life_file import load_life

    sized = read_sized(sizing)
    told = read_beside(beside, sized)
    life = None if life_file is None else load_life(life_file)
    digest = hashlib.sha256((sizing / "manifest.json").read_bytes()).hexdigest()
    facts = {
        "seed": sized.seed,
        "sizing": {"command": list(sized.command), "sha256": digest},
        "life": None if life is None else life.sha256,
    }
    typed = ["surge-sim", *sys.argv[1:]]
    with result_folder(out_folder, sized.scenario, typed, facts) as folder:
        with progress_bar("surges", sized.same_surges) as advance:
            case = purchase_case(sized, processes, advance, told, life)
        fill_case_folder(folder, case)
    tell(case_json(case) if as_json else case_document(case, signatures=False))
    announce(folder.result_lines)
