"""A reading round with a hand thermometer and one thumb."""

import re
import time

import pytest
from playwright.sync_api import expect

CHECKED = ["tray", "clear", "vessel", "room", "lid", "watcher"]
LEAST_PX = 44  # of a target (WCAG 2.2, 2.5.5 Target Size (Enhanced))
TAP_S = 0.45  # a thumb on a pad: some two keys a second (our choice)


@pytest.fixture
def jars(bench_by_hand):
    """Two jars burn; the places of both, and the thermometer, are on the shelf."""
    bench = bench_by_hand
    bench.post("/api/thermometers", name="ir-1", sensing="infrared", emissivity_set=0.95)
    for station in ("jar-a", "tin-b"):
        status, answer = bench.post(
            "/api/burns", station=station, trial=f"cedar-{station[-1]}", checks=CHECKED
        )
        assert status == 201, answer
        status, answer = bench.post(
            "/api/rounds",
            name=station,
            places="left, right, back",
            height="40 mm",
            finish="bare-glass",
            thermometer="ir-1",
        )
        assert status == 201, answer
    return bench


class Thumb:
    """Taps on the pad, counted."""

    def __init__(self, page) -> None:
        self.page = page
        self.digits = 0
        self.others = 0

    def key(self, name: str) -> None:
        button = self.page.locator("#pad").get_by_role("button", name=name, exact=True)
        if name.isdigit() or name.startswith("Decimal"):
            self.digits += 1
        else:
            self.others += 1
        button.click()

    def type(self, *values: str) -> None:
        for number, value in enumerate(values):
            if number:
                self.key("Next value")
            for char in value:
                self.key(char if char.isdigit() else "Decimal point")
        self.key("Record")


def current(page):
    return page.locator(".step.current")


def last(page):
    return page.locator(".step.last")


def readings(bench, station=0):
    burn = bench.now()["stations"][station]["burn"]
    found = bench.get(f"/api/burns/{burn}")["entries"]
    return [one["text"] for one in found if "read by hand" in one["text"]]


def test_a_place_takes_three_taps_beside_its_digits(jars, visit):
    bench = jars
    page = visit(f"{bench.address}/round").page
    expect(page.locator("#live-word")).to_have_text("live")
    expect(current(page)).to_contain_text("jar-a: left")
    expect(current(page)).to_contain_text("next reading round in 30 min")
    assert current(page).locator("[name=where]").input_value() == "page"  # a person, not a program
    thumb = Thumb(page)
    thumb.type("41.2", "41.6", "41.4")
    expect(last(page)).to_contain_text(re.compile(r"4[0-9]\.\d °C ± \d.* left to limit"))
    expect(last(page)).to_contain_text("average of 3")
    expect(current(page)).to_contain_text("jar-a: right")
    assert thumb.others <= 3
    assert (thumb.digits + thumb.others) * TAP_S <= 8.0
    assert readings(bench) == ["read by hand, wall, 40 mm, 9 o'clock: 41.2, 41.6, 41.4 °C"]

    # one value sees the flame
    thumb.type("43", "61.5", "43.4")
    expect(last(page)).to_contain_text("61.5 set aside: far above the others")
    expect(last(page)).to_contain_text("doubtful: fewer than 3 values")
    # the same place again, and on
    thumb.key("Same place again")
    expect(current(page)).to_contain_text("jar-a: right")
    thumb.type("43", "43.2", "43.4")
    expect(last(page)).not_to_contain_text("set aside")
    expect(current(page)).to_contain_text("jar-a: back")
    thumb.key("Next jar")
    expect(current(page)).to_contain_text("tin-b: left")
    thumb.key("Next place")
    thumb.type("52", "52", "52")  # over the limit of metal
    expect(last(page)).to_contain_text("OVER LIMIT")
    expect(page.locator("[data-part=round-alarms]")).to_contain_text("over your limit")
    thumb.key("Next place")
    expect(page.locator("#done")).to_contain_text("next reading round in 30 min")
    expect(page.locator("#pad")).to_be_hidden()
    page.get_by_role("button", name="Begin the next round").click()
    expect(current(page)).to_contain_text("jar-a: left")


def test_a_doubt_is_answered_in_one_tap(jars, visit):
    page = visit(f"{jars.address}/round").page
    expect(page.locator("#live-word")).to_have_text("live")
    Thumb(page).type("104.2", "104.6", "104.4")  # in °F it would be right
    expect(current(page)).to_contain_text("did you mean 106.5 °F?")
    keep = current(page).get_by_role("button", name="Keep it as it is")
    expect(keep).to_be_in_viewport(ratio=1)
    assert not covered(page, keep)
    keep.click()
    expect(current(page)).to_contain_text("jar-a: right")
    expect(last(page)).to_contain_text("OVER LIMIT")
    assert len(readings(jars)) == 1


def test_a_round_goes_on_without_a_connection(jars, visit):
    page = visit(f"{jars.address}/round#tin-b-1").page
    expect(page.locator("#live-word")).to_have_text("live")
    expect(current(page)).to_contain_text("tin-b: left")
    page.context.set_offline(True)
    thumb = Thumb(page)
    for value in ("41.2", "41.6", "41.9"):
        thumb.type(value, value, value)
    expect(page.locator("#unsent article")).to_have_count(3)
    expect(page.locator("#unsent")).to_contain_text("tin-b, left (41.2 41.2 41.2)")
    expect(page.locator("#unsent")).to_contain_text("3 not yet sent")
    expect(page.locator("#tin-b-3")).to_contain_text("Kept here, not yet sent")
    page.context.set_offline(False)
    expect(page.locator("#unsent")).to_be_hidden()
    assert len(readings(jars, 1)) == 3
    expect(page.locator("#tin-b-3")).to_contain_text("average of 3")
    expect(page.locator("#tin-b-3 .not-sent")).to_be_hidden()


