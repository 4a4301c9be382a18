"""What is said where no stock within the limits meets the target. Numbers are invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pytest

from surge_sim.cautions import FIXED_TIMES
from surge_sim.equipment.causes import Cause
from surge_sim.equipment.stock import Stock
from surge_sim.errors import OutOfReach
from surge_sim.scenario.load import scenario_from_text
from surge_sim.scenario.schema import Prices, SearchLimits, Settings, Target
from surge_sim.sizing.player import ScenarioPlayer, Seen, Work
from surge_sim.sizing.reasons import _trials, unreachable
from surge_sim.sizing.search import SearchRegion, search_region
from surge_sim.sizing.size import size
from tests.scenario.base import changed
from tests.sizing.stand_in import TARGET, row_of_counts

LIMITS = SearchLimits(kits=40, batteries=50, bays=19)
PRICES = Prices(bays_per_charger=4)
ALL = ("kits", "batteries", "bays")
#: 16 bays are four chargers; a fifth one would be beyond the limit
PLENTY = "40 kits, 50 batteries, 16 bays"
NOTHING_HELPS = (
    "No single cause explains it: `surge-sim run` says what people wait for, and its tables at "
    "which hours of the day."
)


@dataclass(frozen=True)
class OneSurge:
    """A surge with what is waited for, and the stocks that keep the target in it."""

    hours: dict[Cause, float]
    enough: Callable[[Stock], bool]

    def kept(self, stock: Stock) -> bool:
        return self.enough(stock)

    def missed(self, stock: Stock) -> float:
        return 0.0 if self.enough(stock) else 1.0

    def row(self, stock: Stock) -> np.ndarray:
        row = row_of_counts(self.enough(stock), 100, 9)
        for cause, hours in self.hours.items():
            row[Seen.CAUSES + cause] = round(3_600 * hours)
        return row


@dataclass(frozen=True)
class Hopeless:
    """Whatever the stock, some surges miss the target: those from a number on."""

    hours: dict[Cause, float]
    enough: Callable[[Stock], bool] = lambda stock: False
    #: so many of the surges are kept by what is enough
    kept: int = 99
    target: Target = TARGET
    drawn: list[int] = field(default_factory=list)

    def surge(self, sample: int, number: int) -> OneSurge:
        self.drawn.append(number)
        return OneSurge(self.hours, self.enough if number < self.kept else lambda stock: False)


def region(names: tuple[str, ...] = ALL, limits: SearchLimits = LIMITS) -> SearchRegion:
    return search_region(Stock(2, 3, 4), names, PRICES, limits)


def said(
    player: Hopeless, names: tuple[str, ...] = ALL, surges: int = 200, limits: SearchLimits = LIMITS
) -> list[str]:
    found = unreachable(player, region(names, limits), 30, surges, limits, Work())
    return str(found).splitlines()


FOUR = {
    Cause.KIT_IN_USE: 3.0, Cause.BATTERY_CHARGING: 2.0, Cause.NO_HOOD: 1.0, Cause.KIT_DRYING: 0.5,
}  # fmt: skip


def test_what_is_missed_with_plenty_and_the_three_longest_waits_are_said() -> None:
    """Of 6.5 h a surge 3 are 46 %, 2 are 31 % and 1 is 15 %; the fourth is not told."""
    player = Hopeless(FOUR)
    assert said(player) == [
        "No stock within the limits meets the target.",
        f"With plenty ({PLENTY}) it is met in 30 of 200 simulated surges; 90 % must meet it.",
        "With plenty, people still wait for: kit in use (46 %), battery charging (31 %) and hood "
        "used up and not on order (15 %).",
        NOTHING_HELPS,
    ]
    # ten surges are looked at, or all where there are fewer
    assert set(player.drawn) == set(range(10))
    few = Hopeless(FOUR)
    said(few, surges=6)
    assert set(few.drawn) == set(range(6))


def test_a_cause_of_next_to_no_waiting_is_not_told() -> None:
    told = said(Hopeless({Cause.KIT_IN_USE: 100, Cause.NO_HOOD: 1, Cause.BATTERY_CHARGING: 0.4}))
    assert told[2] == (
        "With plenty, people still wait for: kit in use (99 %) and hood used up and not on order "
        "(1 %)."
    )


def test_a_time_that_is_fixed_is_said_to_be_so_where_it_is_among_the_three() -> None:
    fixed = said(Hopeless({Cause.KIT_DRYING: 1, Cause.KIT_IN_USE: 2, Cause.NO_HOOD: 3}))
    assert fixed[3:] == [*FIXED_TIMES.splitlines(), NOTHING_HELPS]
    assert said(Hopeless({Cause.KIT_IN_USE: 2}))[2:] == [
        "With plenty, people still wait for: kit in use (100 %).", NOTHING_HELPS,
    ]  # fmt: skip


def test_where_nobody_waits_no_cause_is_told() -> None:
    assert said(Hopeless({}))[2:] == [NOTHING_HELPS]


def test_where_only_some_items_were_to_be_bought_that_is_said() -> None:
    lines = said(Hopeless({}), ("kits", "he_filters"))
    assert (
        lines[0] == "Buying kits and HE filters only: no stock within the limits meets the target."
    )
    assert lines[1].startswith("With plenty (40 kits, 3 batteries, 4 bays, ")
    assert lines[2] == (
        "More kits and HE filters alone do not do it: let other items be bought, too (leave out "
        "--only)."
    )
    # with parts besides, all of the equipment may be bought
    assert said(Hopeless({}), (*ALL, "hoods"))[0] == "No stock within the limits meets the target."


@pytest.mark.parametrize("name", ALL)
def test_what_was_not_to_be_bought_is_tried_with_plenty(name: str) -> None:
    most = {"kits": 40, "batteries": 50, "bays": 19}[name]
    player = Hopeless({}, lambda stock: getattr(stock, name) >= most)
    *_, last = said(player, tuple(one for one in ALL if one != name))
    assert last == (
        f"In a short trial it was met with plenty of {name} as well ({most}, the limit of the "
        "search; not an amount to buy): name them in --only, or leave --only out (10 of 10)."
    )


def test_more_that_is_owned_than_the_limit_is_what_is_tried() -> None:
    owned = Stock(2, 3, 24)
    kits = search_region(owned, ("kits", "batteries"), PRICES, LIMITS)
    player = Hopeless({}, lambda stock: stock.kits >= 160)
    tried = [(words[:25], stock) for words, _, stock in _trials(player, kits, LIMITS)]
    assert tried == [
        ("with plenty of bays as we", Stock(40, 50, 24)),
        ("with four times as much: ", Stock(160, 200, 24)),
    ]


def test_four_times_as_much_is_tried_and_a_lot_of_four_bays_is_16() -> None:
    """Where the limit is below one charger, four chargers are tried."""
    few = SearchLimits(kits=40, batteries=50, bays=3)
    nothing = search_region(Stock(0, 0, 0), ALL, PRICES, few)
    player = Hopeless({})
    ((words, _, stock),) = _trials(player, nothing, few)
    assert words == "with four times as much: widen `limits` in the scenario"
    assert stock == Stock(160, 200, 16)


@pytest.mark.parametrize(("kept", "met"), [(10, True), (9, True), (8, False)])
def test_a_trial_is_met_in_the_share_of_surges_that_must_be(kept: int, met: bool) -> None:
    """Nine in ten, of ten; and of the ways that are met each is named with its count."""
    player = Hopeless({}, lambda stock: stock.kits >= 40, kept)
    *_, last = said(player, ("batteries", "bays"))
    if met:
        assert last.startswith("In a short trial it was met with plenty of kits as well (40, the ")
        assert last.endswith(f", or leave --only out ({kept} of 10).")
    else:
        assert last.startswith("More batteries and bays alone do not do it")


def test_kits_are_tried_before_batteries_and_bays() -> None:
    only_hoods = region(("hoods",))
    words = [words for words, _, _ in _trials(Hopeless({}), only_hoods, LIMITS)]
    for name, said_first in zip(ALL, words, strict=False):
        assert said_first.startswith(f"with plenty of {name} as well")


def test_all_that_would_meet_the_target_is_named() -> None:
    player = Hopeless({}, lambda stock: stock.kits >= 40 or stock.batteries >= 200)
    *_, last = said(player, ("batteries", "bays"))
    assert "(10 of 10); or with four times as much: widen `limits` in the scenario (10" in last


#: whatever a world may be without
EVERYTHING = changed(
    ("nurse: {room_time: 5 min}", "nurse: {room_time: 5 min, patients_per_wearer: 4, "
     "rooms_per_round: 2}"),
    ("kit: {", "policy: {kit: held for a shift, reserved_for_urgent: 1}\nkit: {"),
    ("charge_time: 3 h", "charge_time: 3 h, age: {ages: [1 d, 2000 d], fade_per_year: 5 %}"),
    ("by: wearer", "by: crew, crew: [{start: 07:00, end: 15:00, cleaners: 2}, "
     "{start: 15:00, end: 23:00, cleaners: 1}]"),
) + """\
filters: {prefilter_life: 80 h, he_filter_life: 600 h, prefilter_change: 4 min,
  he_filter_turnaround: 2 h}
