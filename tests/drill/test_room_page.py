"""The page for the room: what it holds is the tree, its texts are texts, and it shows no future.

The tests in a browser need Chromium and are skipped where there is none.
"""

from __future__ import annotations

import base64
import hashlib
import json
import shutil
from html.parser import HTMLParser

import pytest

from surge_sim.drill.branches import Surges
from surge_sim.drill.compare import chosen_surge, compare
from surge_sim.drill.tree import Tree
from surge_sim.report.document import Table
from surge_sim.report.exercise_form import report_form
from surge_sim.report.exercise_hot_wash import in_short
from surge_sim.report.exercise_room import room_data, room_page
from surge_sim.report.exercise_words import orders_words, stretch_words
from surge_sim.report.rounding import minutes
from surge_sim.scenario.exercise import load_exercise
from tests.drill.small import SCENARIO, SHIPPED, loaded, small

HOSTILE = "</script><script>document.title='x'</script><img src=x onerror=alert(1)>"


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """An exercise with hostile texts, its tree, its comparison, and the page."""
    exercise = loaded(
        tmp_path_factory.mktemp("room"),
        ("The cleaner has gone home.", f'"{HOSTILE}"'),
        ("name: Bundle", 'name: "<b>W</b>"'),
        ("title: Two decisions (invented)", f'title: "{HOSTILE}"'),
    )
    tree = Tree(Surges(exercise).surge(3))
    comparison = compare(exercise, 3, count=8, processes=1)
    return exercise, tree, comparison, room_page(tree, comparison)


class Reader(HTMLParser):
    """Tags, names of their attributes, and what stands in the scripts."""

    def __init__(self):
        super().__init__()
        self.tags, self.attributes, self.scripts, self.policy = [], set(), [], ""
        self.inside = False

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes |= {name for name, _ in attrs}
        if dict(attrs).get("http-equiv") == "Content-Security-Policy":
            self.policy = dict(attrs)["content"]
        self.inside = tag == "script"
        if self.inside:
            self.scripts.append("")

    def handle_endtag(self, tag):
        self.inside = False

    def handle_data(self, data):
        if self.inside:
            self.scripts[-1] += data


def read(page):
    reader = Reader()
    reader.feed(page)
    return reader


def test_a_page_has_one_script_and_its_policy_names_it_alone(made):
    reader = read(made[3])
    data, script = reader.scripts
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in reader.policy
    assert reader.policy.startswith("default-src 'none'")
    assert json.loads(data)["title"] == HOSTILE
    assert reader.tags.count("script") == 2
    assert "img" not in reader.tags and "b" not in reader.tags


def test_a_page_loads_nothing(made):
    # the name of a picture's format is no address that is asked for
    page = made[3].replace("http://www.w3.org/2000/svg", "").replace("http-equiv", "")
    assert "http" not in page and "url(" not in page
    assert not read(made[3]).attributes & {"src", "href", "action", "onclick", "onload", "onerror"}


def test_the_page_holds_every_branch_as_it_was_played(made):
    exercise, tree, comparison, page = made
    data = json.loads(read(page).scripts[0])
    assert len(data["branches"]) == 1 + 3 + 9
    for name, one in data["branches"].items():
        branch = tree.branch(tuple(int(part) - 1 for part in name.split("-") if part))
        assert one["at"] == list(branch.at_s)
        assert one["seen"]["kits_ready"] == branch.seen.kits_ready.tolist()
        # in the words of the terminal
        waits_min = (branch.seen.longest_wait_s / 60).tolist()
        assert one["seen"]["longest_wait_s"] == list(map(minutes, waits_min))
        assert one["came"] == stretch_words(exercise, branch)
    assert set(data["wash"]) == {f"{a}-{b}" for a in (1, 2, 3) for b in (1, 2, 3)}
    assert data["wash"]["2-3"]["short"] == in_short(comparison, (1, 2))


def test_the_board_is_drawn_to_what_there_is_at_the_start(made):
    """A scale for kits that come later would tell of them."""
    data = json.loads(read(made[3]).scripts[0])
    most = {group["name"]: group["most"] for group in data["board"]}
    assert most["Kits"] == 4
    assert most["Batteries"] == 7
    assert most["Parts, on clean kits and in the box"] == 64


