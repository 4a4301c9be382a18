"""The target in words: the same for a scenario read back, a run and a sizing."""

from __future__ import annotations

from collections.abc import Sequence

from surge_sim.demand.replay import Replay
from surge_sim.report.replay_words import plays_name
from surge_sim.scenario.schema import Target
from surge_sim.units import duration_text, share_text


def share_of_ten(share: float, replay: Replay | None = None) -> str:
    """Return a share of surges as people say it: ``9 of 10 surges``, ``95 % of plays``."""
    tenths = round(10 * share, 9)
    some = f"{tenths:g} of 10" if tenths == int(tenths) else f"{share_text(share)} of"
    return f"{some} {plays_name(replay)}"


def enough_words(used: Sequence[str], share: float, replay: Replay | None) -> str:
    """Say what is used at most in a share of surges; in one recorded period, what is used."""
    several = " and ".join([*([", ".join(used[:-1])] if used[:-1] else []), used[-1]])
    if replay is not None and replay.alike:
        return f"{several} in the period"
    return f"in {share_of_ten(share, replay)} no more than {several}"


def entries_clause(target: Target) -> str:
    """Say what is asked of the entries of one surge: ``95 % of entries wait 5 min or less``."""
    share, wait = share_text(target.share_of_entries), duration_text(target.wait)
    return f"{share} of entries wait {wait} or less"


def has_more(target: Target) -> bool:
    """Say whether the target asks for more than that."""
    more = (target.urgent, target.most_alarms_per_1000, target.most_stock_outs)
    return any(one is not None for one in more)


def target_words(target: Target, of: str = "surges") -> str:
    """Return the target as one clause; `of` names what most must keep it, "" where there is one."""
    most = f"in {share_text(target.share_of_surges)} of {of}, " if of else ""
    said = f"{most}{entries_clause(target)}"
    if target.urgent is not None:
        said += (
            f"; {share_text(target.urgent.share_of_entries)} of urgent ones "
            f"{duration_text(target.urgent.wait)} or less"
        )
    if target.most_alarms_per_1000 is not None:
        said += f"; at most {target.most_alarms_per_1000:g} alarms per 1,000 entries"
    if target.most_stock_outs is not None:
        said += f"; at most {target.most_stock_outs} stock-outs"
    return said
