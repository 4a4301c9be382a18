"""The page of a case: its texts are texts, its numbers are the case's, and it works in a browser.

The tests in a browser need Chromium and are skipped where there is none.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from surge_sim.cautions import CAUTION
from surge_sim.cli.main import exit_code_of
from surge_sim.purchase.case import PurchaseCase, purchase_case
from surge_sim.purchase.sized import read_sized
from surge_sim.report.case_checklist import checklist
from surge_sim.report.case_document import answer_words, case_document
from surge_sim.report.case_less import verdict_words
from surge_sim.report.case_page import case_page
from surge_sim.report.case_stages import limit_number
from surge_sim.report.document import Answer, Paragraph, Remark, Rows, Table
from surge_sim.report.rounding import number, percent
from surge_sim.report.svg import frame, steps
from surge_sim.sizing.betting import limits
from surge_sim.statistics.target import late_allowed
from surge_sim.units import duration_text
from tests.purchase.test_case import LOG, sized_folder
from tests.sizing.test_size_command import UNIT

HOSTILE = (
    "</script><script>document.title='x'</script><img src=x onerror=alert(1)> (invented) @DATA@"
)


@pytest.fixture(scope="module")
def sizing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return sized_folder(tmp_path_factory.mktemp("page"))


@pytest.fixture(scope="module")
def case(sizing: Path) -> PurchaseCase:
    return purchase_case(read_sized(sizing), processes=1)


@pytest.fixture(scope="module")
def page(case: PurchaseCase) -> str:
    return case_page(case)


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> PurchaseCase:
    """A case of a file whose names and texts are markup and scripts."""
    text = (
        UNIT.replace("Two days of a small unit (invented)", json.dumps(HOSTILE))
        .replace("How many kits and batteries does it need?", json.dumps(HOSTILE))
        .replace("talers (invented)", json.dumps(HOSTILE[:80] + " (invented)"))
        .replace("nurse", '"<b>n</b>"')
        .replace("{arrivals: invented}", f"{{arrivals: {json.dumps(HOSTILE)}, kit: '<i>x</i>'}}")
    )
    place = tmp_path_factory.mktemp("hostile")
    return purchase_case(read_sized(sized_folder(place, text)), processes=1)


class Reader(HTMLParser):
    """Tags, attributes, texts, and what stands in scripts."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.scripts: list[str] = []
        self.texts: list[str] = []
        self.policy = ""
        self.inside = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs
        if dict(attrs).get("http-equiv") == "Content-Security-Policy":
            self.policy = str(dict(attrs)["content"])
        self.inside = tag if tag in ("script", "style") else ""
        if tag == "script":
            self.scripts.append("")

    def handle_endtag(self, tag: str) -> None:
        self.inside = ""

    def handle_data(self, data: str) -> None:
        if self.inside == "script":
            self.scripts[-1] += data
        elif not self.inside:
            self.texts.append(" ".join(data.split()))

    @property
    def shown(self) -> str:
        """All texts, without what only separates them."""
        return "".join("".join(self.texts).split())


def flat(text: str) -> str:
    return "".join(text.split())


def test_a_page_has_one_script_and_its_policy_names_it_alone(page: str) -> None:
    reader = Reader(page)
    data, script = reader.scripts
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{digest}'" in reader.policy
    assert reader.policy.startswith("default-src 'none'")
    assert reader.tags.count("script") == 2
    assert len(json.loads(data)["stages"]) >= 3


def test_a_page_loads_nothing(page: str) -> None:
    # the name of a picture's format is no address that is asked for
    text = page.replace("http://www.w3.org/2000/svg", "").replace("http-equiv", "")
    assert "http:" not in text and "https:" not in text and "@import" not in text
    assert set(re.findall(r"url\([^)]*\)", text)) <= {
        "url(#dots)",
        "url(#stripes)",
        "url(#crosses)",
    }
    names = {name for name, _ in Reader(page).attributes}
    assert not names & {"src", "srcset", "action", "onclick", "onload", "onerror", "style"}
    links = [value for name, value in Reader(page).attributes if name == "href"]
    marks = {value for name, value in Reader(page).attributes if name == "id"}
    assert links and all(link and link[0] == "#" and link[1:] in marks for link in links)


def test_names_of_a_page_are_used_once(page: str) -> None:
    marks = [value for name, value in Reader(page).attributes if name == "id"]
    assert len(marks) == len(set(marks))


