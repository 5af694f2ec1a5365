"""What charts are drawn from, over HTTP: buckets with their uncertainty, gaps, single readings."""

import pytest

from logger.quantities import Reading
from tests.benchmarks.bench_page import CHANNELS, MOST_KB, configuration, weigh
from tests.support.web_bench import START_S, WALL, serving


async def get(bench, path, **asked):
    answer = await bench.client.get(path, params=asked)
    assert answer.status_code == 200, answer.text
    return answer.json()


async def test_a_burn_as_a_chart_shows_it_from_the_whole_to_single_readings(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.seconds(20, 40.0, room=22.0)
        burn = await bench.light()
        await bench.seconds(60, 41.0, room=22.0)
        await bench.seconds(40, None, room=22.0)  # a gap
        await bench.seconds(60, 44.0, room=22.0)
        hit_s = bench.clock.now_s() - 0.5
        bench.service.engine.put(Reading(channel=WALL, value=90.0, at_s=hit_s))
        await bench.post(f"/api/burns/{burn}/observations", text="the flame leans")
        await bench.seconds(20, 44.0, room=22.0)
        await bench.service.recorder.saved()
        now_s = bench.clock.now_s()

        told = await get(bench, "/api/curves", burn=burn)
        wall = next(one for one in told["lines"] if one["channel"] == WALL)
        assert (told["live"], told["since_lighting"], told["lit_s"]) == (
            True,
            False,
            START_S + 20.0,
        )
        assert [one["value"] for one in told["limits"]] == [60.0, 55.0]
        (gap,) = wall["gaps"]
        assert gap[1] - gap[0] == pytest.approx(40.0, abs=6.0)
        assert "the flame leans" in [one["text"].split(": ")[-1] for one in told["marks"]]
        assert {one["kind"] for one in told["marks"]} >= {"alarm", "entry"}  # the silence rang

        span = {"burn": burn, "from": told["lit_s"], "to": now_s}
        series = await get(bench, "/api/curves/series", **span, points=20)
        by_name = {one["channel"]: one for one in series["series"]}
        assert set(by_name) == {WALL, "room"}
        assert len(series["times_s"]) == len(by_name[WALL]["min"]) <= 20
        assert None in by_name[WALL]["max"]
        assert None not in by_name["room"]["max"]
        some = [n for n, high in enumerate(by_name[WALL]["max"]) if high is not None]
        assert all(by_name[WALL]["expanded"][n] > 0.0 for n in some)
        alone = await get(bench, "/api/curves/series", **span, points=20, channel="room")
        assert [one["channel"] for one in alone["series"]] == ["room"]
        assert alone["series"][0] == by_name["room"]  # asked for alone it is the same

        # every estimate by itself, at its own moment, as the one-channel route has it
        fine = await get(bench, "/api/curves/series", **span, points=4000)
        assert fine["bucket_s"] == 5.0
        by_itself = await get(
            bench, "/api/series", channel=WALL,
            **{"from": fine["times_s"][0], "to": fine["times_s"][-1] + 5.0}, points=4000,
        )  # fmt: skip
        shown = next(one for one in fine["series"] if one["channel"] == WALL)
        assert by_itself["times_s"] == fine["times_s"]
        assert [None if one is None else round(one, 2) for one in by_itself["max"]] == shown["max"]

        readings = await get(
            bench, "/api/curves/readings", burn=burn, channel=WALL,
            **{"from": hit_s - 30.0, "to": hit_s + 15.0},
        )  # fmt: skip
        (place,) = readings["places"]
        rejected = [place["values"][number] for number in place["rejected"]]
        assert rejected == [90.0]
        assert len(place["values"]) == 46


async def test_what_cannot_be_shown_is_said(tmp_path):
    async with serving(tmp_path) as bench:
        for path, status, words in (
            ("/api/curves", 422, "name a burn"),
            ("/api/curves?burn=nothing", 404, "there is no burn nothing"),
            ("/api/curves?trial=nothing", 404, "there is no trial nothing"),
            ("/api/curves?station=nowhere", 404, "no station nowhere"),
            ("/api/curves/series?station=jar-a&from=5&to=4", 422, "must lie before"),
            ("/api/curves/series?station=jar-a&from=5", 422, "to: say when"),
            ("/api/curves/series?from=4&to=5", 422, "burn: name one"),
            ("/api/curves/readings?station=jar-a&from=0&to=301&channel=room", 422, "300 s at most"),
            ("/burns/nothing/curve", 404, "there is no burn nothing"),
            ("/curves?station=jar-a&from=now", 422, "number of seconds"),
        ):
            answer = await bench.client.get(path)
            assert answer.status_code == status, path
            assert words in answer.text
        # a station of which nothing is stored has a page too
        assert (await bench.client.get("/curves?station=jar-a")).status_code == 200


async def test_what_a_phone_loads_of_sixteen_places_is_light(tmp_path):
    """At most 120 kB compressed, chart library, page and a whole burn's curve with it."""
    async with serving(tmp_path, configuration()) as bench:
        await bench.light()
        for second in range(60):
            for number in range(CHANNELS):
                at_s, value = bench.clock.now_s(), 40.0 + number + 0.37 * (second % 7)
                bench.service.engine.put(Reading(channel=f"wall-{number}", value=value, at_s=at_s))
            await bench.clock.advance(1.0)
        await bench.service.recorder.saved()
        weights = await weigh(bench.client)
        assert weights["chart library"] > 20.0  # it is there
        assert sum(weights.values()) <= MOST_KB, weights
