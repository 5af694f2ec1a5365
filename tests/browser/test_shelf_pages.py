"""Records on a phone: put on the shelf, used again, changed and withdrawn with one thumb."""

import re

import pytest
from playwright.sync_api import expect

SCRIPTS = pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
THUMB_PX = 48  # as all buttons of the page


def fill(page, **fields):
    for name, value in fields.items():
        field = page.locator(f'details[open] [name="{name}"]').first
        if field.evaluate("node => node.tagName") == "SELECT":
            field.select_option(value)
        else:
            field.fill(value)


@SCRIPTS
def test_a_vessel_from_the_first_page_to_its_withdrawal(bench_by_hand, visit, scripts):
    bench = bench_by_hand
    visitor = visit(bench.address, scripts=scripts)
    page = visitor.page
    page.get_by_role("link", name=re.compile("^Shelf")).click()
    page.get_by_role("link", name=re.compile("^Vessels")).click()
    page.get_by_text("Add a vessel", exact=True).click()
    fill(page, name="amber 75/x", wall="3")
    page.get_by_role("button", name="Put it on the shelf").click()
    if scripts:
        expect(page.locator("details[open] .answer")).to_contain_text("no slash")
    else:
        expect(page.locator("[data-detail]")).to_contain_text("no slash")
        page.go_back()
    page.goto(f"{bench.address}/shelf/vessels")
    page.get_by_text("Add a vessel", exact=True).click()
    fill(page, name="amber 75?", inner_diameter="7,5 cm", wall="3,2", leak_24_h="passed", by="Ines")
    page.get_by_role("button", name="Put it on the shelf").click()
    expect(page.locator("h1")).to_have_text("amber 75?")
    sheet = page.locator("main")
    expect(sheet).to_contain_text("3,2 mm")
    expect(sheet).to_contain_text(re.compile(r"leak 24 h\s*passed\s*Ines"))
    expect(sheet).to_contain_text("Not cleared; not yet checked: tip 10 degrees")

    page.get_by_text("Change", exact=True).click()
    expect(page.locator('details[open] [name="wall"]')).to_have_value("3,2")
    fill(page, wall="", height="90", why="measured", by="Tom")
    page.get_by_role("button", name="Change it").click()
    expect(sheet).to_contain_text(", Tom: measured")
    fields = bench.get("/api/vessels")["records"][0]["fields"]
    assert fields == {"inner_diameter": "7,5 cm", "height": "90 mm", "leak_24_h": "passed"}

    page.get_by_role("link", name="Use again").click()
    expect(page.locator('details[open] [name="height"]')).to_have_value("90")
    expect(page.locator('details[open] [name="leak_24_h"]')).to_have_value("")  # of this one only
    fill(page, name="amber 75, lot 2")
    page.get_by_role("button", name="Put it on the shelf").click()
    expect(page.locator("h1")).to_have_text("amber 75, lot 2")
    page.get_by_text("Withdraw", exact=True).click()
    fill(page, why="entered twice")
    page.get_by_role("button", name="Withdraw it").click()
    expect(page.locator("main .banner")).to_contain_text("Withdrawn")
    page.get_by_role("link", name="Vessels", exact=True).click()
    expect(page.locator("ul.shelf li")).to_have_text(
        [re.compile(r"amber 75\?"), re.compile("amber 75, lot 2 withdrawn")]
    )
    for button in page.locator("main .button").all():
        assert button.bounding_box()["height"] >= THUMB_PX
    assert visitor.complaints == []


def test_a_trial_names_what_is_on_the_shelf(bench_by_hand, visit):
    bench = bench_by_hand
    bench.post("/api/vessels", name="amber-75", by="Ines")
    bench.post("/api/vessels", name="old-jar")
    bench.post("/api/vessels/old-jar/withdraw", why="broken")
    page = visit(f"{bench.address}/shelf/trials").page
    page.get_by_text("Add a trial", exact=True).click()
    options = page.locator('details[open] [name="vessel"] option')
    expect(options).to_have_text(["not known", "amber-75"])
    fill(page, name="cedar-6", vessel="amber-75")
    page.get_by_role("button", name="Put it on the shelf").click()
    expect(page.locator("h1")).to_have_text("cedar-6")
    assert bench.get("/api/trials/cedar-6")["fields"] == {"vessel": "amber-75"}


def test_every_page_of_the_shelf_fits_a_phone(bench_by_hand, visit):
    bench = bench_by_hand
    bench.post("/api/formulas", name="slate 8", wax="Hazelmoor soy 12")
    page = visit(f"{bench.address}/shelf").page
    for path in ("/shelf", "/shelf/formulas", "/shelf/wicks?again=none", "/shelf/formulas/slate 8"):
        page.goto(bench.address + path)
        for summary in page.locator("main summary").all():
            summary.click()
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= page.viewport_size["width"], path
        expect(page.get_by_role("link", name="EMERGENCY")).to_be_visible()
    assert page.goto(f"{bench.address}/shelf/lamps").status == 404
