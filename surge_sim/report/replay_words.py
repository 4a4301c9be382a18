"""What is said of a recorded log that is played: it is one period, and shows no variation."""

from __future__ import annotations

from typing import Any

from surge_sim.demand.replay import Replay

NOT_COVERED = "One recorded period, replayed; random variation is not covered."


def replay_words(replay: Replay, plays: int) -> str:
    """Say what was played, and what was drawn anew for each play."""
    return f"{NOT_COVERED} {drawn_words(replay, f'each of {plays:,} plays')}"


def drawn_words(replay: Replay, each: str = "each play") -> str:
    """Say what is drawn anew for each play, if anything is."""
    if replay.alike:
        return "Its entries are fixed and nothing else is random, so it is played once."
    return f"Its entries are fixed; drawn anew for {each}: {', '.join(replay.drawn)}."


def plays_name(replay: Replay | None) -> str:
    """Return what plays are called: surges, or plays of a recorded period."""
    return "surges" if replay is None else "plays"


def must_keep(replay: Replay | None) -> str:
    """Return what a share of must keep the target: surges, plays, or nothing where there is one."""
    return "" if replay is not None and replay.alike else plays_name(replay)


def per_play(replay: Replay | None) -> str:
    """Return what a mean is of: a surge, a play, or the one recorded period."""
    if replay is None:
        return "per surge"
    return "in the period" if replay.alike else "per play"


def replay_json(replay: Replay, plays: int) -> dict[str, Any]:
    """Return the same for programs."""
    return {
        "log": replay.file,
        "recorded_periods": 1,
        "plays": plays,
        "drawn_for_each_play": list(replay.drawn),
        "covers": replay_words(replay, plays),
    }
