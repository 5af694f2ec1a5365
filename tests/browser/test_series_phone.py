"""A whole series with one thumb: two wicks in one shared pour, then the winner in two testers to
the end; the network is lost in the middle of burns. What is seen comes from simulated candles."""

import time
from dataclasses import replace

import pytest
from playwright.sync_api import Locator, Page, expect

from logger.timestamps import parse_rfc3339
from simulators.jar import WICKS
from simulators.whole_candle import WholeCandle
from tests.support import candle_series as series
from tests.support.broker import free_port
from tests.support.browser_bench import Bench
from tests.support.settings_text import THREE_JARS
from tests.support.thumb import Thumb

HOUR_S = 3600.0
NEAR_S = 1.5  # between the test's look at the clock and the browser's tap
HEAVIER_G = 12.5  # the glass of the second tester, so that masses tell the two apart
COOL_S = 2  # a cool-down that a test can wait for
BENCH = THREE_JARS.replace("NAME", "series").replace("COOL", f"{COOL_S} s")


@pytest.fixture
def series_bench(tmp_path):
    """Three stations without an instrument; what the shelf needs beside what is typed on it."""
    with Bench(tmp_path, BENCH.replace("PORT", str(free_port()))) as bench:
        bench.begin()
        for path, body in (
            ("formulas", {"name": "slate 8", "wax": "Hazelmoor soy 12", "wax_share": "100 %"}),
            ("pours", {"name": "batch 7", "formula": "slate 8", "fill": "226 g"}),
            ("wickings", {"name": "one wick-6", "wick": "wick-6", "number": 1}),
            *(
                ("rounds", {"name": one, "places": "left, right", "height": "30 mm"})
                for one in ("jar-a", "jar-b")
            ),
        ):
            if path == "wickings":
                bench.post("/api/wicks", name="wick-6", order=3)
            status, answer = bench.post(f"/api/{path}", **body)
            assert status == 201, answer
        yield bench


class SeriesThumb(Thumb):
    """It also puts records on the shelf and enters what is seen of simulated candles."""

    def shelves(self, bench, kind: str, name: str, /, **fields: str) -> None:
        """Put a record on the shelf."""
        self.page.goto(f"{bench.address}/shelf/{kind}")
        self.tap(self.page.locator("details.act > summary").first)
        form = self.page.locator("details[open] form")
        self.fill(form, name=name, **fields)
        self.tap(form.get_by_role("button", name="Put it on the shelf"))
        expect(self.page.locator("h1")).to_have_text(name)

    def looks(self, look: series.Look, **more: str) -> None:
        """What is seen at a mark."""
        width = f"{look.pool_mm:.0f}"
        self.tell(
            "look", pool=f"{width}|{width}", full_pool=look.full_pool,
            pool_depth=f"{look.depth_mm:.0f}", soot="0", **more,
        )  # fmt: skip

    def reads(self, look: series.Look, **more: str) -> None:
        """A place of the wall, three values."""
        values = " ".join(look.readings).replace(".", ",")
        self.tell("reading", values=values, height=f"{look.height_mm}", clock="3", **more)


def ago(seconds: float) -> str:
    return f"{seconds / 60.0:.2f} min ago"


def entered(page: Page, words: str) -> Locator:
    return page.locator(".entry").filter(has_text=words)


def at_station(bench, page: Page, station: str) -> None:
    page.goto(f"{bench.address}/stations/{station}")
    expect(page.locator("#live-word")).to_have_text("live")


def past_burn(thumb, evening: series.Evening, lit_s: float, **lit: str) -> None:
    """A burn of before, typed into its station's page: lit `lit_s` ago."""
    page = thumb.page
    thumb.tell("lit", watched_by="Ines", at=ago(lit_s), **lit)
    expect(page.locator(".phase")).to_contain_text("recorded lit at")
    # Before it the material was not known, and the page went by metal's limit.
    expect(page.locator(".gauge text")).to_have_text("your limit 70.0 °C")
    look = evening.looks[0]
    at = ago(lit_s - look.at_h * HOUR_S)
    thumb.reads(look, at=at)
    expect(entered(page, "read by hand")).to_have_count(1)
    thumb.looks(look, at=at)
    expect(entered(page, "soot 0")).to_have_count(1)
    out_s = lit_s - evening.hours * HOUR_S
    thumb.tell("out", ended="planned", how="snuffer", at=ago(out_s))
    expect(entered(page, "out, planned, snuffer")).to_have_count(1)
    thumb.tell("weigh-in", mass=f"{evening.after_g}".replace(".", ","), at=ago(out_s - 4 * HOUR_S))
    expect(entered(page, f"weighed {evening.after_g} g")).to_have_count(1)


