"""What the page of a case works with when its reader moves a control: every stage, surge by surge.

Numbers that the sizing itself found travel as the very texts that the document shows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from surge_sim.equipment.stock import stock_words
from surge_sim.report.case_less import verdict_words
from surge_sim.report.case_planner import sizing_file
from surge_sim.report.case_stages import met_words
from surge_sim.report.case_words import cost_head, leaving_words, maximum_waits, price_words
from surge_sim.report.phrases import has_more, per_play, plays_name
from surge_sim.report.rounding import number, percent
from surge_sim.report.sizing_words import money
from surge_sim.sizing.betting import block_ends
from surge_sim.units import duration_text, share_text

if TYPE_CHECKING:
    from surge_sim.purchase.case import PurchaseCase

#: shares that a reader may ask for, with those of the scenario
_LEVELS = (0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9, 0.92, 0.94, 0.95, 0.96, 0.97, 0.98, 0.99, 0.995)
_SHARES = (0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 0.98, 0.99)
#: shares of a day travel as whole numbers of this
SHARE_UNIT = 100_000


def case_data(case: PurchaseCase) -> dict[str, Any]:
    """Return the data of the page's script: texts, shares [0..1], seconds and counts."""
    sized, by_wait, target, replay = case.sized, case.by_wait, case.target, case.replay
    levels = sorted({target.service_level, *_LEVELS})
    shares = sorted({target.share_of_surges, *_SHARES})
    alike = replay is not None and replay.alike
    return {
        "currency": case.money_unit,
        "plays": plays_name(replay),
        "per": per_play(replay),
        "confidence": None if replay is not None else sized.confidence,
        # the page counts on the surges of the first block of a bet
        "block_end": block_ends(sized.same_surges)[0],
        "alike": alike,
        # in full: with the target and the prices that were sized
        "leave": _leave(case),
        "cost_head": cost_head(case).replace("Cost", "Cost so far"),
        "file": sizing_file(case, f"{case.scenario.path.stem}_in_full.yaml"),
        # urgent entries by a wait of their own, alarms, stock-outs: they stay as they are
        "more": has_more(target),
        "by_delay": target.late_by == "delay",
        "waits": [{"s": wait_s, "words": duration_text(wait_s)} for wait_s in by_wait.waits_s],
        "levels": [{"share": one, "words": share_text(one)} for one in levels],
        "shares": [{"share": one, "words": share_text(one)} for one in shares],
        "target": {
            "wait": by_wait.waits_s.index(target.wait),
            "level": levels.index(target.service_level),
            "share": shares.index(target.share_of_surges),
            # urgent entries may have a wait of their own, which stays as it is
            "urgent": None if target.urgent is None else by_wait.waits_s.index(target.urgent.wait),
        },
        "share_unit": SHARE_UNIT,
        "entries": by_wait.entries.tolist(),
        "has_urgent": bool(by_wait.urgent_entries.any()),
        "proposed": sized.place,
        "stages": [_stage(case, place) for place in range(len(sized.stages))],
    }


def _leave(case: PurchaseCase) -> dict[str, Any] | None:
    """Return the shortest wait after which somebody leaves the queue [s], and when people do."""
    found = [one for one in maximum_waits(case).values() if one is not None]
    return {"s": min(found), "words": leaving_words(case)} if found else None


def _stage(case: PurchaseCase, place: int) -> dict[str, Any]:
    table, by_wait = case.sized.tables["stages"], case.by_wait
    stock = case.sized.stages[place]
    at = by_wait.waits_s.index(case.target.wait)
    urgent = case.target.urgent
    urgent_at = at if urgent is None else by_wait.waits_s.index(urgent.wait)
    worst = (by_wait.worst_day[place] * SHARE_UNIT).round().astype(int)
    counted = {
        name: None if (value := case.stage(place, name).value) is None else value
        for name in ("surges", "surges_on_target", "low", "high")
    }
    return {
        "bought": "do nothing" if not place else str(table["bought"].iloc[place]),
        "counts": [f"{one:,}" for one in (stock.kits, stock.batteries, stock.bays)],
        "words": stock_words(stock),
        "money": case.stage(place, "cost").value or 0.0,
        # as the sizing found it, for its own target
        "sized": {
            **counted,
            "verdict": verdict_words(case, place),
            "met": met_words(case, place),
            "late": percent(case.stage(place, "share_late").value),
            "worst": percent(case.stage(place, "worst_day_share_late").value),
            "urgent": number(float(by_wait.urgent_late[place, :, urgent_at].mean())),
        },
        "price": price_words(case, place),
        "money_words": money(case.stage(place, "cost").value or 0.0),
        "hours": number(case.stage(place, "hours_waited").value),
        "other_missed": by_wait.other_missed[place].astype(int).tolist(),
        # one list for each wait
        "late": by_wait.late[place].T.tolist(),
        "urgent": by_wait.urgent_late[place].T.tolist(),
        "worst": worst.T.tolist(),
    }
