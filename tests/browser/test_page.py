"""The page in a real browser, on a phone and a laptop, in both themes, with scripts and without."""

import re
import time

import pytest
from playwright.sync_api import expect

from tests.support.browser_bench import SIZES, Bench, configuration
from tests.support.waiting import patient

MM = 96.0 / 25.4  # CSS pixels (CSS Values and Units 4, section 6.2)

LOOKS = [("phone", "light"), ("phone", "dark"), ("laptop", "dark"), ("laptop", "light")]


CHECKED = ["tray", "clear", "vessel", "room", "lid", "watcher"]


def lit(bench, **more) -> str:
    """A burn recorded behind the page's back."""
    status, answer = bench.post(
        "/api/burns", station="jar-a", trial="cedar-6", checks=CHECKED, **more
    )
    assert status == 201, answer
    return answer["burn"]


@pytest.fixture(scope="module")
def lit_bench(tmp_path_factory):
    """A bench that several tests look at, one after another; a candle is recorded lit."""
    with Bench(tmp_path_factory.mktemp("lit"), configuration()) as running:
        running.begin()
        running.burn = lit(running)
        yield running


def test_an_evening_at_the_bench(hot_bench, visit):
    bench = hot_bench
    visitor = visit(bench.address, size="laptop", theme="dark")
    page = visitor.page
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    expect(page.locator("#live-word")).to_have_text("live")
    expect(page.locator(".phase")).to_contain_text("No burn recorded")

    # lights
    visitor.tell("Record lighting", trial="cedar-6", tester="M6", watched_by="Ines")
    expect(page.locator(".phase")).to_contain_text("as last confirmed: recorded lit at")
    expect(page.locator(".phase")).to_contain_text("Ines")
    assert bench.now()["stations"][0]["trial"] == "cedar-6"
    expect(page.locator(".entry")).to_have_count(1)  # the tab was open before anything was lit
    expect(page.get_by_text("The record so far")).to_be_visible()

    # sees the curve move
    expect(page.locator("#curve canvas")).to_be_visible()
    when = page.locator("#curve .chart-at")
    before = when.inner_text()
    until_page(page, lambda: when.inner_text() != before, "it moves", 20)
    expect(page.locator('[data-f="hot-place"]')).to_contain_text("wall, 60 mm, 3 o'clock")
    expect(page.locator(".hot .big")).to_have_text("58.0 °C")

    # acknowledges
    alarm = page.locator(".alarm.caution")
    expect(alarm).to_contain_text("near your limit")
    alarm.get_by_text("Acknowledge", exact=True).click()
    expect(alarm).to_contain_text("Are you at the candle?")
    alarm.locator('[name="by"]').first.fill("Ines")
    alarm.locator("button.main").first.click()
    expect(alarm).to_contain_text("acknowledged by Ines")
    assert bench.alarm("wall-alert/jar-a-wall-60-3")["acknowledged_where"] == "page"

    # enters a reading, by a number with a comma, and first a wrong one
    page.get_by_text("Reading", exact=True).click()
    form = page.locator("form[action$='/readings']")
    assert form.locator('[name="where"]').input_value() == "page"  # a person, not a program
    form.locator('[name="values"]').fill("39,6 39.9")
    form.locator("button.main").click()
    expect(form.locator(".answer")).to_contain_text("height")
    form.locator('[name="height"]').fill("45")
    form.locator('[name="clock"]').select_option("2")
    form.locator('[name="values"]').fill("103,6")  # in °F it would be right
    form.locator("button.main").click()
    expect(form.locator(".answer")).to_contain_text("did you mean 103.6 °F?")
    expect(form.locator('.answer [name="sure"]')).to_have_text("Keep it as it is")
    form.locator('[name="values"]').fill("39,6 39.9")
    expect(form.locator(".answer")).to_be_empty()  # what was changed is asked anew
    form.locator("button.main").last.click()
    expect(page.locator("#recorded")).to_contain_text("Record the reading")
    mark = page.locator(".vessel [data-place='jar-a-hand-wall-45-2']")
    expect(mark).to_contain_text("39.8 °C")  # mean 39.75
    expect(mark).to_contain_text("by hand")

    # writes a note
    visitor.tell("Note", text="flame 20 mm, steady")
    expect(page.locator("#recorded")).to_contain_text("Record the note")

    # loses the service, and gets it back
    bench.kill()
    killed_s = time.monotonic()
    expect(page.locator("#live-word")).to_have_text("OFFLINE", timeout=5_000)
    assert time.monotonic() - killed_s < 5.0
    expect(page.locator("#live-age")).to_contain_text(re.compile(r"last value .*, \d s ago"))
    expect(page.locator("#stands")).to_contain_text("nothing here will warn you")
    page.get_by_text("Record it is out", exact=True).click()
    out = page.locator("form[action$='/out']")
    out.locator("button.main").click()
    unsent = page.locator("#unsent .urgent")
    expect(unsent).to_contain_text("THE BENCH DOES NOT KNOW IT YET: It is out, tapped at")
    bench.start()
    expect(page.locator("#live-word")).to_have_text("live")
    expect(page.locator("#stands")).to_be_hidden()

    # what was tapped meanwhile arrives by itself
    expect(page.locator("#unsent")).to_be_hidden()
    expect(page.locator(".phase")).to_contain_text("Out, cooling")
    expect(page.locator(".coming")).to_contain_text("may be lit again")
    burn = bench.now()["stations"][0]["burn"]
    assert bench.get(f"/api/burns/{burn}")["out"] is not None

    # weighs
    visitor.tell("Weigh", mass="511,3", wax="220")
    page.get_by_role("button", name="Keep it as it is").click()  # it cannot be cold yet
    expect(page.locator("#recorded")).to_contain_text("Record the mass")
    assert bench.get(f"/api/burns/{burn}")["weighed"]["after_g"] == 511.3
    assert visitor.complaints == []
    json_side = {
        url.removeprefix(bench.address).partition("?")[0] for url in asked if "/api/" in url
    }
    drawings = {"/api/curves", "/api/curves/series", f"/api/burns/{burn}/wall"}
    assert json_side == {"/api/live", *drawings}  # forms go as without scripts