def test_two_wicks_in_one_pour_and_two_testers_to_the_end(series_bench, visit):
    bench = series_bench
    visitor = visit(bench.address)
    page, thumb = visitor.page, SeriesThumb(visitor.page)

    # the shelf
    checks = dict.fromkeys(
        ("leak_24_h", "tip_10_degrees", "scratches_and_stones", "statement_on_file",
         "nothing_flammable"),
        "passed",
    )  # fmt: skip
    thumb.shelves(bench, "vessels", "amber 80", material="glass", inner_diameter="74", **checks)
    thumb.shelves(bench, "wicks", "wick-5", order="2", form="cotton", tab_neck="6")
    thumb.shelves(bench, "wickings", "one wick-5", wick="wick-5", number="1", to_wall="37")
    for wick in ("wick-5", "wick-6"):
        thumb.shelves(
            bench, "trials", f"slate {wick}", vessel="amber 80", wicking=f"one {wick}",
            formula="slate 8", planned_length="4 h",
        )  # fmt: skip
    thumb.shelves(bench, "testers", "S1", pour="batch 7", vessel="amber 80", shared_pour="yes",
                  wick_order="wick-5, wick-6", remelt="heat gun from above")  # fmt: skip
    shelf_taps, thumb.taps = thumb.taps, 0

    # the first wick, typed the day after
    candle = WholeCandle(WICKS["wick-5"], series.STILL, draught_share=0.0)
    at_station(bench, page, "jar-c")
    five = series.burn(candle, 4.0, (3.0,))
    past_burn(thumb, five, 30 * HOUR_S, tester="S1", trial="slate wick-5",
              mass=f"{five.before_g}", wax="226", wax_level="65")  # fmt: skip
    past_taps, thumb.taps = thumb.taps, 0

    # the second, live at its mark of 4 h; the network is lost
    candle.rewick(WICKS["wick-6"])
    six = series.burn(candle, 4.0, (3.0, 3.99))
    lit_s = 239 * 60.0
    thumb.tell("lit", watched_by="Ines", tester="S1", trial="slate wick-6", at=ago(lit_s))
    expect(page.locator("summary", has_text="Look: the mark of 4 h")).to_be_visible()
    page.context.set_offline(True)
    tapped = []
    thumb.looks(six.looks[1])
    tapped.append(time.time())
    unsent = page.locator("#unsent article")
    expect(unsent).to_have_count(1)
    page.wait_for_timeout(1000)
    thumb.reads(six.looks[1])
    tapped.append(time.time())
    expect(unsent).to_have_count(2)
    page.wait_for_timeout(1000)
    page.context.set_offline(False)
    expect(page.locator("#unsent")).to_be_hidden()
    expect(entered(page, "read by hand")).to_have_count(1)
    found = bench.get("/api/burns/2")["entries"]
    times = [parse_rfc3339(one["at"]) for one in found if not one["text"].startswith("lit")]
    assert times == pytest.approx(tapped, abs=NEAR_S)
    expect(page.locator('[data-mark="seen"]')).to_contain_text("4 h")
    thumb.tell("out", ended="planned", how="snuffer")
    expect(entered(page, "out, planned, snuffer")).to_have_count(1)
    thumb.tell("look", after_smoke="9", wax_solid="yes")
    expect(entered(page, "wax solid yes")).to_have_count(1)
    page.wait_for_timeout(1000 * COOL_S)
    thumb.tell("weigh-in", mass=f"{six.after_g}")
    expect(entered(page, f"weighed {six.after_g} g")).to_have_count(1)
    card = page.locator('[data-part="last-burn"]')
    expect(card).to_contain_text("not judged on a shared pour")
    expect(card).to_contain_text(f"{six.before_g} g before, {six.after_g} g after")
    live_taps, thumb.taps = thumb.taps, 0
    assert [one["full_pool"] for one in (five.looks[0].seen, six.looks[1].seen)] == ["no", "yes"]

    # the winner in two testers: their first burns, typed later
    for code in ("A1", "A2"):
        thumb.shelves(bench, "testers", code, trial="slate wick-6", pour="batch 7",
                      vessel="amber 80")  # fmt: skip
    lives = {
        "jar-a": [*series.to_the_end("wick-6", 4.0, (1.0,), 0, series.SHALLOWEST)],
        "jar-b": [
            replace(one, before_g=one.before_g + HEAVIER_G, after_g=one.after_g + HEAVIER_G)
            for one in series.to_the_end("wick-6", 4.0, (1.0,), 1, series.SHALLOWEST)
        ],
    }
    codes = {"jar-a": "A1", "jar-b": "A2"}
    for station, life in lives.items():
        at_station(bench, page, station)
        past_burn(thumb, life[0], 30 * HOUR_S, tester=codes[station], trial="slate wick-6",
                  mass=f"{life[0].before_g}", wax="58.1")  # fmt: skip
    thumb.taps = 0

    # their last burns: lit together in one list, read in one round while the network is lost
    page.goto(f"{bench.address}/light")
    for station, code in codes.items():
        choice = page.locator(f"#{station} label").filter(has_text=f"slate wick-6, {code}")
        thumb.tap(choice)
    thumb.tap(page.get_by_text("I have checked all 6"))
    form = page.locator('form[action="/light"]')
    lit_s = lives["jar-a"][1].hours * HOUR_S
    thumb.fill(form, at=ago(lit_s))
    thumb.tap(form.get_by_role("button", name="It is lit"))
    page.wait_for_url(f"{bench.address}/")
    light_taps, thumb.taps = thumb.taps, 0
    page.goto(f"{bench.address}/round")
    expect(page.locator("#live-word")).to_have_text("live")
    pad = page.locator("#pad")
    page.context.set_offline(True)
    typed = {"jar-a": ("47.1", "46.8"), "jar-b": ("48.3", "48.9")}
    for station, values in typed.items():
        for place, value in zip(("left", "right"), values, strict=True):
            expect(page.locator(".step.current")).to_contain_text(f"{station}: {place}")
            for number in range(3):
                for key in value:
                    thumb.tap(pad.get_by_role(
                        "button", name=key if key.isdigit() else "Decimal point", exact=True
                    ))  # fmt: skip
                last = "Next value" if number < 2 else "Record"
                thumb.tap(pad.get_by_role("button", name=last, exact=True))
    read_s = time.time()
    expect(unsent).to_have_count(4)
    page.wait_for_timeout(1500)
    page.context.set_offline(False)
    expect(page.locator("#unsent")).to_be_hidden()
    round_taps, thumb.taps = thumb.taps, 0

    for (station, life), number in zip(lives.items(), (5, 6), strict=True):
        at_station(bench, page, station)
        told = bench.get(f"/api/burns/{number}")
        assert (told["station"], told["tester"]) == (station, codes[station])
        by_hand = [one for one in told["entries"] if "read by hand" in one["text"]]
        assert [one["text"].rpartition(", ")[2] for one in by_hand] == [
            f"{value} °C" for value in typed[station]
        ]
        for one in by_hand:
            assert read_s - 20.0 < parse_rfc3339(one["at"]) < read_s + NEAR_S
            assert parse_rfc3339(one["entered"]) > read_s
        thumb.tell("out", ended="self-extinguished")
        expect(entered(page, "out, self-extinguished")).to_have_count(1)
        page.wait_for_timeout(1000 * COOL_S)
        thumb.tell("weigh-in", mass=f"{life[1].after_g}")
        card = page.locator('[data-part="last-burn"]')
        for says in (
            "Burned for 1 h 4",
            "it went out by itself, so no more burns are counted",
            f"{life[1].before_g} g before, {life[1].after_g} g after",
            "Verdict on this burn",
        ):
            expect(card).to_contain_text(says)
        weighed = bench.get(f"/api/burns/{number}")["weighed"]
        assert weighed["used_g"] == pytest.approx(life[1].burned_g, abs=0.11)
        reach = 2.0 * weighed["rate_standard_uncertainty_g_per_h"]
        assert weighed["rate_g_per_h"] == pytest.approx(life[1].rate_g_per_h, abs=reach)

    # every burn is found, by tester, and its record
    for code, numbers in (("S1", [2, 1]), ("A1", [5, 3]), ("A2", [6, 4])):
        listed = bench.get(f"/api/burns?tester={code}")["burns"]
        assert [one["number"] for one in listed] == numbers
    page.goto(f"{bench.address}/burns")
    page.get_by_role("link", name="A2").first.click()
    expect(page.locator("main")).to_contain_text("slate wick-6")
    page.goto(f"{bench.address}/burns/6/record")
    expect(page.locator("body")).to_contain_text("no more burns are counted")
    assert visitor.complaints == []
    # Fields that are typed into count as one; a page that comes to ask for more is noticed.
    assert {
        "seven records": shelf_taps,
        "a burn typed later": past_taps,
        "a live burn": live_taps,
        "two lit from the list": light_taps,
        "two jars of two places read": round_taps,
    } == {
        "seven records": 44,
        "a burn typed later": 42,
        "a live burn": 36,
        "two lit from the list": 6,
        "two jars of two places read": 60,
    }
