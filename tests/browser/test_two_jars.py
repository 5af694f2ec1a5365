"""Both jars of a bench at the limit, on a phone: what the first screen shows."""

import pytest
from playwright.sync_api import expect

from tests.support.broker import free_port
from tests.support.browser_bench import CHANNEL, HEAD, SIZES, SURE, Bench
from tests.support.waiting import until

SECOND = """[[station]]
name = "jar-b"
material = "glass"

"""


@pytest.fixture
def two_jars(tmp_path):
    """Two jars whose walls are over the limit; a figure in degF has a digit more."""
    show = "[averaging]\n", '[bench.show]\ntemperature = "degF"\nlength = "in"\n\n[averaging]\n'
    text = HEAD.replace("{port}", str(free_port())).replace(*show)
    text = text.replace(
        "[[instrument]]", '[[station]]\nname = "jar-b"\nmaterial = "glass"\n\n[[instrument]]'
    )
    for field, station in enumerate(("jar-a", "jar-b")):
        text += CHANNEL.format(name=f"{station}-wall", field=field, place="wall")
        text += f'station = "{station}"\nheight = "60 mm"\nclock = 3\n' + SURE
    with Bench(tmp_path, text) as running:
        running.values = [62.0, 61.5]
        running.begin()
        for station, trial in (("jar-a", "cedar-12"), ("jar-b", "oak-3")):
            status, answer = running.post("/api/burns", station=station, trial=trial, tester="M6")
            assert status == 201, answer
        until(lambda: running.alarm("wall-limit/jar-b-wall"), "both are over the limit")
        yield running


def test_the_first_screen_has_the_temperature_and_the_live_alarm_of_this_jar(two_jars, visit):
    for station in ("jar-b", "jar-a"):
        visitor = visit(f"{two_jars.address}/stations/{station}")
        page = visitor.page
        expect(page.locator("#live-word")).to_have_text("live")
        first = page.locator(".alarm").first
        expect(first.locator(".word")).to_have_text("WARNING")
        expect(first).to_contain_text(f"{station}: wall")
        _, height = SIZES["phone"]
        for what in (page.locator(".hot .big"), first.locator(".says")):
            box = what.bounding_box()
            assert box["y"] >= 0
            assert box["y"] + 20 < height, what
        for priority in ("warning", "caution"):  # the gravest first, of equal ones this jar's
            says = page.locator(f".alarm.{priority} .says").all_inner_texts()
            stations = [text.partition(":")[0] for text in says if text.startswith("jar-")]
            assert stations == sorted(stations, key=lambda name: name != station)
        assert page.locator("input[name=reflected]").first.get_attribute("placeholder") == "72 degF"
        width, _ = SIZES["phone"]
        edges = page.locator(".vessel .label text").evaluate_all(
            "all => all.map(one => one.getBoundingClientRect())"
            ".flatMap(box => [box.left, box.right])"
        )
        assert min(edges) >= 0
        assert 0 < max(edges) <= width