def test_texts_of_files_are_texts(hostile: PurchaseCase) -> None:
    reader = Reader(case_page(hostile))
    assert not {"img", "b", "i"} & set(reader.tags) and reader.tags.count("script") == 2
    assert flat(HOSTILE) in reader.shown
    data = json.loads(reader.scripts[0])
    assert data["currency"].startswith("</script>")
    assert all(name not in ("onerror", "src") for name, _ in reader.attributes)


def check_page_says_all(case: PurchaseCase, page: str) -> int:
    """Look for each text and each cell of the document in the page; return how many there were."""
    shown, said = Reader(page).shown, 0
    for block in case_document(case, signatures=False).blocks:
        match block:
            case Answer(text) | Paragraph(text) | Remark(_, text):
                words = [text]
            case Table(columns, rows):
                words = [*(one.header for one in columns), *(cell for row in rows for cell in row)]
            case Rows(rows):
                words = [cell for row in rows for cell in row]
            case _:
                words = []
        assert [one for one in words if flat(one) not in shown] == []
        said += len(words)
    return said


def test_a_page_says_what_the_document_says(case: PurchaseCase, page: str) -> None:
    assert check_page_says_all(case, page) > 100
    shown = Reader(page).shown
    assert flat(answer_words(case)) in shown and flat(CAUTION) in shown
    assert all(flat(one.said) in shown for one in checklist(case))


def test_rooms_have_a_picture_where_there_are_patients(case: PurchaseCase, page: str) -> None:
    name = flat("Patients in isolation rooms")
    assert name in Reader(page).shown
    course = case.course.copy()
    course.loc[course["thing"] == "rooms", ["mean", "p10", "p90"]] = 0.0
    assert name not in Reader(case_page(replace(case, course=course))).shown


def test_the_check_of_texts_finds_one_that_is_missing(case: PurchaseCase, page: str) -> None:
    with pytest.raises(AssertionError):
        check_page_says_all(case, page.replace("Doing nothing saves", "It saves"))


def test_every_input_is_shown_with_its_source(case: PurchaseCase, page: str) -> None:
    shown = Reader(page).shown
    invented = [one for one in case.assumptions if one.standing == "invented"]
    assert invented
    for one in case.assumptions:
        stem, _, last = one.name.rpartition(".")
        name = stem if last.isdigit() else one.name
        name = name.removeprefix(f"{one.section}.")
        assert (
            flat(name) in shown
            and flat(str(one.value or "none" if one.value is None else one.value)) in shown
        )
        assert flat(one.source) in shown or one.source == "no source is given"
    assert flat(f"Of {len(case.assumptions):,} input values") in shown


@pytest.mark.slow
def test_the_same_case_is_the_same_page(
    case: PurchaseCase, page: str, sizing: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    assert exit_code_of(["case", str(sizing), "--out", str(out), "--processes", "1"]) == 0
    assert (out / "case.html").read_text(encoding="utf-8") == page == case_page(case)
    assert len(page) < 1_000_000


@pytest.mark.slow
def test_where_nothing_need_be_bought_the_page_says_so(tmp_path: Path) -> None:
    text = UNIT.replace("{kits: 2, batteries: 3", "{kits: 9, batteries: 15")
    case = purchase_case(read_sized(sized_folder(tmp_path / "rich", text)), processes=1)
    assert flat("Nothing is requested") in Reader(case_page(case)).shown


def recorded(place: Path) -> PurchaseCase:
    head, rest = UNIT.split("arrivals: {baseline")
    text = f"{head}entries: {{from: log.csv}}\nkit:{rest.split('kit:', 1)[1]}"
    text = text.replace("{arrivals: invented}", "{entries: invented}")
    return purchase_case(read_sized(sized_folder(place, text)), processes=1)


def test_round_numbers_reach_what_they_must_hold() -> None:
    assert steps(0, whole=False)[0] == 0 and steps(10, whole=False)[-1] >= 10
    for most in (0.03, 0.9, 1, 7, 36, 84, 1_234, 99_999):
        marks = steps(most, whole=False)
        assert marks[0] == 0 and most <= marks[-1] <= 2 * most and 2 <= len(marks) <= 8
    assert all(mark == int(mark) for mark in steps(2.2, whole=True))
    area = frame(10, 36)
    assert area.y(0) == area.floor and area.y(area.most_y) < area.y(0) and area.x(0) < area.x(10)


# --- in a browser ---------------------------------------------------------------------------


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    driver = pytest.importorskip("playwright.sync_api")
    found = shutil.which("chromium")
    if found is None:
        pytest.skip("no Chromium here")
    with driver.sync_playwright() as play:
        browser = play.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield browser
        browser.close()


class Opened:
    """A page in Chromium, offline; errors of its script and requests are kept."""

    def __init__(self, browser: Any, place: Path, text: str, width: int, dark: bool) -> None:
        scheme = "dark" if dark else "light"
        size = {"width": width, "height": 900}
        self._context = browser.new_context(viewport=size, offline=True, color_scheme=scheme)
        self.page = self._context.new_page()
        self.errors: list[str] = []
        self.asked: list[str] = []
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))
        self.page.on("console", lambda message: self.errors.append(message.text))
        self.page.on("request", lambda request: self.asked.append(request.url))
        place.write_text(text, encoding="utf-8")
        self.page.goto(place.as_uri())
        self._at = place.as_uri()

    def close(self) -> None:
        assert self.errors == []
        assert self.asked == [self._at]
        self._context.close()


