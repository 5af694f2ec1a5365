"""Several candles on one bench: what needs a person first, and pages for every hand.

WCAG 2.2 at level AA: axe-core knows the success criteria that a program can judge (its rules are
tagged by criterion); the others (order of focus, announcements) are tried here by keyboard.
"""

import re

import pytest
from playwright.sync_api import expect

from tests.support.axe import axe_script
from tests.support.browser_bench import SIZES
from tests.support.busy_bench import BusyBench

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
GRAVE = ("serious", "critical")
BOTH = ("/", "/stations/jar-a")  # in both sizes and themes
IN_TURN = (
    "/stations/jar-d",
    "/light",
    "/stations/jar-a#emergency",
    "/instruments",
    "/instruments/probes",
    "/round",
    "/burns",
    "/burns/1",
    "/shelf",
    "/shelf/vessels/amber-90",
    "/shelf/testers",
    "/plan",
    "/change",
    "/bench-check",
    "/own-trials",
    "/manual/alarms",
    "/compare",
    "/costs",
    "/no-such-page",  # an error is a live page too
)


@pytest.fixture(scope="module")
def busy_bench(tmp_path_factory):
    """Several candles, looked at by every test here."""
    with BusyBench(tmp_path_factory.mktemp("busy")) as running:
        running.begin()
        yield running


def test_axe_finds_nothing_serious_and_no_request_leaves(busy_bench, browser, pytestconfig):
    axe = axe_script(pytestconfig.cache.mkdir("axe-core"))
    looks = [
        ("phone", "light", (*BOTH, *IN_TURN[::2])),
        ("laptop", "dark", (*BOTH, *IN_TURN[1::2])),
    ]
    found, asked = [], set()
    for size, theme, paths in looks:
        width, height = SIZES[size]
        context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme=theme, bypass_csp=True
        )
        page = context.new_page()
        page.on("request", lambda request: asked.add(request.url))
        for path in paths:
            page.goto(busy_bench.address + path)
            expect(page.locator("#live-word")).to_have_text("live")
            page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
            page.evaluate(axe)
            said = page.evaluate(
                "tags => axe.run({ runOnly: tags, resultTypes: ['violations'] })", TAGS
            )
            found += [
                f"{size} {theme} {path}: {one['impact']} {one['id']} {one['nodes'][0]['html'][:99]}"
                for one in said["violations"]
                if one["impact"] in GRAVE
            ]
        context.close()
    assert found == []
    assert all(url.startswith((busy_bench.address, "data:", "blob:")) for url in asked), asked


def in_sight(node, page) -> bool:
    """Whether it begins on the first screen, above the bar."""
    at, bar = node.bounding_box(), page.locator(".bar").bounding_box()
    return at is not None and at["y"] >= 0.0 and at["y"] + 60.0 < bar["y"]