def test_a_page_without_decisions_has_one_stretch_and_its_hot_wash(tmp_path):
    path = small(tmp_path)
    text = path.read_text()
    path.write_text(text[: text.index("moments:")])
    exercise = load_exercise(path)
    tree = Tree(Surges(exercise).surge(3))
    comparison = compare(exercise, 3, count=8, processes=1)
    data = json.loads(read(room_page(tree, comparison)).scripts[0])
    assert list(data["branches"]) == list(data["wash"]) == [""]
    assert data["branches"][""]["came"] == stretch_words(exercise, tree.branch(()))
    assert data["wash"][""]["short"] == in_short(comparison, ())
    assert data["moments"] == []


@pytest.mark.parametrize(
    ("length", "days", "steps_s"), [("24 h", False, [600, 3_600]), ("25 h", True, [3_600, 86_400])]
)
def test_an_exercise_of_a_day_is_walked_by_ten_minutes_and_a_longer_one_by_hours(
    tmp_path, length, days, steps_s
):
    path = small(tmp_path, scenario=SCENARIO.replace("horizon: 10 h", f"horizon: {length}"))
    text = path.read_text().replace("length: 10 h", f"length: {length}")
    path.write_text(text[: text.index("moments:")])
    exercise = load_exercise(path)
    tree = Tree(Surges(exercise).surge(3))
    data = room_data(tree, compare(exercise, 3, count=2, processes=1))
    assert (data["days"], data["steps_s"]) == (days, steps_s)


def test_parts_that_can_run_out_have_a_chart(made):
    data = json.loads(read(made[3]).scripts[0])
    assert [name for name, _ in data["charts"]][3:] == ["hoods"]


# --- in a browser ---------------------------------------------------------------------------


#: of a projector and of a laptop
SIZES = [(1920, 1080), (1366, 768)]


def opened(text, place, size):
    """Yield a page in Chromium, offline; errors of its script fail the test."""
    driver = pytest.importorskip("playwright.sync_api")
    chromium = shutil.which("chromium")
    if chromium is None:
        pytest.skip("no Chromium here")
    place.write_text(text, encoding="utf-8")
    with driver.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        width, height = size
        view = {"width": width, "height": height}
        page = browser.new_context(viewport=view, offline=True).new_page()
        errors, asked = [], []
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("console", lambda message: errors.append(message.text))
        page.on("request", lambda request: asked.append(request.url))
        page.goto(place.as_uri())
        yield page
        assert errors == []
        assert asked == [place.as_uri()]
        browser.close()


@pytest.fixture(params=SIZES, ids=["projector", "laptop"])
def browser_page(request, made, tmp_path):
    """The page of the small exercise."""
    yield from opened(made[3], tmp_path / "room.html", request.param)


@pytest.fixture(params=SHIPPED, ids=lambda path: path.stem, scope="module")
def shipped(request):
    """A shipped exercise, its surge as it is played, and its page, with few other surges."""
    exercise = load_exercise(request.param)
    number = chosen_surge(exercise, processes=1)
    tree = Tree(Surges(exercise).surge(number))
    return exercise, room_page(tree, compare(exercise, number, count=10, processes=1))


@pytest.fixture(params=SIZES, ids=["projector", "laptop"])
def shipped_page(request, shipped, tmp_path):
    """The page of a shipped exercise."""
    yield from opened(shipped[1], tmp_path / "room.html", request.param)


def hurry(page):
    """Let a stretch pass in a moment."""
    page.evaluate(
        "() => { const one = document.createElement('option'); one.value = '0.01';"
        "const speed = document.getElementById('speed');"
        "speed.append(one); speed.value = '0.01'; }"
    )


def fits(page, button):
    """A button is on the screen as it is, and nothing lies beside the screen."""
    box = page.get_by_role("button", name=button).bounding_box()
    below = page.locator("footer").bounding_box()["y"]
    assert box["y"] + box["height"] <= below
    assert page.evaluate("() => document.documentElement.scrollWidth <= window.innerWidth")


