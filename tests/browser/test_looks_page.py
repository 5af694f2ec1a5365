"""What is seen of a candle, entered with one thumb at a mark, with scripts and without."""

import re

import pytest
from PIL import Image
from playwright.sync_api import expect

from tests.support.waiting import until

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
def test_a_mark_opens_its_form_and_a_thumb_fills_it(bench_by_hand, visit, scripts):
    bench = bench_by_hand
    burn = light(bench, "29 min ago")
    until(lambda: bench.alarm("mark/jar-a"), "the mark is told")
    page = visit(f"{bench.address}/stations/jar-a", scripts=scripts).page
    notice = page.locator(".alarm.notice")
    expect(notice).to_contain_text("time to look at the candle, 30 min of being lit")
    expect(page.locator(".next-mark")).to_contain_text(re.compile("Look at 30 min of being lit"))
    expect(page.locator("summary", has_text="Look: the mark of 30 min")).to_be_visible()
    form = page.locator('details[data-key="look"][open] form')
    look(form, soot="1", flame="22,5", pool="42 40", full_pool="no", flicker="")
    form.get_by_text("Record the look", exact=True).click()
    seen = page.locator(".entry").filter(has_text="soot 1 (a trace)")
    expect(seen).to_contain_text("flame 22.5 mm; pool 42, 40 mm; full pool no; soot 1 (a trace)")
    expect(page.locator('[data-mark="seen"]')).to_contain_text("30 min")
    expect(page.locator(".next-mark")).to_contain_text("Look at 1 h of being lit")
    expect(notice).to_have_count(0)
    expect(page.locator('details[data-key="look"]')).to_contain_text("last 42, 40 mm, ")

    # a thumb has hit the wrong grade
    seen.get_by_text("Correct", exact=True).click()
    change = seen.locator("details[open] form").first
    look(change, soot="0")
    change.locator('[name="why"]').fill("a shadow")
    change.get_by_text("Correct it", exact=True).click()
    expect(page.locator(".entry").filter(has_text="a shadow")).to_contain_text("soot 0 (none)")

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


def image(path):
    Image.new("RGB", (1200, 900), (190, 90, 40)).save(path)
    return path


@SCRIPTS
def test_after_out_one_card_a_photo_and_the_cooling(bench_by_hand, visit, tmp_path, scripts):
    bench = bench_by_hand
    burn = light(bench, "200 min ago", mass="532.4 g")
    for what, body in {
        "observations": {"mark": "3 h", "full_pool": "yes", "soot": 1},
        "readings": {
            "values": [52.0, 52.4, 52.2],
            "height": "60 mm",
            "at": "1 h ago",
            "sure": True,
        },
        "out": {"at": "12 min ago"},
    }.items():
        status, answer = bench.post(f"/api/burns/{burn}/{what}", **body)
        assert status == 201, answer
    page = visit(f"{bench.address}/stations/jar-a", scripts=scripts).page
    card = page.locator(".card")
    expect(card).to_contain_text("Burned for 3 h 08 min")
    expect(card).to_contain_text("Hottest measured place 52.2 °C")
    expect(card).to_contain_text("below your limit of 60.0 °C, counting ±")
    expect(card).to_contain_text("Verdict on this burn: undecided")
    expect(card).to_contain_text("May be lit again from ")
    expect(card.get_by_text("The record")).to_have_attribute("href", f"/burns/{burn}/record")
    expect(page.locator('[data-part="last-burn"]')).to_contain_text(
        "Full melt pool: yes, after 3 h"
    )
    expect(page.locator('[data-part="clock"]')).to_contain_text("Your cool-down lasts 3 h 48 min")

    # extinguishing: how long it smoked
    page.get_by_text("Look", exact=True).click()
    form = page.locator('details[data-key="look"] form')
    look(form, after_smoke="12", wax_solid="no")
    form.get_by_text("Record the look", exact=True).click()
    seen = page.locator(".entry").filter(has_text="after smoke 12 s; wax solid no")
    expect(seen).to_have_count(1)
    expect(page.locator('[data-part="clock"]')).to_contain_text("not yet solid when seen")

    page.get_by_text("Photo", exact=True).click()
    form = page.locator('details[data-key="photo"] form')
    form.locator('[name="photo"]').set_input_files(image(tmp_path / "jar.jpg"))
    form.locator('[name="text"]').fill("soot at 9")
    form.get_by_text("Keep the photo", exact=True).click()
    shown = page.locator(".entry img.photo")
    expect(shown).to_have_attribute("alt", "photo: soot at 9")
    shown.scroll_into_view_if_needed()
    expect(shown).to_have_js_property("naturalWidth", 1200)

    # a weighing of a warm candle is asked about once
    page.get_by_text("Weigh", exact=True).click()
    form = page.locator('details[data-key="weigh-in"] form')
    form.locator('[name="mass"]').fill("512,4")
    form.get_by_text("Record the mass", exact=True).click()
    expect(page.locator("body")).to_contain_text("do not lift it warm")
    page.get_by_text("Keep it as it is", exact=True).click()
    expect(page.locator(".entry").filter(has_text="weighed 512.4 g")).to_have_count(1)
    wide = page.evaluate("document.documentElement.scrollWidth") if scripts else 0
    assert wide <= page.viewport_size["width"]
    shown = bench.typed("burn", "show", "jar-a").stdout
    assert "burned for 3 h 08 min" in shown
    assert "20.0 g of wax used" in shown
    assert "nobody looked at the marks of 30 min, 1 h, 2 h" in shown
