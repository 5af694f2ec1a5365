"""The JSON side of HTTP on a real socket: what it hands out, what it takes, what it refuses."""

import asyncio
import json
from contextlib import AsyncExitStack

import httpx
import pytest

from logger import messages
from logger.store.queries import open_read
from logger.timestamps import rfc3339
from logger.web import figures
from tests.support.described import as_described
from tests.support.web_bench import LIT, START_S, WALL, client_of, listening, serving


def problem_of(answer: httpx.Response, status: int) -> str:
    """The detail of a problem document of that status."""
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    document = answer.json()
    assert document["status"] == status
    assert document["title"]  # tests/reference has what it must be
    return document["detail"]


async def test_now_tells_station_channels_alarms_and_instruments(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.seconds(12, 41.0)
        now = await bench.now()
        (station,) = now["stations"]
        assert (station["state"], station["burn"], station["limit_c"]) == ("cold", None, 60.0)
        wall, room = now["channels"]
        assert (wall["place"], wall["height_mm"], wall["clock"]) == ("wall", 60.0, 3)
        assert wall["estimate"]["value"] == pytest.approx(41.0, abs=0.1)
        assert room["estimate"] is None  # nothing came yet: null, not 0
        (link,) = now["instruments"]
        assert link["state"] == "down"
        assert link["reason"]


async def test_a_burn_from_lighting_to_out(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.seconds(12, 41.0)
        burn = await bench.light(tester="M6", watched_by="Ines", checks=["lid at hand"])
        assert burn == f"jar-a-{int(START_S) + 12}"
        read = await bench.post(
            f"/api/burns/{burn}/readings", values=[110.2, 110.6], unit="degF", height="80 mm"
        )
        assert read.status_code == 201
        note = await bench.post(f"/api/burns/{burn}/observations", text="no soot", by="Ines")
        seen = await bench.post(f"/api/burns/{burn}/in-sight", by="Ines")
        out = await bench.post(f"/api/burns/{burn}/out")
        assert [note.status_code, seen.status_code, out.status_code] == [201, 201, 201]
        by_hand = (await bench.now())["channels"][-1]
        assert by_hand["instrument"] == "by-hand"
        assert by_hand["estimate"]["value"] == pytest.approx(43.556, abs=0.01)  # (F - 32) / 1.8
        stored = (await bench.client.get(f"/api/burns/{burn}")).json()
        assert (stored["trial"], stored["tester"], stored["watched_by"]) == (
            "cedar-6",
            "M6",
            ["Ines"],
        )
        verdict = (await bench.client.get("/api/trials/cedar-6/verdict")).json()
        assert verdict["burns"] == [burn]


async def test_what_is_improbable_is_asked_once_and_taken_when_somebody_is_sure(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.seconds(12, 36.5)
        burn = await bench.light()
        body = {"values": [98.7, 98.6, 98.9], "height": "60 mm", "clock": 3}
        asked = await bench.post(f"/api/burns/{burn}/readings", **body)
        detail = problem_of(asked, 409)
        question = asked.json()["question"]
        as_described(asked.json(), "ProblemMessage")
        assert question.endswith("did you mean 98.7 °F?")
        assert question in detail
        assert 'send it again with "sure": true' in detail
        assert [one["name"] for one in (await bench.now())["channels"]] == ["jar-a-wall-3", "room"]
        taken = await bench.post(f"/api/burns/{burn}/readings", **body, sure=True)
        assert (taken.status_code, taken.json()["value"]) == (201, pytest.approx(98.73, abs=0.01))


async def test_an_id_of_another_entry_is_refused_and_never_answered_as_recorded(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        await bench.seconds(1)
        ask, path = bench.client.post, f"/api/burns/{burn}"
        reading = {"id": "00000000", "values": [40.0], "height": "60 mm"}
        assert (await ask(f"{path}/readings", json=reading)).status_code == 201
        assert (await ask(f"{path}/readings", json=reading)).json()["new"] is False
        for what in ("out", "in-sight"):
            detail = problem_of(await ask(f"{path}/{what}", json={"id": "00000000"}), 409)
            assert "nothing was recorded" in detail
        assert (await bench.now())["stations"][0]["state"] == "lit"


async def test_a_candle_is_weighed_before_and_after(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light(mass="532.4 g", wax="220 g")
        await bench.seconds(3600)
        await bench.post(f"/api/burns/{burn}/out")
        after = await bench.post(f"/api/burns/{burn}/weigh-ins", mass="18.5 oz", sure=True)
        assert after.status_code == 201, after.text
        weighed = (await bench.client.get(f"/api/burns/{burn}")).json()["weighed"]
        as_described(weighed, "WeighedMessage")
        after_g = 18.5 * 28.349523125  # the avoirdupois ounce, exact (NIST SP 811, B.8)
        assert weighed["after_g"] == pytest.approx(after_g, abs=1e-3)
        assert weighed["used_g"] == weighed["rate_g_per_h"] == pytest.approx(7.934, abs=1e-3)
        assert weighed["used_share"] == pytest.approx(0.5 * 7.934 / 220.0, abs=1e-3)
        found = (await bench.client.get(f"/api/burns/{burn}")).json()
        as_described(found["proves"][0], "ProofMessage")
        assert [one["proved"] for one in found["proves"]] == ["no", "no", "yes", "no"]
        as_described(found["wall_coverage"], "WallCoverageMessage")
        assert len(found["wall_coverage"]["parts"]) == 3 * 4  # the one place is 60 mm high
        drawing = await bench.client.get(f"/api/burns/{burn}/wall")
        assert drawing.headers["content-type"] == "image/svg+xml"
        assert drawing.text.startswith("<svg ")
        assert (await bench.client.get("/api/burns/jar-a-1/wall")).status_code == 404
        record = (await bench.client.get(f"/burns/{burn}/record")).text
        assert "532.4 g before, 524.5 g after: 7.9 g of wax used, 7.9 g ± 1.6 an hour" in record
        assert "weighed 524.5 g, after the burn, before your cool-down was over" in record
        heavier = await bench.post(f"/api/burns/{burn}/weigh-ins", mass="540 g", sure=True)
        assert "more than before, 532.4 g" in problem_of(heavier, 409)


async def test_what_happened_earlier_is_kept_beside_when_it_was_typed(tmp_path):
    async with serving(tmp_path) as bench:
        answer = await bench.post("/api/burns", **LIT, at="25 min ago")
        assert answer.json()["at"] == rfc3339(START_S - 1500)
        assert answer.json()["entered"] == rfc3339(START_S)
        status = (await bench.now())["stations"][0]
        assert status["lit"] == rfc3339(START_S - 1500)
        assert status["elapsed_s"] == 1500


async def test_a_post_that_comes_twice_counts_once(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        body = {"id": "a-client-made-id", "text": "flame 20 mm"}
        path = f"/api/burns/{burn}/observations"
        answers = [await bench.client.post(path, json=body) for _ in range(3)]
        assert [one.status_code for one in answers] == [201, 200, 200]
        assert [one.json()["new"] for one in answers] == [True, False, False]
        with open_read(bench.service.data) as reader:
            events = [one.event.event for one in reader.events() if one.event.burn == burn]
        assert events == ["lit", "note"]


async def test_a_post_that_comes_twice_at_once_counts_once(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        body = {"id": "a-client-made-id", "text": "flame 20 mm"}
        path = f"/api/burns/{burn}/observations"
        answers = await asyncio.gather(*(bench.client.post(path, json=body) for _ in range(4)))
        assert sorted(one.status_code for one in answers) == [200, 200, 200, 201]


async def test_an_alarm_is_acknowledged_and_a_warning_is_not_shelved(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.light()

        async def of_wall():
            alarms = (await bench.now())["alarms"]
            return [one for one in alarms if one["rule"].startswith("wall-")]

        await bench.seconds(30, 57.0)
        (alert,) = await of_wall()
        assert (await bench.post(f"/api/alarms/{alert['alarm']}/shelve", lasts="30 min")).is_success
        (alert,) = await of_wall()
        assert (alert["rule"], alert["state"]) == ("wall-alert", "shelved")
        await bench.seconds(40, 63.0)  # it became a warning: the caution that was set aside is none
        (limit,) = await of_wall()
        assert limit["rule"] == "wall-limit"
        assert (limit["priority"], limit["state"]) == ("warning", "unacknowledged")
        path = f"/api/alarms/{limit['alarm']}"
        refused = await bench.post(f"{path}/shelve", lasts="30 min")
        assert "cannot be shelved" in problem_of(refused, 409)
        assert (await bench.post(f"{path}/acknowledge", by="Ines")).status_code == 201
        (limit,) = await of_wall()
        assert limit["state"] == "acknowledged"
        again = await bench.post(f"{path}/acknowledge", by="Ines")
        assert "nothing to acknowledge" in problem_of(again, 409)


async def test_an_emergency_is_a_danger_at_once(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        path = f"/api/burns/{burn}/observations"
        assert (await bench.post(path, emergency="flash-over")).status_code == 201
        emergency = next(a for a in (await bench.now())["alarms"] if a["rule"] == "emergency")
        assert emergency["priority"] == "danger"
        assert "no water" in emergency["text"]


@pytest.mark.parametrize(
    ("path", "body", "status", "words"),
    [
        pytest.param("/api/burns", {"station": "jar-a"}, 422, "trial", id="no trial"),
        pytest.param("/api/burns", {"station": "x", "trial": "t"}, 409, "jar-a", id="no station"),
        pytest.param(
            "/api/burns", {"station": "jar-a", "trial": "t", "oven": 1}, 422, "oven", id="extra"
        ),
        pytest.param(
            "/api/burns",
            {"station": "jar-a", "trial": "t", "at": "2099-01-01T00:00:00Z"},
            422,
            "future",
            id="future",
        ),
        pytest.param("/api/burns/BURN/observations", {}, 422, "write what was seen", id="empty"),
        pytest.param(
            "/api/burns/BURN/observations", {"emergency": "rain"}, 422, "emergency", id="danger"
        ),
        pytest.param(
            "/api/burns/BURN/readings",
            {"values": [10], "height": "60 mm", "emissivity": 0.1, "reflected": "60 degC"},
            409,
            "check emissivity and reflected",
            id="a surface that cannot be",
        ),
        pytest.param("/api/burns/BURN/readings", {"values": []}, 422, "values", id="no values"),
        pytest.param("/api/burns/BURN/readings", {"values": [41]}, 422, "height", id="no height"),
        pytest.param(
            "/api/burns/BURN/readings", {"values": [4], "unit": "mm"}, 422, "unit", id="unit"
        ),
        pytest.param(
            "/api/burns/BURN/weigh-ins", {"mass": "532"}, 422, "no unit", id="a mass of what"
        ),
        pytest.param(
            "/api/burns/BURN/weigh-ins", {"mass": "532 kg"}, 422, "check the unit", id="too heavy"
        ),
        pytest.param(
            "/api/burns/BURN/weigh-ins", {"mass": "532 g"}, 409, "weigh it cold", id="it burns"
        ),
        pytest.param("/api/burns/other-1/out", {}, 409, "latest burn", id="no burn"),
        pytest.param("/api/alarms/silent/x/acknowledge", {}, 409, "", id="no alarm"),
    ],
)
async def test_what_cannot_be_is_a_problem_document(tmp_path, path, body, status, words):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        await bench.seconds(1)
        answer = await bench.post(path.replace("BURN", burn), **body)
        assert words in problem_of(answer, status)
        with open_read(bench.service.data) as reader:
            assert [one.event.event for one in reader.events()] == ["lit"]


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999"])
async def test_what_is_no_number_is_refused(tmp_path, number):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        body = f'{{"id": "not-a-number", "height": "60 mm", "values": [{number}]}}'
        answer = await bench.client.post(f"/api/burns/{burn}/readings", content=body)
        problem_of(answer, 422)
        assert len((await bench.now())["channels"]) == 2


@pytest.mark.parametrize(
    "body",
    [b"", b"{", b"[]", b"\xff\xfe", b"[" * 5000, b'{"id": "' + b"x" * 70_000 + b'"}'],
    ids=["nothing", "cut", "a list", "no text", "deep", "longer than 64 KiB"],
)
async def test_a_body_that_is_no_entry_is_refused(tmp_path, body):
    async with serving(tmp_path) as bench:
        problem_of(await bench.client.post("/api/burns", content=body), 422)
        assert (await bench.now())["stations"][0]["burn"] is None


async def test_an_unknown_address_and_a_wrong_method_are_problem_documents(tmp_path):
    async with serving(tmp_path) as bench:
        problem_of(await bench.client.get("/api/nothing"), 404)
        problem_of(await bench.client.delete("/api/now"), 405)
        problem_of(await bench.client.get("/api/burns/jar-a-1"), 404)
        problem_of(await bench.client.get("/burns/jar-a-1/record"), 404)
        problem_of(await bench.client.get("/api/trials/none/verdict"), 404)


@pytest.mark.parametrize(
    "headers",
    [
        {"host": "bench.example"},
        {"host": "127.0.0.1:1"},
        {"host": "127.0.0.1.example:{port}"},
        {"origin": "http://elsewhere.example"},
        {"origin": "http://127.0.0.1:1"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"x-forwarded-for": "192.0.2.7"},
        {"x-forwarded-host": "127.0.0.1:{port}"},
        {"forwarded": "for=192.0.2.7"},
        {"via": "1.1 proxy"},
    ],
    ids=lambda headers: " ".join(f"{k}={v}" for k, v in headers.items()),
)
@pytest.mark.parametrize("path", ["/", "/api/now", "/api/live", "/static/page.js"])
async def test_nobody_else_is_answered(tmp_path, headers, path):
    async with serving(tmp_path) as bench:
        sent = {name: value.format(port=bench.port) for name, value in headers.items()}
        problem_of(await bench.client.get(path, headers=sent), 403)


async def test_a_page_elsewhere_cannot_light(tmp_path):
    async with serving(tmp_path) as bench:
        body = {"id": "from-elsewhere", "station": "jar-a", "trial": "t"}
        answer = await bench.client.post(
            "/api/burns", json=body, headers={"origin": "http://elsewhere.example"}
        )
        problem_of(answer, 403)
        own = {"origin": bench.service.url, "sec-fetch-site": "same-origin"}
        assert (await bench.client.post("/api/burns", json=body, headers=own)).status_code == 201


async def test_a_gap_in_a_series_is_null(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.seconds(60, 41.0)
        await bench.seconds(120)
        await bench.seconds(60, 43.0)
        await bench.service.recorder.saved()
        asked = {"channel": WALL, "from": START_S, "to": START_S + 240, "points": 24}
        found = (await bench.client.get("/api/series", params=asked)).json()
        assert found["unit"] == "degC"
        assert len(found["times_s"]) == len(found["min"]) == len(found["max"]) == 24
        assert None not in found["min"][1:6]
        assert set(found["min"][11:18]) == set(found["max"][11:18]) == {None}  # not a line across
        assert None not in found["max"][19:]
        assert found["min"][3] == pytest.approx(41.0, abs=0.1)
        assert found["max"][-1] == pytest.approx(43.0, abs=0.5)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({}, WALL),
        ({"channel": "none"}, WALL),
        ({"channel": WALL, "points": "0"}, "points"),
        ({"channel": WALL, "points": "1e3"}, "points"),
        ({"channel": WALL, "points": "999999"}, "points"),
        ({"channel": WALL, "from": "yesterday"}, "yesterday"),
        ({"channel": WALL, "from": "2031-05-04T09:00:00"}, "zone"),
        ({"channel": WALL, "from": "1935651600", "to": "1935651600"}, "from"),
    ],
    ids=str,
)
async def test_a_series_that_cannot_be_asked_for(tmp_path, asked, words):
    async with serving(tmp_path) as bench:
        assert words in problem_of(await bench.client.get("/api/series", params=asked), 422)


async def test_the_stream_tells_estimates_alarms_burns_and_status(tmp_path):
    async with serving(tmp_path) as bench, listening(bench) as stream:
        assert (await stream.next())[0] == "beat"  # at once: the page knows that it is heard
        burn = await bench.light()
        lit = await stream.until("burn", event="lit")
        assert lit["burn"] == burn
        await bench.seconds(10, 63.0)
        status = await stream.until("status", burn=burn)
        assert status["state"] == "lit"
        estimate = await stream.until("estimate", channel=WALL)
        assert estimate["unit"] == "degC"
        await bench.seconds(20, 63.0)
        alarm = await stream.until("alarm", rule="wall-limit")
        assert (alarm["event"], alarm["priority"]) == ("raised", "warning")


async def test_what_five_pages_are_told_is_written_once(tmp_path, monkeypatch):
    written, original = [], messages.burn_event

    def burn_event(event):
        written.append(event)
        return original(event)

    monkeypatch.setattr("logger.web.live.messages.burn_event", burn_event)
    async with serving(tmp_path) as bench, AsyncExitStack() as pages:
        streams = [await pages.enter_async_context(listening(bench)) for _ in range(5)]
        for stream in streams:
            await stream.until("beat")
        written.clear()
        burn = await bench.light()
        for stream in streams:
            assert (await stream.until("burn", event="lit"))["burn"] == burn
    assert len([one for one in written if one.event == "lit"]) <= 2  # one: the answer to the post


async def test_figures_are_made_again_once_they_change_and_no_more_than_5_s_old(
    tmp_path, monkeypatch
):
    made, original = [], figures.figures
    monkeypatch.setattr(figures, "figures", lambda bench: made.append(bench) or original(bench))
    async with serving(tmp_path) as bench:
        shown = figures.Figures(bench.service)
        for _ in range(20):
            await bench.seconds(1, 41.0)
            shown.json()
        assert 4 <= len(made) <= 6
        await bench.light()
        assert json.loads(shown.json())["stations"]["jar-a"]["texts"]["elapsed"] == "0 s"
        before = shown.json()
        await bench.seconds(5)  # without a reading its countdowns go on
        assert shown.json() != before


async def test_a_calm_bench_beats(tmp_path):
    async with serving(tmp_path) as bench, listening(bench) as stream:
        began_s = asyncio.get_running_loop().time()
        await stream.until("beat")
        await stream.until("beat")
        assert asyncio.get_running_loop().time() - began_s < 3.0  # beats come every 2 s


async def test_the_service_stops_with_streams_open(tmp_path):
    async with serving(tmp_path) as bench:
        client = client_of(bench.service.url)
        request = client.build_request("GET", "/api/live")
        response = await client.send(request, stream=True)
        stopping_s = asyncio.get_running_loop().time()
    assert asyncio.get_running_loop().time() - stopping_s < 3.0
    text = await response.aread()
    assert json.loads(text.partition(b"data: ")[2].partition(b"\n")[0]) == {"time_s": START_S}
    await client.aclose()


async def test_health_follows_the_pipeline(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.seconds(2)
        healthy = await bench.client.get("/healthz")
        assert (healthy.status_code, healthy.json()["ok"]) == (200, True)
        bench.service.hub.now_s -= 60.0  # as if nothing had ticked for a minute
        stuck = await bench.client.get("/healthz")
        assert (stuck.status_code, stuck.json()["ok"]) == (503, False)