def nothing_of_the_future(exercise, page, choices, is_told=False):
    """Neither averages nor what is told later, nor choices that are not yet to be made."""
    shown = page.locator("body").inner_text()
    for words in ("on average", "random variation", "Every path", "95 % interval", "Hot wash"):
        assert words not in shown
    for later in exercise.moments[len(choices) + is_told :]:
        assert later.name not in shown
        assert later.read_aloud == exercise.file.title or later.read_aloud not in shown
        assert all(one.name not in shown for one in later.choices if one.name != "Wait")


def blocks_of(blocks, kind):
    return [one for one in blocks if isinstance(one, kind)]


def tab_to(page, words):
    for _ in range(80):  # the form of the report has many lines
        page.keyboard.press("Tab")
        now = page.evaluate(
            "() => document.activeElement.tagName + document.activeElement.id + "
            "(document.activeElement.textContent || '').slice(0, 40)"
        )
        if words in now:
            return
    raise AssertionError(f"no key leads to {words}")


@pytest.mark.slow
def test_a_group_plays_it_with_the_mouse_and_sees_no_future(made, browser_page):
    exercise, tree, comparison, _ = made
    page = browser_page
    fits(page, "Begin")
    nothing_of_the_future(exercise, page, ())
    page.get_by_role("button", name="Begin").click()
    nothing_of_the_future(exercise, page, ())
    hurry(page)
    for place, chosen in enumerate((1, 2)):
        page.get_by_role("button", name="What happens now").wait_for()
        fits(page, "What happens now")
        nothing_of_the_future(exercise, page, (1,)[:place])
        page.get_by_role("button", name="What happens now").click()
        fits(page, "Decide")
        nothing_of_the_future(exercise, page, (1,)[:place], is_told=True)
        assert int(page.locator("#time").get_attribute("max")) == exercise.moments[place].at
        assert page.locator("#board dd").first.inner_text() == str(
            tree.branch((1,)[:place]).seen.kits_ready[-1]
        )
        page.locator("input[type=radio]").nth(chosen).check()
        page.get_by_role("button", name="Decide").click()
    page.get_by_role("button", name="Hot wash").wait_for()
    assert stretch_words(exercise, tree.branch((1, 2))) in page.locator("#panel").inner_text()
    page.get_by_role("button", name="Hot wash").click()
    assert in_short(comparison, (1, 2)) in page.locator("#panel").inner_text()
    page.get_by_text("Every path").click()
    assert page.locator("tr.taken td").first.inner_text() == "2-3"
    assert page.locator("figure img").count() == 4  # two choices not taken at each decision
    rows = blocks_of(report_form(exercise), Table)
    blanks = sum(not cell for one in rows for row in one.rows for cell in row)
    assert page.get_by_role("textbox").count() == blanks + 3  # date, facilitator, players
    page.get_by_role("textbox").first.fill("6 January")
    assert "6 January" in page.locator("#panel").inner_text()
    assert page.get_by_role("button", name="Print").is_visible()
    assert page.title() == HOSTILE  # as text, and no script of a file has run


@pytest.mark.slow
def test_it_can_be_played_with_the_keyboard_alone(made, browser_page):
    page = browser_page
    tab_to(page, "BUTTONBegin")
    page.keyboard.press("Enter")
    hurry(page)
    for _ in range(2):
        page.get_by_role("button", name="What happens now").wait_for()
        tab_to(page, "BUTTONWhat happens")
        page.keyboard.press("Enter")
        tab_to(page, "INPUT")
        page.keyboard.press("ArrowDown")
        tab_to(page, "BUTTONDecide")
        page.keyboard.press("Enter")
    page.get_by_role("button", name="Hot wash").wait_for()
    tab_to(page, "INPUTtime")
    page.keyboard.press("Home")
    assert "earlier" in page.evaluate(
        "() => getComputedStyle(document.getElementById('clock'), '::after').content"
    )
    tab_to(page, "BUTTONpresent")
    page.keyboard.press("Enter")
    tab_to(page, "BUTTONHot wash")
    page.keyboard.press("Enter")
    tab_to(page, "SUMMARY")
    page.keyboard.press("Enter")
    assert page.locator("tr.taken td").first.inner_text() == "2-2"
    tab_to(page, "BUTTONBack to the board")
    page.keyboard.press("Enter")
    tab_to(page, "BUTTONHot wash")
    page.keyboard.press("Enter")
    assert page.locator("tr.taken td").first.inner_text() == "2-2"
    page.keyboard.press(" ")  # scrolls, and plays nothing
    assert page.locator("#play").inner_text() == "Play"