def test_what_needs_a_person_first_comes_first(busy_bench, visit):
    visitor = visit(busy_bench.address, size="phone", locale="de-DE")
    page = visitor.page
    expect(page.locator("#live-word")).to_have_text("live")
    first = re.compile(r"^\s*Now, tin-c:\s*WARNING, limit reached")
    expect(page.locator(".next")).to_have_text(first)
    names = page.locator(".panel").evaluate_all("nodes => nodes.map(node => node.dataset.key)")
    assert names == ["tin-c", "jar-b", "jar-a", "jar-d"]  # the next look at jar-b comes before
    warning = page.locator(".alarm.warning").first
    expect(warning).to_contain_text("51,0 °C ± 1,2")  # as who looks writes figures
    assert in_sight(warning, page)
    jar = page.locator(".panel[data-key='jar-a']")
    expect(jar).to_contain_text("Lit, as last confirmed: recorded lit at")
    expect(jar).to_contain_text("Wax at 64 mm, seen at")
    expect(jar).to_contain_text("Melt pool 61 mm across, the vessel 75 mm inside")
    unrolled = re.compile("^The wall unrolled. Never measured")
    expect(jar.locator(".wall")).to_have_attribute("aria-label", unrolled)
    wax, pool, vessel = (
        jar.locator(f".vessel .{one}").bounding_box() for one in ("wax", "pool", "inside")
    )
    assert wax["height"] / vessel["height"] == pytest.approx(64.0 / 90.0, abs=0.05)  # its record's
    assert pool["width"] / wax["width"] == pytest.approx(61.0 / 75.0, abs=0.05)
    expect(jar.locator(".hot .big")).to_have_text("45,0 °C")

    # on another page and far down the warning stays in sight, with a link to its station
    page.goto(f"{busy_bench.address}/burns")
    expect(page.locator(".grave a")).to_have_text(re.compile("WARNING tin-c: limit reached"))
    page.locator(".grave a").click()
    page.wait_for_url("**/stations/tin-c")
    assert in_sight(page.locator(".alarm.warning").first, page)

    # acknowledged it still stands, behind what waits for a person
    page.locator(".alarm.warning summary").first.click()
    page.locator(".alarm.warning button.main").first.click()
    seen = page.locator("[data-part=alarms-seen] .alarm.warning")
    expect(seen).to_contain_text("acknowledged")
    expect(page.locator(".grave")).to_contain_text("acknowledged")
    page.goto(busy_bench.address)
    expect(page.locator(".next")).to_contain_text("WARNING, limit reached")
    assert visitor.complaints == []


def test_the_page_knows_when_nothing_gets_through(busy_bench, visit):
    visitor = visit(f"{busy_bench.address}/stations/jar-a")
    page = visitor.page
    expect(page.locator("#live-word")).to_have_text("live")
    page.context.set_offline(True)  # the stream that is open goes on: requests fail
    expect(page.locator("#live-word")).to_have_text("OFFLINE", timeout=5_000)
    expect(page.locator("#stands")).to_contain_text("nothing here will warn you")
    act = page.locator("details.act[data-key=look]")
    if act.get_attribute("open") is None:
        act.locator("summary").first.click()
    form = act.locator("form")
    form.locator("[name=flame]").first.fill("22")
    form.locator("[name=soot]").nth(2).check(force=True)
    form.locator("[name=at]").fill("20 min ago")
    form.get_by_text("Record the look", exact=True).click()
    expect(page.locator("#unsent")).to_contain_text("flame 22 mm")
    expect(page.locator("#unsent")).to_contain_text("soot 1 a trace")
    page.context.set_offline(False)
    expect(page.locator("#live-word")).to_have_text("live")
    expect(page.locator("#unsent")).to_be_hidden()
    # what was entered is listed by its own time: this lies before the look of 10 min ago
    expect(page.locator(".entry")).to_have_count(3)
    said = page.locator(".entry > p:first-child").all_inner_texts()
    assert ["wax level" in one for one in said] == [True, False, False]
    assert "flame 22 mm" in said[1]
    assert visitor.complaints == []


def test_which_probe_is_which(busy_bench, visit):
    page = visit(f"{busy_bench.address}/instruments").page
    card = page.locator(".instrument", has_text="probes")
    expect(card).to_contain_text("works: readings are coming")
    expect(card).to_contain_text("Never compared with a better thermometer: due")
    busy_bench.port.send_raw(b"45.0,4x.0,44.0,22.0\n")
    expect(card).to_contain_text("4x.0")  # what was refused, with an excerpt
    card.get_by_text("Set up its probes").click()
    expect(page.locator("[data-part=care]")).to_contain_text("jar-b: recorded lit.")
    expect(page.locator("#moves")).to_have_text("None moves now.")
    held = page.locator("[data-probe='jar-a-wall-30-9']")
    expect(held.locator(".big")).to_have_text("43.0 °C")
    busy_bench.values[1] = 46.5
    try:
        expect(page.locator("#moves")).to_have_text("This one moves: jar-a-wall-30-9")
        expect(held).to_contain_text("+")
        expect(page.locator(".probe.moved")).to_have_count(1)
    finally:
        busy_bench.values[1] = 43.0


