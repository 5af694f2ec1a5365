"""The whole job, by taps, typing and choosing a file alone: three candles lit five minutes apart,
looked at at three marks, cautions acknowledged, put out, cooled, weighed, judged and compared. The
network is lost in the middle, while the bench goes on."""

import io
from dataclasses import dataclass
from urllib.parse import urlencode
from urllib.request import urlopen

import pytest
from PIL import Image
from playwright.sync_api import expect

from logger.timestamps import parse_rfc3339
from tests.support.broker import free_port
from tests.support.browser_bench import SIZES
from tests.support.driven_bench import DrivenBench
from tests.support.settings_text import THREE_JARS
from tests.support.thumb import Thumb

START_S = 1_935_651_600.0  # 2031-05-04T09:00:00Z
APART_MIN = 5
MARKS_MIN = (15, 30, 45)
HOT_C = 66.2
ACKNOWLEDGED = "acknowledged"
NEAR_S = 120.0  # bench time goes on while a thumb types; the marks of two jars are 300 s apart
MARKS = """
[marks]
at = ["15 min", "30 min", "45 min"]
"""
BENCH = THREE_JARS.replace("NAME", "evening").replace("COOL", "10 min") + MARKS


JUDGED_BURNS = """
[...document.querySelectorAll("table")].at(-1).querySelectorAll("tbody tr").values().flatMap(
  (row) => [...row.querySelectorAll("td")].flatMap((cell, at) =>
    [...cell.querySelectorAll("a")].map((link) => [
      row.closest("table").querySelectorAll("thead th")[at + 1].textContent,
      link.pathname.split("/").at(-1),
    ]))).toArray()
"""  # trial and burn of each judgement in the last table


@dataclass(frozen=True, kw_only=True)
class Jar:
    """What is seen of a candle, unlike any other's."""

    flames: tuple[str, str, str]  # mm, at each mark
    pools: tuple[str, str, str]  # whether full
    wall: str  # read by hand at the second mark
    used_g: float
    colour: tuple[int, int, int]  # of its photo


JARS = {
    "jar-a": Jar(flames=("21", "22", "23"), pools=("no", "no", "no"), wall="47.1", used_g=5.5,
                 colour=(200, 40, 40)),
    "jar-b": Jar(flames=("31", "32", "33"), pools=("no", "yes", "yes"), wall="66.5", used_g=6.6,
                 colour=(40, 160, 40)),
    "jar-c": Jar(flames=("41", "42", "43"), pools=("no", "no", "yes"), wall="65.9", used_g=6.1,
                 colour=(40, 40, 200)),
}  # fmt: skip


class Evening:
    """One person, one browser, and the bench they work at."""

    def __init__(self, bench: DrivenBench, visitor, size: str, folder) -> None:
        self.bench, self.size, self.folder = bench, size, folder
        self.page = visitor.page
        self.context = visitor.page.context
        self._in_step()

    def trial(self, station: str) -> str:
        """The name of what burns there."""
        return f"{self.size} {station[-1]}"

    def leap(self, minutes: float) -> None:
        """Time passes at the bench and on the phone."""
        self.bench.leap(minutes)
        self._in_step()

    def _in_step(self) -> None:
        self.context.clock.set_fixed_time(self.bench.now_s())

    def burn(self, station: str):
        """The one burn of its trial."""
        asked = urlencode({"trial": self.trial(station)})
        (listed,) = self.bench.get(f"/api/burns?{asked}")["burns"]
        return self.bench.get(f"/api/burns/{listed['number']}")

    def at(self, station: str, page=None) -> Thumb:
        """On the page of a station, live."""
        page = page or self.page
        page.goto(f"{self.bench.address}/stations/{station}")
        expect(page.locator("#live-word")).to_have_text("live")
        return Thumb(page)

    def looks(self, thumb: Thumb, station: str, mark: int) -> None:
        """Enter what is seen at a mark."""
        jar = JARS[station]
        thumb.tell("look", flame=jar.flames[mark], full_pool=jar.pools[mark], soot="0")

    def photographs(self, thumb: Thumb, station: str) -> None:
        """Take a photo with the form."""
        file = self.folder / "camera.jpg"  # the phone's camera gives each the same name
        Image.new("RGB", (400, 300), JARS[station].colour).save(file)
        form = thumb.page.locator('details[data-key="photo"]')
        thumb.tap(form.locator("> summary"))
        form.locator('[name="photo"]').set_input_files(file)
        thumb.fill(form, text=f"the pool of {station}")
        thumb.tap(form.get_by_role("button", name="Keep the photo"))