@pytest.fixture
def opened(chromium: Any, tmp_path: Path, page: str) -> Iterator[Any]:
    one = Opened(chromium, tmp_path / "case.html", page, 1440, False)
    yield one.page
    one.close()


def move(page: Any, control: str, value: float) -> None:
    page.locator(f"#{control}").evaluate(
        "(one, value) => { one.value = value; one.dispatchEvent(new Event('input')); }", value
    )


def cells_of(page: Any) -> list[list[str]]:
    return [
        row.locator("th, td").all_inner_texts() for row in page.locator("#stages tbody tr").all()
    ]


def limited(passes: int, surges: int, low: float, high: float, asked: float = 0.8) -> str:
    down, up = (limit_number(one, asked) for one in (low, high))
    return f"{passes} of {surges} ({down} to {up} %)"


def expected(case: PurchaseCase, wait_s: int, level: float, share: float) -> list[list[str]]:
    """What the table of stages must say of a target that was not sized."""
    by_wait, surges = case.by_wait, len(case.by_wait.entries)
    at = by_wait.waits_s.index(wait_s)
    allowed = np.array([late_allowed(int(one), level) for one in by_wait.entries])
    alpha = 1 - (case.sized.confidence or 0)
    asked, rows = case.target, []
    gains = (wait_s - asked.wait, asked.service_level - level, asked.share_of_surges - share)
    moved = any(gains)
    for place in range(len(case.sized.stages)):
        late = by_wait.late[place, :, at]
        met = int((late <= allowed).sum())
        low, high = limits(((met, surges),), share, alpha)
        verdict = (
            "shown to meet it"
            if low >= share
            else "shown to miss it"
            if high <= share
            else "undecided"
        )
        sized = case.sized.tables["stages"]["verdict"].iloc[place]
        if moved and min(gains) >= 0 and sized == "confirmed":
            verdict = "confirmed (follows from the confirmed target)"
        if moved and max(gains) <= 0 and sized == "not met":
            verdict = "not met (follows from the target of the request)"
        rows.append(
            [
                limited(met, surges, low, high, share),
                percent(float(late.sum() / by_wait.entries.sum())),
                number(case.stage(place, "hours_waited").value),
                percent(float(by_wait.worst_day[place, :, at].mean())),
                verdict,
            ]
        )
    return rows