@pytest.mark.slow
def test_the_surge_and_the_discussion_can_be_stopped(made, browser_page):
    """The clocks on the wall are the browser's own, moved by hand here."""
    page = browser_page
    clock, shown = page.locator("#clock"), page.locator(".discussion output")
    page.get_by_role("button", name="Begin").click()
    page.get_by_role("button", name="Pause").click()
    stands = clock.inner_text()
    page.wait_for_timeout(700)
    assert clock.inner_text() == stands
    hurry(page)
    page.get_by_role("button", name="Play").click()
    page.clock.install()
    page.get_by_role("button", name="What happens now").click()
    assert shown.inner_text() == "5:00"
    page.clock.run_for(90_000)
    assert shown.inner_text() == "3:30"
    page.locator(".discussion").get_by_role("button", name="Pause").click()
    page.clock.run_for(60_000)
    assert shown.inner_text() == "3:30"
    page.get_by_role("button", name="1 min more").click()
    page.get_by_role("button", name="Go on").click()
    page.clock.run_for(280_000)
    assert shown.inner_text() == "Time is up"
    assert page.get_by_role("button", name="Decide").is_disabled()  # nobody decides for the group


@pytest.mark.slow
def test_nobody_can_look_beyond_the_present(made, browser_page):
    """The slider ends there, and a value beyond it is brought back."""
    exercise = made[0]
    page = browser_page
    page.get_by_role("button", name="Begin").click()
    hurry(page)
    page.get_by_role("button", name="What happens now").wait_for()
    clock = page.locator("#clock").inner_text()
    page.evaluate(
        "() => { const time = document.getElementById('time'); time.max = 99999; "
        "time.value = 99999; time.dispatchEvent(new Event('input')); }"
    )
    assert page.locator("#clock").inner_text() == clock == "Mon 09:00"
    assert int(page.locator("#time").get_attribute("max")) == exercise.moments[0].at
    assert page.locator("#play").is_disabled()


@pytest.mark.slow
def test_what_a_group_must_press_is_on_the_screen_of_a_shipped_exercise(shipped, shipped_page):
    """Without scrolling, at a projector's size and a laptop's; the last choice is the longest."""
    exercise, page = shipped[0], shipped_page
    fits(page, "Begin")
    nothing_of_the_future(exercise, page, ())
    page.get_by_role("button", name="Begin").click()
    hurry(page)
    for place in range(len(exercise.moments)):
        page.get_by_role("button", name="What happens now").wait_for()
        fits(page, "What happens now")
        page.get_by_role("button", name="What happens now").click()
        fits(page, "Decide")
        nothing_of_the_future(exercise, page, (2,) * place, is_told=True)
        page.locator("input[type=radio]").nth(2).check()
        page.get_by_role("button", name="Decide").click()
    page.get_by_role("button", name="Hot wash").wait_for()
    fits(page, "Hot wash")


@pytest.fixture
def page_with_a_permission(tmp_path):
    """An exercise in whose second decision local rules may forbid the second choice."""
    change = "{what: partial charge at reissue, allowed: yes}"
    exercise = loaded(tmp_path, ("{what: reserve for urgent entries, kits: 1}", change))
    tree = Tree(Surges(exercise).surge(3))
    text = room_page(tree, compare(exercise, 3, count=8, processes=1))
    yield from opened(text, tmp_path / "room.html", SIZES[1])