@pytest.fixture
def evening_bench(tmp_path):
    """Three free stations, the first with a probe; vessel, formula and testers are on the shelf."""
    with DrivenBench(tmp_path, BENCH.replace("PORT", str(free_port())), START_S) as bench:
        bench.start()

        def add(kind, **body):
            status, answer = bench.post(f"/api/{kind}", **body)
            assert status == 201, answer

        add("vessels", name="amber 80", material="glass", inner_diameter="74 mm")
        add("formulas", name="slate 8", wax="Hazelmoor soy 12")
        for size in SIZES:
            for station in JARS:
                name = f"{size} {station[-1]}"
                add("trials", name=name, vessel="amber 80", formula="slate 8")
                add("testers", name=name.upper(), trial=name)
        yield bench


@pytest.mark.parametrize("size", SIZES)
def test_the_whole_job(evening_bench, visit, tmp_path, size):
    bench = evening_bench
    visitor = visit(bench.address, size=size)
    evening = Evening(bench, visitor, size, tmp_path)
    page, context = evening.page, evening.context

    lit_s = {}
    for station in JARS:
        thumb = evening.at(station)
        thumb.tell("lit", trial=evening.trial(station), tester=evening.trial(station).upper(),
                   watched_by="Ines", mass="400", wax="200", reason="a new vessel")  # fmt: skip
        expect(page.locator(".phase")).to_contain_text("recorded lit at")
        lit_s[station] = bench.now_s()
        evening.leap(APART_MIN)

    # the first mark opens the form by itself
    for station in JARS:
        thumb = evening.at(station)
        expect(page.locator("summary", has_text="Look: the mark of 15 min")).to_be_visible()
        evening.looks(thumb, station, 0)
        expect(page.locator(".entry").filter(has_text="flame")).to_have_count(1)
        thumb.tap(page.get_by_role("button", name="I have it in sight"))
        evening.leap(APART_MIN)

    # each jar's page stands open when the network is lost, and the first jar gets hot meanwhile
    thumbs = {"jar-a": evening.at("jar-a")}
    thumbs |= {station: evening.at(station, context.new_page()) for station in ("jar-b", "jar-c")}
    context.set_offline(True)
    for station, thumb in thumbs.items():
        evening.looks(thumb, station, 1)
        thumb.tell("reading", values=" ".join([JARS[station].wall] * 3), height="60", clock="3")
        evening.photographs(thumb, station)
        expect(thumb.page.locator("#unsent article")).to_have_count(3)
        expect(thumb.page.locator("#live-word")).to_have_text("OFFLINE")
        if station != "jar-c":
            evening.leap(APART_MIN)
    # meanwhile somebody else, whose phone reaches the bench, finds the first jar hot
    burn = bench.now()["stations"][0]["burn"]
    status, answer = bench.post(f"/api/burns/{burn}/readings", values=[HOT_C] * 3, unit="degC",
                                place="wall", height="30 mm", clock=9, by="Rosa")  # fmt: skip
    assert status == 201, answer
    assert [len(evening.burn(station)["entries"]) for station in JARS] == [4, 3, 3]
    assert page.locator(".alarm.caution").count() == 0
    context.set_offline(False)
    for station, thumb in thumbs.items():
        expect(thumb.page.locator("#unsent")).to_be_hidden()
        caution = thumb.page.locator(".alarm.caution").filter(has_text=f"{station}: wall")
        expect(caution).to_have_count(1)
        thumb.tap(caution.get_by_text("Acknowledge", exact=True))
        thumb.tap(caution.get_by_role("button", name="Yes, I am at the candle"))
        expect(caution).to_contain_text("acknowledged by Ines")
        photo = thumb.page.locator(".entry img.photo")
        expect(photo).to_have_attribute("alt", f"photo: the pool of {station}")
        assert colour_of(bench.address + photo.get_attribute("src")) == pytest.approx(
            JARS[station].colour, abs=5
        )
        if thumb.page is not page:
            thumb.page.close()
    acknowledged = [one["station"] for one in bench.now()["alarms"] if one["state"] == ACKNOWLEDGED]
    assert sorted(acknowledged) == [*JARS]

    evening.leap(APART_MIN)
    for station in JARS:
        thumb = evening.at(station)
        evening.looks(thumb, station, 2)
        expect(page.locator(".entry").filter(has_text="flame")).to_have_count(3)
        thumb.tell("out", ended="planned", how="snuffer")
        expect(page.locator(".phase")).to_contain_text("recorded out at")
        evening.leap(APART_MIN)

    evening.leap(6)
    for station, jar in JARS.items():
        thumb = evening.at(station)
        expect(page.locator(".todo")).to_contain_text("weigh it")
        thumb.tell("weigh-in", mass=f"{400.0 - jar.used_g}")
        expect(page.locator('[data-part="last-burn"]')).to_contain_text("400.0 g before")
    compared(evening)
    for station in JARS:
        recorded(evening, station, lit_s[station])
    assert visitor.complaints == []


