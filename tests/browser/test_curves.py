"""The page of curves in a real browser: zoom, cursor, link, several burns, gap, and no script."""

import re
import time
from statistics import median

import pytest
from playwright.sync_api import expect

from logger.web.static import has_chart
from tests.support.browser_bench import Bench, configuration
from tests.support.past_burns import PastBurn, put
from tests.support.waiting import patient

LENGTH_S = 1800.0


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """A bench with two burns of before, of two trials."""
    assert has_chart(), "no chart library: run `make .venv` where npm can be reached"
    text = configuration().replace('silent_after = "3 s"', 'silent_after = "30 s"')
    with Bench(tmp_path_factory.mktemp("curves"), text.replace('"1 s"', '"5 s"')) as running:
        now_s = float(int(time.time()))
        running.first = PastBurn(now_s - 7200.0, LENGTH_S, trial="cedar-6", peak_c=57.0)
        running.second = PastBurn(now_s - 4200.0, LENGTH_S, trial="cedar-8", peak_c=53.0)
        put(running.config, running.first, running.second)
        running.values = [30.0, 28.0, 27.0, 26.0, 25.0, 22.0]
        running.begin()
        yield running


def id_of(burn) -> str:
    return f"jar-a-{int(burn.lit_s + 0.1)}"


def opened(visit, bench, path, **look):
    """The page with its chart drawn."""
    visitor = visit(bench.address + path, **look)
    expect(visitor.page.locator(".chart-plot canvas")).to_be_visible()
    return visitor


def range_of(page):
    """From and to of the view, as its link says."""
    found = re.search(r"from=([\d.]+)&to=([\d.]+)", page.url)
    return (float(found[1]), float(found[2])) if found else None


def wait_for(page, condition, what):
    end_s = time.monotonic() + patient(10)
    while not condition():
        assert time.monotonic() < end_s, what
        page.wait_for_timeout(50)


def pinch(page, apart_from, apart_to):
    """Two fingers on the middle of the chart, as the browser's own input sends them."""
    session = page.context.new_cdp_session(page)
    box = page.locator(".u-over").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def touch(kind, apart):
        points = [{"x": x - apart / 2, "y": y, "id": 0}, {"x": x + apart / 2, "y": y, "id": 1}]
        session.send(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": points if kind != "touchEnd" else []},
        )

    touch("touchStart", apart_from)
    for step in range(1, 6):
        touch("touchMove", apart_from + (apart_to - apart_from) * step / 5)
    touch("touchEnd", 0)


@pytest.mark.parametrize(
    ("size", "theme"), [("phone", "dark"), ("laptop", "light")], ids=lambda word: word
)
def test_from_the_whole_burn_to_single_readings_and_a_link_to_it(bench, visit, size, theme):
    visitor = opened(visit, bench, f"/burns/{id_of(bench.first)}/curve", size=size, theme=theme)
    page, lit_s = visitor.page, bench.first.lit_s
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")  # nothing sideways
    over = page.locator(".u-over")
    over.scroll_into_view_if_needed()

    # the cursor: value and uncertainty of each place, and where nothing was measured no figure
    over.hover(position={"x": over.bounding_box()["width"] * 0.35, "y": 60})
    places = page.locator(".chart-places li")
    expect(places).to_have_count(6)
    expect(places.nth(0)).to_contain_text(re.compile(r"A wall, 30 mm, 6 o'clock.*\d\d\.\d °C ± \d"))
    expect(page.locator(".chart-at")).to_contain_text(re.compile(r"\d\d:\d\d.*h after lighting"))
    silent = bench.first.silent_s[0] + 200.0 - lit_s
    (gap,) = [n for n in range(6) if "60 mm, 9" in places.nth(n).inner_text()]
    plot_s = LENGTH_S + 1800.0  # half an hour of cooling is drawn
    over.hover(position={"x": over.bounding_box()["width"] * silent / plot_s, "y": 60})
    expect(places.nth(gap)).to_contain_text("no reading")

    # places switched on and off
    places.nth(5).get_by_role("checkbox").uncheck()
    wait_for(page, lambda: "off=F" in page.url, "the link knows it")

    # zoom: wheel, drag, keys, buttons, two fingers
    over.hover(position={"x": over.bounding_box()["width"] / 2, "y": 60})
    page.mouse.wheel(0, -100)
    wait_for(page, lambda: range_of(page), "the wheel zooms")
    spans = [range_of(page)[1] - range_of(page)[0]]
    box = over.bounding_box()
    page.mouse.move(box["x"] + box["width"] * 0.3, box["y"] + 80)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.6, box["y"] + 80, steps=4)
    page.mouse.up()
    for act in (
        lambda: None,  # the drag
        lambda: page.keyboard.press("+"),
        lambda: page.get_by_role("button", name="Zoom in").click(),
        lambda: pinch(page, 60.0, 120.0),
    ):
        page.locator(".chart-plot").focus()
        act()
        wait_for(page, lambda: range_of(page)[1] - range_of(page)[0] < spans[-1] - 1.0, "it zooms")
        spans.append(range_of(page)[1] - range_of(page)[0])
    assert spans[1] == pytest.approx(0.3 * spans[0], rel=0.05)
    assert spans[-1] == pytest.approx(spans[-2] / 2.0, rel=0.2)
    before = range_of(page)
    page.get_by_role("button", name="Later").click()
    wait_for(page, lambda: range_of(page)[0] > before[0], "it moves")

    # single readings, the rejected ones among them
    while range_of(page)[1] - range_of(page)[0] > 200.0:
        page.get_by_role("button", name="Zoom in").click()
    asked = page.evaluate(
        """async ([burn, from, to]) => (await (await fetch(`/api/curves/readings?burn=${burn}` +
        `&from=${from}&to=${to}&channel=jar-a-wall-60-3`)).json()).places[0]""",
        [id_of(bench.first), lit_s + 900.0, lit_s + 1200.0],
    )
    usual = median(asked["values"])
    high = [n for n, value in enumerate(asked["values"]) if value > usual + 5.0]
    assert len(asked["values"]) == 60  # one each 5 s
    assert high
    assert set(high) <= set(asked["rejected"])  # 9 K above the place: hits of the flame

    # a link to exactly this view, and the table of the same
    link = page.get_by_role("link", name="Link to this view").get_attribute("href")
    first = page.locator("#figures tbody th").first
    again = opened(visit, bench, link.removeprefix(bench.address), size=size, theme=theme)
    expect(again.page.locator("#figures tbody th").first).to_have_text(first.inner_text())
    expect(
        again.page.locator(".chart-places li").nth(5).get_by_role("checkbox")
    ).not_to_be_checked()
    page.keyboard.press("0")
    page.locator(".chart-plot").press("0")
    wait_for(page, lambda: range_of(page) is None, "all is shown")
    assert visitor.complaints == []