@pytest.mark.slow
def test_what_local_rules_forbid_is_struck_out_and_left_out_of_the_hot_wash(
    page_with_a_permission,
):
    page = page_with_a_permission
    page.get_by_role("button", name="Begin").click()
    hurry(page)
    for place in range(2):
        page.get_by_role("button", name="What happens now").click()
        assert page.locator(".strike").count() == 3
        assert "just before the news" in page.locator("#board").inner_text()
        if place:
            page.locator("input[type=radio]").nth(1).check()
            page.locator(".strike input").nth(1).check()
            assert page.locator("input[type=radio]").nth(1).is_disabled()
            assert page.get_by_role("button", name="Decide").is_disabled()
            page.locator(".strike input").nth(2).check()
            assert page.locator(".strike input").nth(0).is_disabled()  # one stays open
            page.locator(".strike input").nth(2).uncheck()
            assert page.locator(".strike input").nth(0).is_enabled()
        page.locator("input[type=radio]").nth(0).check()
        page.get_by_role("button", name="Decide").click()
    page.get_by_role("button", name="Hot wash").click()
    shown = page.locator("#panel").inner_text()
    assert "A result permits nothing." in shown[:60]
    assert shown.count("Reserve one") == 1
    page.get_by_text("Every path").click()
    assert "Struck out by your own rules and not compared: “Reserve one”." in shown
    assert all("-2" not in one for one in page.locator("details td:first-child").all_inner_texts())


@pytest.mark.slow
def test_time_moves_by_steps_and_begin_again_asks(made, browser_page):
    page = browser_page
    page.get_by_role("button", name="Begin").click()
    hurry(page)
    for _ in range(2):
        page.get_by_role("button", name="What happens now").click()
        page.locator("#time").focus()
        before = page.locator("#clock").inner_text()
        page.keyboard.press("PageDown")
        page.keyboard.press("ArrowLeft")
        page.keyboard.press("ArrowLeft")
        hours, minutes = map(int, before[-5:].split(":"))
        then = 60 * hours + minutes - 60 - 20
        assert page.locator("#clock").inner_text() == f"Mon {then // 60:02}:{then % 60:02}"
        assert "You look back to" in page.locator("#back").inner_text()
        page.get_by_role("button", name="Now").click()
        assert "look back" not in page.locator("#back").inner_text()
        page.locator("input[type=radio]").nth(0).check()
        page.get_by_role("button", name="Decide").click()
    page.get_by_role("button", name="Hot wash").click()
    page.get_by_role("textbox").first.fill("6 January")
    asked = []
    page.on("dialog", lambda dialog: (asked.append(dialog.message), dialog.dismiss()))
    page.get_by_role("button", name="Begin again").click()
    assert asked == ["Begin again? All that is written here is lost."]
    assert "6 January" in page.locator("#panel").inner_text()


@pytest.mark.slow
def test_the_condition_stands_below_what_was_chosen_and_what_came_of_it(page_with_a_permission):
    page = page_with_a_permission
    page.get_by_role("button", name="Begin").click()
    hurry(page)
    rules = "Manufacturer's instructions and local rules decide whether it may be done."
    for chosen in (0, 1):
        page.get_by_role("button", name="What happens now").click()
        page.locator("input[type=radio]").nth(chosen).check()
        page.locator("#speed").select_option("90")
        page.get_by_role("button", name="Decide").click()
        assert (rules in page.locator("#panel").inner_text()) == bool(chosen)
        hurry(page)
    page.get_by_role("button", name="Hot wash").wait_for()
    assert rules in page.locator("#panel").inner_text()
    page.get_by_role("button", name="Hot wash").click()
    assert page.locator("#panel").inner_text().count(rules) == 1


@pytest.mark.slow
def test_a_stretch_takes_as_long_on_the_wall_however_long_it_is(made, browser_page):
    """The first stretch is 2 h, the last one 5 h 30 min: each takes the seconds of the speed."""
    page = browser_page
    page.clock.install()
    page.get_by_role("button", name="Begin").click()
    for place in range(3):
        page.clock.run_for(40_000)
        assert page.get_by_role("button", name="Pause").is_visible()
        page.clock.run_for(10_000)
        if place < 2:
            page.get_by_role("button", name="What happens now").click()
            page.locator("input[type=radio]").nth(0).check()
            page.get_by_role("button", name="Decide").click()
    page.get_by_role("button", name="Hot wash").click()


def test_the_page_says_what_is_on_order(made):
    exercise, tree, _, page = made
    data = json.loads(read(page).scripts[0])
    assert data["on_order"] == "On order"
    branch = tree.branch((0, 0))
    said = dict(data["branches"]["1-1"]["orders"])
    for place, orders in enumerate(branch.orders):
        now = said[max(one for one in said if one <= place)]
        assert now == orders_words(exercise, orders)
    assert any("60 hoods, due day 1, Mon" in words for words in said.values())