def colour_of(url: str) -> tuple[int, int, int]:
    """Of a photo's middle, as the bench keeps it."""
    with urlopen(url) as answer:
        return Image.open(io.BytesIO(answer.read())).getpixel((200, 150))


def compared(evening: Evening) -> None:
    """From the last jar's page to its verdict, and to all three side by side."""
    page = evening.page
    mine = evening.trial("jar-c")
    page.get_by_role("link", name="The verdict on its trial").click()
    expect(page.locator("h1")).to_have_text(mine)
    expect(page.locator("main .banner")).to_contain_text("UNDECIDED, by 1 burn")
    links = page.locator("main article a").evaluate_all("all => all.map(one => one.textContent)")
    assert set(links) == {f"burn {evening.burn('jar-c')['number']}"}
    page.get_by_role("link", name="Compare").click()
    page.get_by_text("Other trials", exact=True).click()
    for station in ("jar-a", "jar-b"):
        page.get_by_label(evening.trial(station), exact=True).check()
    page.get_by_role("button", name="Compare them").click()
    expect(page.locator("h2", has_text="What differs")).to_be_visible()
    for station, jar in JARS.items():
        name = page.get_by_role("rowheader", name=evening.trial(station), exact=True)
        hours = evening.burn(station)["elapsed_s"] / 3600.0
        used = page.locator("tr").filter(has=name).filter(has_text="g/h")
        expect(used).to_contain_text(f"{jar.used_g / hours:.1f} g/h")
    judged = page.evaluate(JUDGED_BURNS)
    assert {tuple(one) for one in judged} == {
        (evening.trial(station), evening.burn(station)["burn"]) for station in JARS
    }
    assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[evening.size][0]


def recorded(evening: Evening, station: str, lit_s: float) -> None:
    """All of it is on its own candle, once, and at its own time."""
    jar, told = JARS[station], evening.burn(station)
    looks = [
        f"flame {flame} mm; full pool {pool}; soot 0 (none)"
        for flame, pool in zip(jar.flames, jar.pools, strict=True)
    ]
    first_min, second_min, third_min = MARKS_MIN
    by_hand = "read by hand, wall, 60 mm, 3 o'clock: " + ", ".join([jar.wall] * 3) + " °C"
    cold_min = 67 - APART_MIN * [*JARS].index(station)
    expected = [
        (looks[0], first_min),
        ("in sight of Ines", first_min),
        (looks[1], second_min),
        (by_hand, second_min),
        (f"photo: the pool of {station}", second_min),
        (looks[2], third_min),
        ("out, planned, snuffer", third_min),
        (f"weighed {400.0 - jar.used_g} g", cold_min),
    ]
    found = [one for one in told["entries"][1:] if one["by"] == "Ines"]
    assert len(told["entries"]) == 1 + len(expected) + (station == "jar-a")
    assert [one["text"] for one in found] == [text for text, _ in expected]
    assert [parse_rfc3339(one["at"]) - lit_s for one in found] == pytest.approx(
        [60.0 * at_min for _, at_min in expected], abs=NEAR_S
    )
    assert (told["station"], told["tester"]) == (station, evening.trial(station).upper())
    assert [one["state"] for one in told["marks"]] == ["seen"] * 3
    assert told["weighed"]["used_g"] == pytest.approx(jar.used_g)
