"""How long a sizing takes, told from what it took so far; the clock is the test's own."""

from __future__ import annotations

from surge_sim.sizing.forecast import CERTIFY, CHOOSE, COMPARE, LEAST_COST, LESS, Forecast, spoken
from surge_sim.sizing.method import Plan


def test_the_forecast_follows_the_speed_that_was_measured_on_the_way() -> None:
    """Plays timed at 1 ms take 100 ms in truth: what is left is told a hundred times longer.

    Two processes play 16 surges, 320 plays, in 16 s. Of 184 more surges 0.8 to 1.2 x 20 plays each
    are left, and 1,600 to 6,400 for the certificate: 4,544 to 10,816 plays, 227 to 541 s. When
    choosing has taken 4,000 plays and 180 s, a play takes 90 ms: 72 to 288 s are left.
    """
    now, said = [0.0], []
    forecast = Forecast(0.0, 0.001, 2, said.append, lambda: now[0])
    forecast.begin(Plan(certify=800), parts=0)
    forecast.ahead = {CHOOSE: (0, 0, 0), CERTIFY: (0, 1_600, 6_400)}
    now[0] = 16.0
    forecast.renew(16, 320, 184, 0.0)
    # two processes for 16 s: 320 plays at 100 ms
    assert forecast.play_s == 0.1
    assert said[-1] == "4 min to 9 min left"
    now[0] = 180.0
    forecast.done(CHOOSE, 4_000)
    assert forecast.laps[CHOOSE] == 180.0
    assert forecast.play_s == 0.09
    assert said[-1] == "70 s to 5 min left"


def test_parts_that_are_done_are_left_out_and_the_last_one_says_nothing_more() -> None:
    said: list[str] = []
    forecast = Forecast(0.01, 0.01, 1, said.append, lambda: 0.0)
    forecast.begin(Plan(), parts=2)
    assert said == [f"likely to take {forecast._left()}"]
    for part in (CHOOSE, CERTIFY, LESS, LEAST_COST, COMPARE):
        assert part in forecast.ahead
        forecast.done(part, 0)
    assert len(said) == 5 and forecast.ahead == {}


def test_times_are_said_as_they_are_known() -> None:
    said = [spoken(seconds) for seconds in (0.2, 7.4, 43, 200, 9_000)]
    assert said == ["1 s", "7 s", "40 s", "3 min", "2.5 h"]