def test_the_same_evening_without_scripts(hot_bench, visit):
    bench = hot_bench
    visitor = visit(bench.address, size="phone", scripts=False)
    page = visitor.page
    assert "does not change by itself" in visitor.text(".banner >> visible=true")
    visitor.tell("Record lighting", trial="cedar-6", tester="M6", watched_by="Ines")
    assert "recorded lit at" in visitor.text(".phase")
    assert page.url == bench.address + "/"
    assert "near your limit" in visitor.text(".alarm.caution")
    expect(page.locator("img.paper")).to_be_visible()
    assert page.locator("img.paper").evaluate("image => image.naturalWidth") > 300
    visitor.tell("Acknowledge", by="Ines")
    assert "acknowledged by Ines" in visitor.text(".alarm.caution")
    visitor.tell("Reading", values="39,6 39.9", height="45", clock="2")
    mark = page.locator(".vessel [data-place='jar-a-hand-wall-45-2']")
    expect(mark).to_contain_text("39.8 °C")
    page.get_by_text("I have it in sight").click()
    assert "in sight" in visitor.text(".phase")
    visitor.tell("Note", text="flame 20 mm")
    page.locator("a.emergency").click()
    assert "no water" in visitor.text("#emergency").lower()
    page.get_by_role("button", name="The flame is too high").click()
    assert "jar-a: EMERGENCY" in visitor.text(".alarm.danger")
    expect(page.locator("#emergency")).to_be_hidden()
    visitor.tell("Record it is out")
    assert "Out, cooling" in visitor.text(".phase")
    visitor.tell("Weigh", mass="511,3")
    page.get_by_role("button", name="Keep it as it is").click()  # it cannot be cold yet
    burn = bench.now()["stations"][0]["burn"]
    assert bench.get(f"/api/burns/{burn}")["weighed"]["after_g"] == 511.3
    visitor.tell("Record lighting", trial="cedar-7", at="yesterday-ish")
    assert "Nothing was recorded" in visitor.text(".banner >> visible=true")


def test_an_emergency_is_words_first_and_two_touches(bench, visit):
    lit(bench)
    visitor = visit(bench.address)
    page = visitor.page
    page.mouse.wheel(0, 3000)
    button = page.locator("a.emergency")
    expect(button).to_be_in_viewport(ratio=1)
    button.click()
    for words in (
        "snuffer or a flat metal lid",
        "No water",
        "never lift it",
        "call the fire service",
    ):
        expect(page.locator("#emergency .advice")).to_contain_text(words)
    expect(page.locator("#emergency .advice")).to_be_in_viewport(ratio=1)
    page.get_by_role("button", name="The vessel is cracked").click()
    expect(page.locator(".alarm.danger")).to_contain_text("the vessel is cracked")
    expect(page.locator(".todo")).to_contain_text("Keep away from running wax")
    expect(page.locator("#emergency")).to_be_hidden()
    assert bench.alarm("emergency/jar-a")["priority"] == "danger"


def test_it_can_be_read_and_hit(lit_bench, visit):
    visitor = visit(lit_bench.address)
    page = visitor.page
    expect(page.locator("#live-word")).to_have_text("live")
    expect(page.locator("#curve canvas")).to_be_visible()
    for size, theme in LOOKS:
        width, height = SIZES[size]
        page.set_viewport_size({"width": width, "height": height})
        page.emulate_media(color_scheme=theme)
        first_screen(page)
        colours(page, theme)
    for size in SIZES:
        width, height = SIZES[size]
        page.set_viewport_size({"width": width, "height": height})
        every_target(page)
    assert visitor.complaints == []