def covered(page, target) -> bool:
    """Whether something else lies over the middle of `target`."""
    return not target.evaluate(
        """node => {
            const box = node.getBoundingClientRect();
            const top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
            return node.contains(top);
        }"""
    )


def test_everything_is_in_reach_of_a_thumb(jars, visit):
    visitor = visit(f"{jars.address}/round", theme="dark")
    page = visitor.page
    expect(page.locator("#live-word")).to_have_text("live")
    thumb = Thumb(page)
    thumb.type("41.2", "61.6", "41.4")
    expect(last(page)).to_contain_text("set aside")
    thumb.key("4")
    for button in page.locator("#pad button").all():
        box = button.bounding_box()
        assert min(box["width"], box["height"]) >= LEAST_PX
    for part in (last(page), current(page).locator(".slots"), page.locator("a.emergency")):
        expect(part).to_be_in_viewport(ratio=1)
        assert not covered(page, part)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    names = page.locator("#pad button").evaluate_all(
        "nodes => nodes.map(node => node.getAttribute('aria-label') ?? node.textContent.trim())"
    )
    assert all(names)
    fields = current(page).get_by_role("textbox")
    assert [one.evaluate("node => node.labels[0].textContent") for one in fields.all()] == [
        "First value",
        "Second value",
        "Third value",
    ]
    assert visitor.complaints == []


def test_a_round_by_keyboard(jars, visit):
    page = visit(f"{jars.address}/round").page
    expect(page.locator("#live-word")).to_have_text("live")
    current(page).get_by_label("First value").focus()
    page.keyboard.type("41.2")
    page.keyboard.press("Tab")
    page.keyboard.type("41,6")
    page.keyboard.press("Enter")
    expect(current(page)).to_contain_text("jar-a: right")
    expect(last(page)).to_contain_text("average of 2")


def test_a_round_without_scripts(jars, visit):
    visitor = visit(f"{jars.address}/round", scripts=False)
    page = visitor.page
    expect(page.locator(".step")).to_have_count(6)
    form = page.locator("#jar-a-1 form")
    for field, value in zip(form.locator("[name=values]").all(), ("41,2", "41,6"), strict=False):
        field.fill(value)
    form.get_by_role("button", name="Record").click()
    assert page.url == f"{jars.address}/round#jar-a-2"
    expect(page.locator("#jar-a-1")).to_contain_text("average of 2")
    expect(page.locator("#pad")).to_be_hidden()


def test_places_and_thermometer_are_named_once_on_the_phone(bench_by_hand, visit):
    bench = bench_by_hand
    bench.post("/api/burns", station="jar-a", trial="cedar-6", checks=CHECKED)
    page = visit(f"{bench.address}/stations/jar-a").page
    expect(page.locator(".round-due")).to_contain_text("next reading round in 30 min")
    page.get_by_role("link", name="Reading round").click()
    page.get_by_role("link", name="Name the places of jar-a").click()
    form = page.locator("details[open] form")
    expect(form.locator("[name=name]")).to_have_value("jar-a")
    form.locator("[name=places]").fill("left, rim")
    form.get_by_role("button", name="Put it on the shelf").click()
    expect(form.locator(".answer")).to_contain_text("a wall place needs its height")
    form.locator("[name=height]").fill("45")
    form.get_by_role("button", name="Put it on the shelf").click()
    expect(page.locator("main")).to_contain_text("Left: wall, 45 mm, 9 o'clock")
    page.get_by_role("link", name="Reading round").click()
    expect(current(page)).to_contain_text("jar-a: left")
    expect(page.locator(".step")).to_have_count(2)


def test_an_overdue_round_is_said_plainly(bench_by_hand, visit):
    bench = bench_by_hand
    bench.post("/api/burns", station="jar-a", trial="cedar-6", checks=CHECKED, at="42 min ago")
    page = visit(f"{bench.address}/stations/jar-a").page
    expect(page.locator(".round-due")).to_contain_text(
        re.compile("READING ROUND OVERDUE by 1[23] min")
    )
    burn = bench.now()["stations"][0]["burn"]
    bench.post(f"/api/burns/{burn}/readings", values=[41, 41, 41], height="40 mm")
    began_s = time.monotonic()
    expect(page.locator(".round-due")).to_contain_text("next reading round in 30 min")
    assert time.monotonic() - began_s < 15.0  # by the stream, not by the page drawn anew


def test_the_pad_has_the_comma_of_the_maker_s_language(jars, browser):
    context = browser.new_context(viewport={"width": 390, "height": 844}, locale="de-DE")
    try:
        page = context.new_page()
        page.goto(f"{jars.address}/round")
        expect(page.locator("#live-word")).to_have_text("live")
        for key in ("4", "1", "Decimal comma", "6", "Record"):
            page.locator("#pad").get_by_role("button", name=key, exact=True).click()
        expect(last(page)).to_contain_text("average of 1")
        assert readings(jars)[0].endswith("41.6 °C")
    finally:
        context.close()