failures: {blower_run_between_failures: 20 d, repair_time: 2 d, hood_damage: 1 %, tube_damage: 2 %}
supplies: {hoods: {spare: 3}, tubes: {spare: 3}, prefilters: {spare: 3}, he_filters: {spare: 3},
  large_hoods: {spare: 3}}
timeline: [{what: kits recalled, kits: 1, at: 1 d, lasts: 1 d}]
"""  # fmt: skip


def worlds(text: str) -> dict[str, Settings]:
    """The settings of each world that is tried, by its words."""
    scenario = scenario_from_text(text)
    settings = scenario.settings
    before: dict[str, object] = {"run_out": 7, "timeline": settings.timeline}
    player = ScenarioPlayer(scenario, settings.target, 1, sections=before)
    found = {}
    for words, world, _ in _trials(player, region(), LIMITS):
        assert isinstance(world, ScenarioPlayer)
        # what was different before stays so
        assert world.sections["run_out"] == 7
        # others are trials of more stock
        if world.sections != before:
            found[words] = settings.model_copy(update=world.sections)
    return found


def test_each_world_is_without_one_cause_and_has_all_else() -> None:
    settings = scenario_from_text(EVERYTHING).settings
    found = worlds(EVERYTHING)
    without = {
        "without the timeline in the file": "timeline",
        "without the reserve for urgent entries": "policy",
        "if the full crew of cleaners worked at all hours": "cleaning",
        "if kits were not held for a shift": "policy",
        "if filters did not clog": "filters",
        "if nothing broke": "failures",
        "if parts did not run out": "supplies",
        "if batteries had full capacity": "batteries",
    }
    assert list(found) == list(without)
    for words, section in without.items():
        differs = {
            name for name in type(settings).model_fields
            if getattr(found[words], name) != getattr(settings, name)
        }  # fmt: skip
        assert differs == {section, "run_out"}
    assert found["without the timeline in the file"].timeline == ()
    policy = found["without the reserve for urgent entries"].policy
    assert (policy.reserved_for_urgent, policy.kit) == (0, "held for a shift")
    policy = found["if kits were not held for a shift"].policy
    assert (policy.reserved_for_urgent, policy.kit) == (1, "per entry")
    crew = found["if the full crew of cleaners worked at all hours"].cleaning.crew
    assert [(shift.end - shift.start) % 86_400 for shift in crew] == [43_200, 43_200]
    assert [shift.cleaners for shift in crew] == [2, 2]
    assert {shift.start for shift in crew} == {0, 43_200}
    broken = found["if nothing broke"].failures
    assert broken.blower_run_between_failures is None
    assert broken.hood_damage == broken.tube_damage == 0
    supplies = found["if parts did not run out"].supplies
    for part in ("hoods", "tubes", "prefilters", "he_filters", "large_hoods"):
        assert getattr(supplies, part) is None
    batteries = found["if batteries had full capacity"].batteries
    assert batteries.healths(3) == (1, 1, 1)


def test_a_world_is_not_tried_without_what_there_is_not() -> None:
    always = ["if nothing broke", "if parts did not run out", "if batteries had full capacity"]
    assert list(worlds(changed())) == always
    rounds = EVERYTHING.replace("held for a shift", "per round")
    found = worlds(rounds)
    assert "if kits were not held for a shift" not in found
    assert found["if kits were not kept for a round"].policy.kit == "per entry"


def test_a_recorded_period_is_played_once_and_said_to_miss_the_target(tmp_path: Path) -> None:
    """Five come at once, and three kits are the most."""
    (tmp_path / "log.csv").write_text("requested,room_minutes\n" + "600,50\n" * 5)
    text = changed(
        ("arrivals: {baseline: 1 per day, initial_census: 1}", "entries: {from: log.csv}"),
        ("stock:", "limits: {kits: 3, batteries: 9, bays: 3}\nstock:"),
        ("kits: 4", "kits: 1"),
    )
    scenario = scenario_from_text(text, "ward", tmp_path)
    with pytest.raises(OutOfReach) as found:
        size(scenario, vary="kits,batteries,bays", processes=1)
    lines = str(found.value).splitlines()
    assert lines[:2] == [
        "No stock within the limits meets the target.",
        "With plenty (3 kits, 9 batteries, 3 bays) the recorded period misses it too.",
    ]
    assert lines[-1] == (
        "In a short trial it was met with four times as much: widen `limits` in the scenario (1 of "
        "1)."
    )