def first_screen(page) -> None:
    """What is read from afar."""
    page.evaluate("scrollTo(0, 0)")
    digits_px = page.locator(".hot .big").evaluate(
        """node => {
            const pen = document.createElement("canvas").getContext("2d");
            const {fontWeight, fontSize, fontFamily} = getComputedStyle(node);
            pen.font = `${fontWeight} ${fontSize} ${fontFamily}`;
            const box = pen.measureText("47");
            return box.actualBoundingBoxAscent + box.actualBoundingBoxDescent;
        }"""
    )
    assert digits_px >= 10.0 * MM  # a thumb's breadth away, at arm's length
    expect(page.locator(".hot .big")).to_be_in_viewport(ratio=1)
    expect(page.locator('[data-f="remaining"]')).to_be_in_viewport(ratio=1)


def colours(page, theme: str) -> None:
    """Dark paper where the phone is dark."""
    paper = page.evaluate("getComputedStyle(document.body).backgroundColor")
    luminance = sum(int(part) for part in re.findall(r"\d+", paper)[:3])
    assert (luminance > 600) == (theme == "light")


def every_target(page) -> None:
    """All that is tapped is large enough, forms open, and nothing reaches beyond the page."""
    page.evaluate(
        """() => {
            for (const act of document.querySelectorAll("main details.act")) act.open = true;
        }"""
    )
    small = page.evaluate(
        """() => [...document.querySelectorAll(
                "button, .button, summary, select, textarea, a.emergency, "
                + "input:not([type=hidden], [type=checkbox], [type=radio]), "
                + "label:has(:is([type=checkbox], [type=radio]))")]
            .map(node => [node.outerHTML.slice(0, 60), node.getBoundingClientRect()])
            .filter(([, box]) => box.width > 0 && (box.height < 48 || box.width < 48))
            .map(([words, box]) => `${words} ${box.width}x${box.height}`)"""
    )
    assert small == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_labels_of_the_vessel_are_not_cut(lit_bench, visit):
    page = visit(lit_bench.address).page
    expect(page.locator("#live-word")).to_have_text("live")
    for rim in (58.9, 52.0):  # over the limit and near it, both doubtful
        lit_bench.post(f"/api/burns/{lit_bench.burn}/readings", values=[rim], place="rim")
        expect(page.locator(".vessel [data-place='jar-a-hand-rim']").first).to_contain_text(
            f"{rim} °C"
        )
        for width, height in SIZES.values():
            page.set_viewport_size({"width": width, "height": height})
            labels_stand_apart(page)


def labels_stand_apart(page) -> None:
    """Every label is within the window, and none lies over another."""
    cut = page.evaluate(
        """() => [...document.querySelectorAll(".vessel:not(.key) text")]
            .map(node => [node.textContent, node.getBoundingClientRect()])
            .filter(([, box]) => box.left < 0 || box.right > innerWidth).map(([words]) => words)"""
    )
    assert cut == []
    overlapping = page.evaluate(
        """() => {
            const boxes = [...document.querySelectorAll(".vessel .label")]
                .map(node => node.getBoundingClientRect());
            const meet = (a, b) => a.left < b.right && b.left < a.right
                && a.top < b.bottom - 1 && b.top < a.bottom - 1;
            return boxes.filter((a, at) => boxes.slice(at + 1).some(b => meet(a, b))).length;
        }"""
    )
    assert overlapping == 0


def test_each_place_stands_where_it_is(bench, visit):
    page = visit(bench.address).page

    def box(name):
        mark = page.locator(f".vessel [data-place='{name}'] .dot")
        return mark.bounding_box()

    right, left = box("jar-a-wall-60-3"), box("jar-a-wall-60-9")
    near, far, base = box("jar-a-wall-30-6"), box("jar-a-wall-80-12"), box("jar-a-base")
    assert right["x"] > near["x"] > left["x"]
    assert right["y"] == pytest.approx(left["y"], abs=0.5)
    floor = base["y"] + base["height"] / 2 - near["height"] / 2
    heights = {30: floor - near["y"], 60: floor - right["y"], 80: floor - far["y"]}
    assert heights[60] == pytest.approx(2 * heights[30], rel=0.02)
    assert heights[80] == pytest.approx(heights[30] * 8 / 3, rel=0.02)
    classes = [
        page.locator(f".vessel [data-place='{name}'] .dot").get_attribute("class")
        for name in ("jar-a-wall-30-6", "jar-a-wall-80-12", "jar-a-wall-60-3")
    ]
    assert classes == ["dot near", "dot far", "dot side"]


