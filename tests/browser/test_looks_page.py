"""What is seen of a candle, entered with one thumb at a mark, with scripts and without."""

import re

import pytest
from playwright.sync_api import expect

CHECKED = ["tray", "clear", "vessel", "room", "lid", "watcher"]
SCRIPTS = pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
THUMB_PX = 48  # as all buttons of the page


def light(bench, at, **more):
    status, answer = bench.post(
        "/api/burns", station="jar-a", trial="cedar-6", checks=CHECKED, at=at, **more
    )
    assert status == 201, answer
    return answer["burn"]


def look(form, **seen):
    """Tap grades and words, type figures."""
    for name, value in seen.items():
        fields = form.locator(f'[name="{name}"]')
        if fields.first.get_attribute("type") == "radio":
            form.locator(f'[name="{name}"][value="{value}"]').check()
        else:
            for place, one in enumerate(value.split()):
                fields.nth(place).fill(one)


@SCRIPTS
def test_a_mark_opens_its_form_and_a_thumb_fills_it(bench_by_hand, visit, tmp_path, scripts):
    bench = bench_by_hand
    burn = light(bench, "29 min ago")
    page = visit(f"{bench.address}/stations/jar-a", scripts=scripts).page
    expect(page.locator(".alarm.notice")).to_contain_text("look at the candle at 30 min")
    expect(page.locator(".next-mark")).to_contain_text(re.compile("Look at 30 min of being lit"))
    expect(page.locator("summary", has_text="Look: the mark of 30 min")).to_be_visible()
    form = page.locator('details[data-key="look"][open] form')
    look(form, soot="1", flame="22,5", pool="42 40", full_pool="no", flicker="")
    page.screenshot(path=tmp_path / "look.png", full_page=True)
    form.get_by_text("Record the look", exact=True).click()
    seen = page.locator(".entry").filter(has_text="soot 1 (a trace)")
    expect(seen).to_contain_text("flame 22.5 mm; pool 42, 40 mm; full pool no; soot 1 (a trace)")
    expect(page.locator('[data-mark="seen"]')).to_contain_text("30 min")
    expect(page.locator(".next-mark")).to_contain_text("Look at 1 h of being lit")
    expect(page.locator(".alarm.notice")).to_have_count(0)
    expect(page.locator('details[data-key="look"]')).to_contain_text("last 42, 40 mm, ")

    # a thumb has hit the wrong grade
    seen.get_by_text("Correct", exact=True).click()
    change = seen.locator("details[open] form").first
    look(change, soot="0")
    change.locator('[name="why"]').fill("a shadow")
    change.get_by_text("Correct it", exact=True).click()
    expect(page.locator(".entry").filter(has_text="a shadow")).to_contain_text("soot 0 (none)")
    page.screenshot(path=tmp_path / "seen.png", full_page=True)

    for chip in page.locator(".chips label").all():
        if chip.is_visible():
            assert chip.bounding_box()["height"] >= THUMB_PX
    wide = page.evaluate("document.documentElement.scrollWidth") if scripts else 0
    assert wide <= page.viewport_size["width"]
    found = bench.get(f"/api/burns/{burn}")
    assert [one["seen"]["soot"] for one in found["looks"]] == ["0 (none)"]
    assert found["marks"][0] == {"mark_s": 1800.0, "state": "seen"}
    assert found["melt_pool"]["across_mm"] == 41.0


def test_a_missed_mark_is_shown_as_missed(bench_by_hand, visit):
    light(bench_by_hand, "100 min ago")
    page = visit(f"{bench_by_hand.address}/stations/jar-a").page
    missed = page.locator('[data-mark="missed"]')
    expect(missed).to_have_text(["30 min missed", "1 h missed"])
    expect(page.locator(".next-mark")).to_contain_text(re.compile("2 h .*: in (20|19) min"))
