"""What was entered, corrected, moved and withdrawn on the page, with scripts and without."""

import re

import pytest
from playwright.sync_api import expect

from tests.support.waiting import until

CHECKED = ["tray", "clear", "vessel", "room", "lid", "watcher"]
SCRIPTS = pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
THUMB_PX = 48  # as all buttons of the page


def entry(page, words):
    return page.locator(".entry").filter(has_text=words)


def change(page, words, summary, button, **fields):
    """Open a form of the entry with these `words`, fill it and press its button."""
    one = entry(page, words).first
    one.get_by_text(summary, exact=True).click()
    form = one.locator("details[open] form").first
    for name, value in fields.items():
        field = form.locator(f'[name="{name}"]').first
        if field.evaluate("node => node.tagName") == "SELECT":
            field.select_option(value)
        else:
            field.fill(value)
    form.get_by_text(button, exact=True).click()


@SCRIPTS
def test_mistakes_are_undone_with_a_thumb(bench_by_hand, visit, scripts):
    bench = bench_by_hand
    for station in ("jar-a", "tin-b"):
        status, answer = bench.post(
            "/api/burns", station=station, trial=f"cedar-{station[-1]}", checks=CHECKED
        )
        assert status == 201, answer
    status, answer = bench.post(
        f"/api/burns/{bench.now()['stations'][0]['burn']}/readings",
        values=[98.0, 98.4, 98.2],
        unit="degC",
        sure=True,
        height="60 mm",
    )
    assert status == 201, answer
    burn = answer["burn"]
    bench.post(f"/api/burns/{burn}/observations", emergency="crack", text="")
    page = visit(f"{bench.address}/stations/jar-a", scripts=scripts).page
    expect(page.locator(".alarm.danger")).to_have_count(1)

    # the emergency was tapped by mistake
    change(page, "EMERGENCY", "Withdraw", "Withdraw it", why="brushed the screen", by="Ines")
    gone = entry(page, "EMERGENCY")
    expect(gone).to_contain_text(re.compile("Withdrawn at .* by Ines: brushed the screen"))
    expect(page.locator(".alarm.danger")).to_have_count(0)

    # the reading was in degrees Fahrenheit
    change(page, "98.0, 98.4, 98.2 °C", "Correct or move", "Correct it", unit="degF", why="unit")
    expect(entry(page, "98.0, 98.4, 98.2 °F")).to_contain_text("98.0, 98.4, 98.2 °C")
    expect(page.locator(".alarm.warning")).to_have_count(0)

    # and of the other vessel
    change(page, "98.0, 98.4, 98.2 °F", "Correct or move", "Correct it", station="tin-b", why="jar")
    expect(page.locator("[data-place]")).to_have_count(0)

    def hottest():
        found = {one["station"]: one["hottest_measured"] for one in bench.now()["stations"]}
        return found if found["jar-a"] is None and found["tin-b"] is not None else None

    moved = until(hottest, "the reading counts at tin-b, and at jar-a no more")
    assert 36.0 < moved["tin-b"]["value"] < 37.5

    for button in page.locator(".entry summary.button").all():
        box = button.bounding_box()
        assert box["height"] >= THUMB_PX
        assert box["width"] >= THUMB_PX
    wide = page.evaluate("document.documentElement.scrollWidth") if scripts else 0
    assert wide <= page.viewport_size["width"]
    entry(page, "lit, a burn of").first.get_by_text("Correct", exact=True).click()


@SCRIPTS
def test_a_trial_nearly_named_so_is_asked_about(bench_by_hand, visit, scripts):
    bench = bench_by_hand
    bench.post("/api/burns", station="tin-b", trial="amber-jar-w6", checks=CHECKED)
    visitor = visit(f"{bench.address}/stations/jar-a", scripts=scripts)
    page = visitor.page
    visitor.tell("Record lighting", trial="Amber Jar W6", watched_by="Ines")
    expect(page.get_by_text("there is a trial amber-jar-w6").first).to_be_visible()
    if not scripts:
        page.go_back()
    else:
        page.locator("details[open] form").last.locator('[name="new_trial"]').check()
        page.locator("details[open] form").last.locator("button.main").click()
        expect(page.locator(".phase")).to_contain_text("recorded lit at")
        assert bench.now()["stations"][0]["trial"] == "Amber Jar W6"
