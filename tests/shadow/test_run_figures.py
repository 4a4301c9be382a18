"""What the figures of a run show is what stands in the tables beside them."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from matplotlib.colors import to_hex

from surge_sim.report.rounding import percent
from surge_sim.report.run_folder import fill_run_folder
from surge_sim.scenario.load import scenario_from_text
from surge_sim.statistics.run import run
from tests.shadow.raw import play_raw
from tests.shadow.scenes import scene
from tests.shadow.shown import (
    Caught,
    all_in_view,
    colour_in_legend,
    legend_words,
    line_called,
    shade,
)

SCENES = (1, 2)
#: names in the legends -> states, panel by panel from the top
PANELS = (
    ("kits", "kits ready", {
        "in use": "kits in use", "contact or drying time": "kits drying",
        "in wipe-down": "kits in wipe-down",
        "waiting for a wipe-down": "kits waiting for wipe-down",
        "in repair or for a filter": "kits out of service",
    }),
    ("batteries", "batteries on shelf", {
        "in use": "batteries in use", "in a bay": "batteries in bay",
        "waiting for a bay": "batteries waiting for bay", "cooling": "batteries cooling",
        "failed": "batteries out of service",
    }),
    ("bays", "", {"in use": "batteries in bay"}),
)  # fmt: skip


@pytest.fixture(scope="module", params=SCENES)
def caught(request, tmp_path_factory) -> Caught:
    scenario = scenario_from_text(scene(request.param), name="scene")
    result = run(scenario, surges=14, seed=4, processes=1)
    found = Caught(fill_run_folder, result, tmp_path_factory.mktemp("run"))
    found.target, found.stock = result.target, result.stock  # type: ignore[attr-defined]
    found.peaks = result.use.set_index("state")["peak_mean"]  # type: ignore[attr-defined]
    needs = play_raw(scenario, result.stock, 14, 4).needs
    found.left_early = (  # type: ignore[attr-defined]
        (needs["ended"] != "served") & (needs["wait_s"] <= result.target.wait)
    ).any()
    return found


def test_every_figure_is_read_back(caught: Caught) -> None:
    assert set(caught.figures) == {
        "service_level_by_day", "service_level_by_hour", "wait_curve", "cause_of_waiting",
        "use_over_time", "spread_of_surges",
    }, "a figure whose marks nobody reads back"  # fmt: skip


@pytest.mark.parametrize("by", ["day", "hour"])
def test_shares_in_time_have_their_points_their_limits_and_the_target(
    caught: Caught, by: str
) -> None:
    axes, table = caught.axes(f"service_level_by_{by}"), caught.tables[f"service_level_by_{by}"]
    share = 100 * caught.target.service_level
    points, _, (bars,) = axes.containers[0]
    np.testing.assert_allclose(
        points.get_xydata(), np.stack((table[by], 100 * table["service_level"]), axis=1), rtol=1e-4
    )
    limits = table[table["service_level_low"].notna()]
    drawn = pd.DataFrame(
        [(one[0][0], one[:, 1].min(), one[:, 1].max()) for one in bars.get_segments() if len(one)],
        columns=["x", "low", "high"],
    ).set_index("x")
    drawn = drawn.loc[limits[by]]
    np.testing.assert_allclose(drawn["low"], 100 * limits["service_level_low"], atol=1e-3)
    # without an upper limit the bar ends at the point
    high = limits["service_level_high"].fillna(limits["service_level"])
    np.testing.assert_allclose(drawn["high"], 100 * high, atol=1e-3)
    assert line_called(axes, f"target for a whole surge: {share:g} %")[:, 1].tolist() == [
        share,
        share,
    ]
    words = {"day": "day of the surge, and its date", "hour": "hour of the day"}
    assert (axes.get_xlabel(), axes.get_ylabel()) == (words[by], "entries in time [%]")
    assert axes.get_title(loc="left") == f"Entries in time, by {by}"
    interval = "95 % interval" + " where known" * (len(limits) < len(table))
    assert set(legend_words(axes)) == {
        f"target for a whole surge: {share:g} %",
        f"service level, {interval}",
    }
    assert all_in_view(axes, table[by], 100 * table["service_level"])
    assert all_in_view(axes, [], 100 * table["service_level_low"])


def test_the_wait_curve_has_its_shares_its_limits_and_the_point_of_the_target(
    caught: Caught,
) -> None:
    axes, table = caught.axes("wait_curve"), caught.tables["wait_curve"]
    points = line_called(axes, "waits longer than this")
    longer = 100 * table["share_longer"].where(table["share_longer"] > 0)
    # 0 has no place on a scale of powers of ten
    expected = np.stack((table["wait_min"], longer), axis=1)[longer.notna()]
    np.testing.assert_allclose(points, expected, rtol=1e-4)
    band = shade(axes, 0)
    # the band ends where so few surges have such waits that there are no limits
    known = table[table["low"].notna() & table["high"].notna()]
    assert len(known) > 10
    np.testing.assert_allclose(band["x"], known["wait_min"], rtol=1e-4)
    np.testing.assert_allclose(band["min"], np.fmax(100 * known["low"], 0.01), rtol=1e-4)
    np.testing.assert_allclose(band["max"], np.fmax(100 * known["high"], 0.01), rtol=1e-4)
    wait, allowed = caught.target.wait / 60, 100 * (1 - caught.target.service_level)
    label = f"target of each surge: at most {allowed:.3g} % longer than {wait:g} min"
    # who left before the target's wait was over is late, and the curve does not show it
    shown = not caught.left_early  # type: ignore[attr-defined]
    if shown:
        (point,) = line_called(axes, label)
        assert point.tolist() == pytest.approx([wait, allowed])
    assert axes.get_yscale() == "log"
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("wait [min]", "waits that are longer [%]")
    interval = "95 % interval" + " where known" * (len(known) < len(table))
    told = {interval, "waits longer than this", *([label] if shown else [])}
    assert set(legend_words(axes)) == told
    seen = longer >= 0.01
    assert all_in_view(axes, table["wait_min"][seen], longer[seen])


def test_hours_waited_have_bars_in_the_order_of_the_table_with_their_shares(
    caught: Caught,
) -> None:
    axes, table = caught.axes("cause_of_waiting"), caught.tables["cause_of_waiting"]
    by_place = {
        bar.get_y() + bar.get_height() / 2: bar.get_x() + bar.get_width() for bar in axes.patches
    }
    names = dict(zip(axes.get_yticks(), axes.get_yticklabels(), strict=True))
    from_top = sorted(names, reverse=True)
    assert [names[place].get_text() for place in from_top] == table["cause_of_waiting"].tolist()
    lengths = [by_place[place] for place in from_top]
    np.testing.assert_allclose(lengths, table["hours_per_surge"], rtol=1e-4)
    written = {text.get_position()[1]: text.get_text().strip() for text in axes.texts}
    assert [written[place] for place in from_top] == [percent(one) for one in table["share"]]
    assert axes.get_xlabel() == "hours spent waiting, per surge"
    assert all_in_view(axes, table["hours_per_surge"], [])


def test_use_over_time_has_each_state_on_the_one_before_what_a_tenth_has_and_the_stock(
    caught: Caught,
) -> None:
    table = caught.tables["use_over_time"]
    mean, p10, p90 = (
        table.pivot(index="hour", columns="state", values=name) for name in ("mean", "p10", "p90")
    )
    panels = caught.figures["use_over_time"].axes
    for axes, (what, free, states) in zip(panels, PANELS, strict=True):
        assert axes.get_ylabel() == what
        have = getattr(caught.stock, what)
        shown = {name: state for name, state in states.items() if caught.peaks[state] > 0}
        labels = [
            f"{name}, at most {f'{caught.peaks[state]:.1f}'.removesuffix('.0')}"
            for name, state in shown.items()
        ]
        below = pd.Series(0.0, index=mean.index)
        for place, (label, state) in enumerate(zip(labels, shown.values(), strict=True)):
            band = shade(axes, place)
            np.testing.assert_allclose(band["x"], mean.index / 24, rtol=1e-5)
            np.testing.assert_allclose(band["min"], below, rtol=1e-4, atol=1e-6)
            below = below + mean[state]
            np.testing.assert_allclose(band["max"], below, rtol=1e-4, atol=1e-6)
            colour = to_hex(axes.collections[place].get_facecolor()[0])
            assert colour_in_legend(axes, label) == colour
            assert all_in_view(axes, band["x"], band["max"])
        there = below + mean[free] if free else pd.Series(float(have), index=mean.index)
        line = f"in stock: {have:,}"
        if not np.allclose(there, have, atol=1e-3):
            line = f"in the unit; {line}"
        np.testing.assert_allclose(line_called(axes, line)[1:-1, 1], there, rtol=1e-4)
        tenth = (there - p10[free]).clip(lower=0) if free else p90["batteries in bay"]
        said = [line]
        if not np.allclose(tenth, below, rtol=1e-3, atol=1e-3):
            said.append("1 surge in 10: so many or more")
            points = line_called(axes, said[-1])
            np.testing.assert_allclose(points[:, 1], tenth, rtol=1e-3, atol=1e-3)
            assert all_in_view(axes, points[:, 0], points[:, 1])
        assert legend_words(axes) == [*said, *reversed(labels)]
        assert all_in_view(axes, [], [have, *there])
    assert panels[-1].get_xlabel() == "beginning of each day of the surge, and its date"


def test_the_spread_counts_each_surge_once_kept_below_missed(caught: Caught) -> None:
    axes, table = caught.axes("spread_of_surges"), caught.tables["spread_of_surges"]
    values = (100 * table["service_level"]).to_numpy()
    target = 100 * caught.target.service_level
    for bars, kept, name in zip(axes.containers, (True, False), ("met", "not met"), strict=True):
        mine = values[table["on_target"].to_numpy() == kept]
        heights = [bar.get_height() for bar in bars]
        edges = [bar.get_x() for bar in bars] + [bars[-1].get_x() + bars[-1].get_width()]
        # six digits in the table may put a value on the other side of an edge
        counted, _ = np.histogram(np.round(mine, 3) + 1e-6, np.append(edges[:-1], 100.1))
        np.testing.assert_array_equal(heights, counted)
        label = f"target {name}: {len(mine)}"
        assert label in legend_words(axes)
        assert colour_in_legend(axes, label) == to_hex(bars[0].get_facecolor())
        assert axes.get_xlim()[0] <= edges[0]
    assert line_called(axes, f"target: {target:g} %")[:, 0].tolist() == [target, target]
    assert axes.get_xlabel() == "entries in time in one surge [%]"
    assert axes.get_ylabel() == "number of surges"
