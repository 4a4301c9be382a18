"""The case for a purchase as one JSON object, and as everything that it leaves in its folder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from surge_sim.cautions import CAUTION
from surge_sim.report.case_checklist import checklist
from surge_sim.report.case_document import answer_words, case_document
from surge_sim.report.case_page import case_page
from surge_sim.report.case_workbook import case_workbook
from surge_sim.report.phrases import replay_words
from surge_sim.report.run_folder import replay_json, target_json
from surge_sim.report.sizing_folder import records
from surge_sim.report.terminal import render
from surge_sim.report.word_file import word_file
from surge_sim.sizing.result import stock_columns

if TYPE_CHECKING:
    from surge_sim.purchase.case import PurchaseCase
    from surge_sim.report.folder import ResultFolder


def case_json(case: PurchaseCase) -> dict[str, Any]:
    """Return the case as plain numbers and text; shares lie between 0 and 1."""
    sized, replay = case.sized, case.replay
    return {
        **({} if replay is None else {"replay": replay_json(replay, len(case.same_surges))}),
        "scenario": case.scenario.name,
        "title": case.scenario.settings.title,
        "seed": sized.seed,
        "target": target_json(case.target),
        "currency": case.currency,
        "invented": case.invented,
        "answer": answer_words(case),
        "in_hand": stock_columns(sized.in_hand),
        "proposed": stock_columns(sized.proposed),
        "stage_proposed": sized.place,
        "stages": records(sized.tables["stages"]),
        "cause_of_waiting_in_hand": records(sized.tables["cause_of_waiting_in_hand"]),
        "request": records(case.tables["request"]),
        "nearest_cheaper_tested": None
        if sized.next_cheaper_no_stage is None
        else records(sized.tables["tested"].iloc[[sized.next_cheaper_no_stage]])[0],
        "waiting_by_item": records(case.tables["waiting_by_item"]),
        "doing_nothing": records(case.doing_nothing),
        "used_per_surge": records(case.used),
        "higher_demand": records(case.demand),
        "ready_for_more": None if case.more is None else records(case.tables["ready_for_more"])[0],
        "life": None
        if case.life is None
        else {
            name: records(table)
            for name, table in case.life.tables.items()
            if name != "life_by_surge"
        },
        "assumptions": [{**one._asdict(), "standing": one.standing} for one in case.assumptions],
        "checklist": [one._asdict() for one in checklist(case)],
        "comparison": None if case.comparison is None else dict(case.comparison.summary),
        "study": None if case.study is None else dict(case.study.summary),
        "notes": list(case.notes),
        "caution": CAUTION,
    }


def fill_case_folder(folder: ResultFolder, case: PurchaseCase) -> None:
    """Write document, workbook, page, answer, summary and tables, with those of the sizing."""
    if case.replay is not None:
        folder.covers = replay_words(case.replay, len(case.same_surges))
    told = case_document(case)
    folder.write_bytes("case.docx", word_file(told))
    folder.write_bytes("case.xlsx", case_workbook(case))
    folder.write_bytes("case.html", case_page(case).encode())
    folder.write_text("answer.txt", render(case_document(case, signatures=False)))
    folder.write_json("summary.json", case_json(case))
    for name, table in case.tables.items():
        folder.write_table(name, table)
    for name, data in case.sized.files.items():
        folder.write_bytes(f"sizing/{name}", data)
    for name, data in {} if case.more is None else case.more.sized.files.items():
        folder.write_bytes(f"more/{name}", data)
    if case.life is not None:
        folder.write_bytes("life/life.yaml", case.life.inputs.data)
    for beside in filter(None, (case.comparison, case.study)):
        for name, data in beside.files.items():
            folder.write_bytes(f"{beside.sort}/{name}", data)