def test_a_silent_place_never_looks_fresh(bench, visit):
    lit(bench)
    page = visit(bench.address).page
    expect(page.locator("#live-word")).to_have_text("live")
    bench.values[3] = None
    mark = page.locator(".vessel [data-place='jar-a-wall-80-12']")
    expect(mark).to_contain_text("no reading", timeout=patient(40_000))
    expect(mark.locator(".gone")).to_be_visible()
    expect(page.locator('[data-f="unread"]')).to_contain_text("1 of 5 places give no reading")
    expect(page.locator('[data-f="hot-place"]')).to_contain_text("3 o'clock")
    row = page.locator("tr[data-place='jar-a-wall-80-12']")
    expect(row).to_contain_text("no reading")
    assert "gradient" in row.locator("td").nth(1).evaluate(
        "node => getComputedStyle(node).backgroundImage"
    )


def test_a_hidden_tab_lets_go_and_comes_back_with_everything(bench, visit):
    lit(bench)
    visitor = visit(bench.address)
    page = visitor.page
    expect(page.locator("#live-word")).to_have_text("live")
    asked, ended = [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("requestfailed", lambda request: ended.append(request.url))
    page.on("requestfinished", lambda request: ended.append(request.url))
    turn = """visibility => {
        Object.defineProperty(document, "visibilityState", {value: visibility, configurable: true});
        document.dispatchEvent(new Event("visibilitychange"));
    }"""
    page.evaluate(turn, "hidden")
    until_page(page, lambda: any(url.endswith("/api/live") for url in ended), "the stream ends")
    asked.clear()
    burn = bench.now()["stations"][0]["burn"]
    bench.post(f"/api/burns/{burn}/out")
    page.wait_for_timeout(1500)
    assert asked == []
    page.evaluate(turn, "visible")
    expect(page.locator(".phase")).to_contain_text("Out, cooling")
    expect(page.locator("#live-word")).to_have_text("live")
    until_page(page, lambda: any("/api/curve" in url for url in asked), "the curve is fetched")
    assert bench.address + "/" in asked  # the page as it is now
    assert any(url.endswith("/api/live") for url in asked)


def until_page(page, condition, what, within_s=10) -> None:
    """Wait while the browser's events are heard."""
    end_s = time.monotonic() + patient(within_s)
    while not condition():
        assert time.monotonic() < end_s, what
        page.wait_for_timeout(50)


def test_a_bench_by_hand_says_that_nothing_will_warn(bench_by_hand, visit):
    visitor = visit(bench_by_hand.address)
    page = visitor.page
    expect(page.locator("#live-word")).to_have_text("live")
    expect(page.locator(".panel", has_text="nothing will warn you")).to_have_count(2)
    page.get_by_role("link", name="tin-b", exact=True).click()
    expect(page.locator("h1")).to_have_text("tin-b")
    expect(page.locator(".banner >> visible=true")).to_contain_text("nothing will warn you")
    visitor.tell("Record lighting", trial="tin-2")
    expect(page.locator(".todo")).to_contain_text("Read the wall by hand")
    visitor.tell("Reading", values="52", height="40")
    expect(page.locator(".hot .big")).to_have_text("52.0 °C")
    expect(page.locator("section.key")).to_contain_text("OVER LIMIT")  # of metal: 51 degC
    expect(page.locator(".alarm.warning")).to_contain_text("over your limit")
    assert visitor.complaints == []


def test_hostile_words_stay_words(bench, visit):
    hostile = "<img src=x onerror=\"document.title='broken in'\">"
    visitor = visit(bench.address)
    page = visitor.page
    visitor.tell("Record lighting", trial=hostile, watched_by=hostile)
    expect(page.locator("[data-part=trial]")).to_contain_text(hostile)
    expect(page.locator("#curve canvas")).to_be_visible()
    assert page.title() == "jar-a, test-bench"
    assert page.locator("img").count() == 0
    assert visitor.complaints == []


def test_seven_pages_of_one_browser_all_live(bench, visit):
    """A browser has six connections for one host (common practice of all that speak HTTP/1.1)."""
    manual = f"{bench.address}/manual"  # live as every page is, and the cheapest
    first = visit(manual).page
    pages = [first, *(first.context.new_page() for _ in range(6))]
    for page in pages[1:]:
        page.goto(manual)
    for page in pages:
        expect(page.locator("#live-word")).to_have_text("live")
    assert all(map(moves, pages))
    for page in pages[:3]:  # whoever holds the stream, another takes it over
        page.close()
    for page in pages[3:]:
        expect(page.locator("#live-word")).to_have_text("live")
    assert all(map(moves, pages[3:]))


def moves(page) -> bool:
    """Whether the time of the latest estimate goes on, as a page tells it."""
    age = page.locator("#live-age")
    before = age.inner_text()
    until_page(page, lambda: age.inner_text() != before, "the time goes on", 10)
    return True