def test_it_can_be_installed_and_keeps_the_screen_awake(busy_bench, visit):
    page = visit(f"{busy_bench.address}/manual").page
    manifest = page.evaluate(
        "fetch(document.querySelector('[rel=manifest]').href).then(found => found.json())"
    )
    assert (manifest["start_url"], manifest["display"]) == ("/", "standalone")
    for icon in manifest["icons"]:
        found = page.request.get(busy_bench.address + icon["src"])
        assert found.headers["content-type"] == icon["type"]
    page.add_init_script(
        """const ask = WakeLock.prototype.request;
        WakeLock.prototype.request = function (...words) {
          window.asked = words;
          return ask.apply(this, words);
        };"""
    )
    page.goto(busy_bench.address)
    page.wait_for_function("window.asked?.[0] === 'screen'")


def test_an_evening_by_keyboard_alone(busy_bench, visit):
    visitor = visit(f"{busy_bench.address}/stations/jar-d", size="laptop")
    page = visitor.page
    expect(page.locator("#live-word")).to_have_text("live")
    page.evaluate(
        """() => {
          window.heard = [];
          const region = document.getElementById("announced");
          if (region.textContent) window.heard.push(region.textContent);
          new MutationObserver(() => window.heard.push(region.textContent))
            .observe(region, { childList: true, characterData: true, subtree: true });
        }"""
    )

    def tab_to(words: str) -> None:
        for _ in range(120):
            page.keyboard.press("Tab")
            here = page.evaluate(
                """() => { const node = document.activeElement;
                  const at = node.getBoundingClientRect();
                  const bar = document.querySelector(".bar").getBoundingClientRect();
                  return [(node.labels?.[0] ?? node).textContent.replace(/\\s+/g, " ").trim(),
                    at.bottom > 0 && (at.top < bar.top || node.closest(".bar") !== null)]; }"""
            )
            assert here[1], f"{here[0]}: hidden under the bar"  # WCAG 2.2, 2.4.11
            if here[0].startswith(words):
                return
        raise AssertionError(f"no Tab leads to {words}")

    page.keyboard.press("Tab")
    expect(page.locator(":focus")).to_have_text("To the page's content")  # 2.4.1
    tab_to("Record lighting")
    page.keyboard.press("Enter")
    tab_to("Trial")
    page.keyboard.press("Control+A")
    page.keyboard.type("oak-5")
    tab_to("It stands on a level")
    page.keyboard.press("Space")
    tab_to("It is lit")
    page.keyboard.press("Enter")
    expect(page.locator(".phase").first).to_contain_text("recorded lit at")
    tab_to("Note")
    page.keyboard.press("Enter")
    tab_to("What you see")
    page.keyboard.type("steady")
    tab_to("Record the note")
    page.keyboard.press("Enter")
    expect(page.locator("#recorded")).to_contain_text("Record the note")

    # an emergency, by keyboard: it is announced once and then never again by a redrawing
    tab_to("EMERGENCY")
    page.keyboard.press("Enter")
    tab_to("The flame is too high")
    page.keyboard.press("Enter")
    danger = page.locator("#to-announce li", has_text="DANGER")
    expect(danger).to_have_count(1)
    page.wait_for_function("window.heard.some((said) => said.includes('DANGER'))")
    for text in ("one", "two"):  # each draws the page anew
        busy_bench.done(
            f"/api/burns/{busy_bench.now()['stations'][3]['burn']}/observations", text=text
        )
        expect(page.locator(".entry", has_text=text).first).to_be_visible()
    heard = page.evaluate("window.heard")
    assert sum("DANGER" in said for said in heard) == 1, heard
    page.goto(f"{busy_bench.address}/instruments")  # another page of the same window keeps silent
    expect(page.locator("#live-word")).to_have_text("live")
    expect(page.locator("#announced")).to_be_empty()
    expect(page.locator(".grave")).to_contain_text("DANGER jar-d")
    assert visitor.complaints == []