def test_several_burns_lie_over_time_since_lighting(bench, visit):
    visitor = opened(visit, bench, "/curves?trial=cedar-6&trial=cedar-8", theme="dark")
    page = visitor.page
    lines = page.locator(".chart-places li")
    expect(lines).to_have_count(2)
    over = page.locator(".u-over")
    over.scroll_into_view_if_needed()
    over.hover(position={"x": over.bounding_box()["width"] * 0.3, "y": 60})
    expect(page.locator(".chart-at")).to_contain_text(re.compile(r"^0:\d\d h after lighting$"))
    figures = [float(re.search(r"(\d\d\.\d) °C ±", lines.nth(n).inner_text())[1]) for n in (0, 1)]
    # 35 K and 31 K above the room: after the same time the same share of it
    assert (figures[0] - 22.0) / (figures[1] - 22.0) == pytest.approx(35.0 / 31.0, rel=0.06)
    drawn = page.locator(".chart-places line")
    looks = [
        [drawn.nth(n).get_attribute(name) for name in ("stroke", "stroke-dasharray")]
        for n in (0, 1)
    ]
    assert looks[0][0] != looks[1][0]
    assert looks[0][1] != looks[1][1]  # in greyscale too
    expect(page.locator("#figures thead th")).to_have_count(3)
    told = bench.get("/api/curves?trial=cedar-6&trial=cedar-8")
    assert all(LENGTH_S < one["until_s"] <= LENGTH_S + 1806.0 for one in told["lines"])
    assert visitor.complaints == []


def test_without_scripts_there_is_the_drawing_and_the_table(bench, visit):
    page = visit(bench.address + f"/burns/{id_of(bench.first)}/curve", scripts=False).page
    image = page.locator("img.paper")
    expect(image).to_be_visible()
    assert image.evaluate("node => node.naturalWidth") == 960
    assert page.locator("#figures tbody tr").count() == 12
    assert "°C ±" in page.locator("#figures").inner_text()
    assert "a draught from the door" in page.locator("#happened").inner_text()
    assert "–" in page.locator("#figures").inner_text()  # noqa: RUF001 - the gap's dash


def test_the_live_curve_takes_what_is_new_and_asks_for_nothing(bench, visit):
    burn = bench.post(
        "/api/burns", station="jar-a", trial="cedar-9",
        checks=["tray", "clear", "vessel", "room", "lid", "watcher"], sure=True,
    )[1]["burn"]  # fmt: skip
    page = visit(bench.address, size="laptop").page
    expect(page.locator("#curve canvas")).to_be_visible()
    place = page.locator("#curve .chart-places li").filter(has_text="60 mm, 3 o'clock")
    expect(place).to_contain_text("30.0 °C")
    asked = []
    page.on("request", lambda request: asked.append(request.url.removeprefix(bench.address)))
    bench.values[0] = 33.0
    expect(place).to_contain_text(re.compile(r"3[23]\.\d °C"))
    assert [url for url in asked if "curve" in url] == []  # the stream alone told it
    bench.post(f"/api/burns/{burn}/observations", text="a note from elsewhere")
    wait_for(page, lambda: any("/api/curves?" in url for url in asked), "the note is fetched")