@pytest.mark.slow
def test_at_first_the_page_shows_what_the_sizing_found(case: PurchaseCase, opened: Any) -> None:
    stages = case.sized.tables["stages"]
    for place, cells in enumerate(cells_of(opened)):
        row = stages.iloc[place]
        passes, surges = int(row["surges_on_target"]), int(row["surges"])
        assert cells[3] == limited(passes, surges, row["low"], row["high"])
        assert cells[4] == percent(row["share_late"]) and cells[5] == number(row["hours_waited"])
        assert cells[6] == percent(row["worst_day_share_late"])
        assert cells[1] == verdict_words(case, place)
        assert cells[-3:] == [f"{row[item]:,}" for item in ("kits", "batteries", "bays")]
        assert ("requested" in cells[0]) == bool(row["recommended"])
    chosen = opened.locator("#stages tr.chosen")
    assert chosen.count() == 1 and "requested" in chosen.inner_text()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("wait_s", "level", "share"),
    [
        (600, 0.95, 0.8),
        (0, 0.5, 0.8),
        (300, 0.9, 0.95),
        (900, 0.99, 0.98),
        (900, 0.99, 0.5),
        (300, 0.8, 0.8),
    ],
)
def test_the_controls_give_what_the_plays_say(
    case: PurchaseCase, opened: Any, wait_s: int, level: float, share: float
) -> None:
    data = json.loads(opened.locator("#data").text_content())
    words = duration_text(wait_s)
    move(opened, "wait", [one["words"] for one in data["waits"]].index(words))
    move(opened, "level", [one["share"] for one in data["levels"]].index(level))
    move(opened, "share", [one["share"] for one in data["shares"]].index(share))
    found = [cells[3:7] + cells[1:2] for cells in cells_of(opened)]
    assert found == expected(case, wait_s, level, share)
    said = opened.locator("#result").inner_text()
    assert f"wait {words} or less" in said
    good = ("shown to meet it", "confirmed")
    first = next((at for at, row in enumerate(found) if row[-1].startswith(good)), None)
    if first is None:
        assert "No stage of this table is shown to meet it" in said
    else:
        cost = cells_of(opened)[first][2]
        assert f"The first stage that is shown to meet it costs {cost} " in said
    assert "--target wait=" in opened.locator("#again").inner_text()
    # no share of 95 % is shown by 100 surges: u is 0.48, so each gives ln(1 + 0.48 / 19) = 0.025
    # at most, and ln 20 = 3.0 is asked for
    assert ("too few to show" in opened.locator("#meaning").inner_text()) == (share >= 0.95)


@pytest.mark.slow
def test_a_sizing_for_a_moved_target_finds_the_counts_of_the_page(
    opened: Any, case: PurchaseCase, tmp_path: Path
) -> None:
    """What the page says of a target is what `size` says of it, on the surges that both know."""
    other = read_sized(sized_folder(tmp_path, UNIT, "--target", "wait=10min,service_level=95%"))
    data = json.loads(opened.locator("#data").text_content())
    move(opened, "wait", [one["words"] for one in data["waits"]].index("10 min"))
    move(opened, "level", [one["share"] for one in data["levels"]].index(0.95))
    table = other.tables["stages"]
    there = dict(zip(other.stages, table.to_dict(orient="records"), strict=True))
    checked = 0
    for stock, cells in zip(case.sized.stages, cells_of(opened), strict=True):
        if stock not in there or there[stock]["surges"] != there[stock]["same_surges"]:
            continue
        row = there[stock]
        assert cells[3] == limited(row["surges_on_target"], row["surges"], row["low"], row["high"])
        assert cells[4] == percent(row["share_late"])
        words = {"confirmed": "shown to meet it", "not met": "shown to miss it"}
        if "follows" not in cells[1]:
            assert cells[1] == words.get(row["verdict"], row["verdict"])
        checked += 1
    assert checked >= 2


@pytest.mark.slow
def test_money_chooses_the_dearest_stage_that_it_pays(case: PurchaseCase, opened: Any) -> None:
    amounts = [case.stage(place, "cost").value or 0.0 for place in range(len(case.sized.stages))]
    for amount in (0.0, amounts[1], amounts[-1], amounts[2] - 1):
        move(opened, "money", amount)
        at = float(opened.locator("#money").input_value())
        want = max(place for place, one in enumerate(amounts) if one <= at)
        rows = opened.locator("#stages tbody tr")
        assert [row.get_attribute("class") == "chosen" for row in rows.all()].index(True) == want
    opened.get_by_role("button", name="Back to the request").click()
    assert "requested" in opened.locator("#stages tr.chosen").inner_text()


@pytest.mark.slow
def test_it_works_with_the_keyboard_alone(case: PurchaseCase, opened: Any) -> None:
    opened.keyboard.press("Tab")
    assert opened.evaluate("document.activeElement.className") == "skip"
    seen = []
    for _ in range(60):
        opened.keyboard.press("Tab")
        seen.append(opened.evaluate("document.activeElement.id"))
        if seen[-1] == "wait":
            break
    assert "money" in seen and seen[-1] == "wait"
    before = opened.locator("#result").inner_text()
    opened.keyboard.press("ArrowRight")
    assert opened.locator("#wait").get_attribute("aria-valuetext") == "6 min"
    assert opened.locator("#result").inner_text() != before
    for _ in range(60):
        opened.keyboard.press("Tab")
        if opened.evaluate("document.activeElement.closest('#stages') !== null"):
            break
    opened.keyboard.press("Enter")
    assert opened.locator("#stages tbody tr").first.get_attribute("class") == "chosen"
    pressed = opened.locator("#stages button").first.get_attribute("aria-pressed")
    assert pressed == "true"


