"""Readings by hand over HTTP: what was set aside is in the answer; a wrong jar is put right."""

import json
import math

import aiomqtt
import pytest

from tests.support.web_bench import ONE_STATION, Stream, serving

TWO_STATIONS = ONE_STATION.replace(
    "[[instrument]]", '[[station]]\nname = "jar-b"\nmaterial = "glass"\n\n[[instrument]]', 1
)
READ = {"height": "80 mm", "clock": 9, "unit": "degF"}


async def test_the_answer_says_what_the_values_amount_to_and_what_was_set_aside(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        values = [135.2, 134.8, 135.4, 171.9]
        answer = await bench.post(f"/api/burns/{burn}/readings", values=values, **READ)
        assert answer.status_code == 201
        read = answer.json()
        assert read["set_aside"] == [171.9]
        assert read["used"] == [135.2, 134.8, 135.4]
        assert (read["unit"], read["burn"]) == ("degF", burn)
        assert read["value"] == pytest.approx(135.13, abs=0.01)


@pytest.mark.parametrize("stated_k", [None, 0.5], ids=["not stated", "stated"])
async def test_the_stated_accuracy_of_the_thermometer_counts(tmp_path, stated_k):
    text = "" if stated_k is None else '\n[by_hand]\naccuracy = "0.9 delta_degF"\n'
    async with serving(tmp_path, ONE_STATION + text) as bench:
        burn = await bench.light()
        read = {"values": [57.8, 58.0, 58.2], "height": "80 mm", "clock": 9}
        await bench.post(f"/api/burns/{burn}/readings", **read)
        (place,) = (c for c in (await bench.now())["channels"] if c["instrument"] == "by-hand")
        estimate = place["estimate"]
        # JCGM 100:2008, 4.3.7: half-width over the root of three; before, none was counted
        accuracy_k = (stated_k or 0.0) / math.sqrt(3.0)
        expected = math.hypot(estimate["repeatability"], accuracy_k)
        assert estimate["standard_uncertainty"] == pytest.approx(expected, abs=0.001)
        await bench.post(f"/api/burns/{burn}/out")
        report = (await bench.client.get("/report.html", params={"trial": "cedar-6"})).text
        assert ("± 0.5 °C as stated" in report) is (stated_k is not None)


async def test_an_emissivity_set_without_that_of_the_surface_is_refused(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        alone = {"values": [56.5], "height": "80 mm", "emissivity_set": 0.95}
        answer = await bench.post(f"/api/burns/{burn}/readings", **alone)
        assert answer.status_code == 422
        assert "0.92 for bare glass" in answer.json()["detail"]
        answer = await bench.post(f"/api/burns/{burn}/readings", **alone, emissivity=0.92)
        assert answer.json()["value"] > 57.0  # a colder room is mirrored in bare glass


async def test_a_reading_typed_at_the_wrong_jar_is_moved(tmp_path):
    async with serving(tmp_path, TWO_STATIONS) as bench:
        wrong = await bench.light()
        right = await bench.light(station="jar-b")
        values = [135.2, 134.8, 135.4]
        read = (await bench.post(f"/api/burns/{wrong}/readings", values=values, **READ)).json()
        moved = await bench.post(f"/api/readings/{read['id']}/move", station="jar-b", by="Ines")
        assert moved.status_code == 201
        (place,) = (c for c in (await bench.now())["channels"] if c["instrument"] == "by-hand")
        assert (place["name"], place["station"]) == ("jar-b-hand-wall-80-9", "jar-b")
        hottest = {
            burn: (await bench.client.get(f"/api/burns/{burn}")).json()["hottest_measured"]
            for burn in (wrong, right)
        }
        assert hottest[wrong] is None
        assert hottest[right]["channel"] == "jar-b-hand-wall-80-9"
        again = await bench.post(f"/api/readings/{read['id']}/move", station="jar-b")
        assert again.status_code == 409
        assert "already" in again.json()["detail"]


async def test_broker_and_stream_tell_of_a_place_read_by_hand_and_of_its_going(tmp_path, broker):
    with_broker = f'{TWO_STATIONS}\n[mqtt]\nhost = "127.0.0.1"\nport = {broker.port}\n'
    topic = "wickbench/test-bench/channel/jar-a-hand-wall-80-9"
    async with (
        serving(tmp_path, with_broker) as bench,
        aiomqtt.Client(broker.host, broker.port) as ear,
        bench.client.stream("GET", "/api/live") as answer,
    ):
        stream = Stream(answer)
        await ear.subscribe(topic)
        wrong = await bench.light()
        await bench.light(station="jar-b")
        read = (await bench.post(f"/api/burns/{wrong}/readings", values=[135.2], **READ)).json()
        assert (await stream.until("estimate", channel="jar-a-hand-wall-80-9"))["value"] > 57.0
        assert json.loads((await anext(ear.messages)).payload)["value"] > 57.0
        await bench.post(f"/api/readings/{read['id']}/move", station="jar-b")
        assert json.loads((await anext(ear.messages)).payload)["quality"] == "lost"
        gone = await stream.until("estimate", channel="jar-a-hand-wall-80-9")
        assert (gone["value"], gone["quality"]) == (None, "lost")
        assert (await stream.until("estimate", channel="jar-b-hand-wall-80-9"))["value"] > 57.0