@pytest.mark.slow
@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("width", [390, 1440])
def test_every_screen_passes_the_checks_of_accessibility(
    chromium: Any, tmp_path: Path, page: str, width: int, dark: bool
) -> None:
    """Contrast, names, roles and order, by axe-core; nothing is wider than the screen."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    one = Opened(chromium, tmp_path / "case.html", page, width, dark)
    one.page.evaluate(
        "document.querySelectorAll('details').forEach((each) => { each.open = true; })"
    )
    found = axe.Axe().run(one.page)
    wrong = [
        (each["id"], node["target"], node.get("failureSummary"))
        for each in found.response["violations"]
        for node in each["nodes"]
    ]
    assert wrong == []
    assert one.page.evaluate("document.documentElement.scrollWidth") <= width
    one.close()


@pytest.mark.slow
def test_the_accessibility_check_finds_what_is_wrong(chromium: Any, tmp_path: Path) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    text = '<!doctype html><html lang="en"><title>x</title><main><p style="color:#bbb">pale</p>'
    one = Opened(chromium, tmp_path / "wrong.html", text, 390, False)
    assert "color-contrast" in {
        each["id"] for each in axe.Axe().run(one.page).response["violations"]
    }
    one.close()


@pytest.mark.slow
def test_paper_shows_inputs_that_were_shut_and_no_controls(opened: Any) -> None:
    shut = opened.locator("section > details:not([open])")
    assert shut.count() > 0
    opened.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert shut.count() == 0
    opened.emulate_media(media="print")
    assert not opened.locator(".controls").is_visible() and not opened.locator("nav").is_visible()
    assert opened.locator("#result").is_visible() and opened.locator("#stages").is_visible()
    opened.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert shut.count() > 0
    assert opened.pdf().startswith(b"%PDF")


@pytest.mark.slow
def test_without_a_script_the_stages_are_those_of_the_document(
    chromium: Any, tmp_path: Path, page: str
) -> None:
    place = tmp_path / "case.html"
    place.write_text(page, encoding="utf-8")
    context = chromium.new_context(java_script_enabled=False)
    shown = context.new_page()
    shown.goto(place.as_uri())
    assert not shown.locator("#explore").is_visible()
    assert shown.locator(".without-script table").is_visible()
    context.close()


@pytest.mark.slow
def test_hostile_names_stay_texts_in_a_browser(
    chromium: Any, tmp_path: Path, hostile: PurchaseCase
) -> None:
    text = case_page(hostile)
    one = Opened(chromium, tmp_path / "case.html", text, 1440, False)
    assert one.page.title() == HOSTILE
    assert "</script>" in one.page.locator("#money-said").inner_text()
    move(one.page, "wait", 0)
    assert one.page.locator("#explore img, #explore b").count() == 0
    one.close()


@pytest.mark.slow
def test_where_nothing_need_be_bought_the_controls_work_all_the_same(
    chromium: Any, tmp_path: Path
) -> None:
    """Also with a target of delays that has a part for urgent entries."""
    parts = "late_by: delay, urgent: {wait: 2 min, service_level: 90 %}, service_level: 90 %"
    text = UNIT.replace("{kits: 2, batteries: 3, bays: 3}", "{kits: 12, batteries: 20, bays: 6}")
    text = text.replace("service_level: 90 %", parts)
    case = purchase_case(read_sized(sized_folder(tmp_path / "rich", text)), processes=1)
    assert case.sized.in_hand == case.sized.proposed
    one = Opened(chromium, tmp_path / "case.html", case_page(case), 390, False)
    move(one.page, "wait", 0)
    said = one.page.locator("#result").inner_text()
    assert "are served 0 min or less later than with ample stock; the other parts" in said
    assert "Nothing bought: 12 kits" in said
    one.close()


@pytest.mark.slow
def test_a_recorded_period_has_no_limits_and_no_share_of_plays(
    chromium: Any, tmp_path: Path
) -> None:
    assert len(LOG) > 100
    case = recorded(tmp_path / "log")
    assert case.replay is not None and case.replay.alike
    one = Opened(chromium, tmp_path / "case.html", case_page(case), 390, False)
    assert not one.page.locator("#share").is_visible()
    move(one.page, "wait", 0)
    shares = [cells[3] for cells in cells_of(one.page)]
    assert set(shares) <= {"0 of 1", "1 of 1"}
    verdicts = [cells[1] for cells in cells_of(one.page)]
    assert verdicts == ["met here" if share == "1 of 1" else "not met here" for share in shares]
    one.close()
