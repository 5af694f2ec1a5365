"""The pages of a bench that has a balance and a hygrometer as well."""

from logger.quantities import Reading
from tests.support.web_bench import ONE_STATION, serving

MORE = ONE_STATION.replace(
    "[web]",
    """
[[instrument.channel]]
name = "jar-a-mass"
station = "jar-a"
quantity = "mass"
place = "support"
field = 2
unit = "kg"

[[instrument.channel]]
name = "room-humidity"
quantity = "humidity"
place = "room"
field = 3
unit = "percent"

[web]""",
)


async def test_pages_record_and_series_show_them_beside_the_temperatures(tmp_path):
    async with serving(tmp_path, MORE) as bench:
        burn = await bench.light()
        for _ in range(15):
            at_s = bench.clock.now_s()
            values = {"jar-a-wall-3": 41.0, "jar-a-mass": 0.4125, "room-humidity": 91.0}
            for name, value in values.items():
                bench.service.engine.put(Reading(channel=name, value=value, at_s=at_s))
            await bench.clock.advance(1.0)
        now = await bench.now()
        found = {c["name"]: c["estimate"] for c in now["channels"] if c["estimate"]}
        assert (found["jar-a-mass"]["value"], found["jar-a-mass"]["unit"]) == (412.5, "g")
        assert (found["room-humidity"]["value"], found["room-humidity"]["unit"]) == (
            91.0,
            "percent",
        )
        assert now["stations"][0]["hottest_measured"]["channel"] == "jar-a-wall-3"
        assert [a for a in now["alarms"] if a["rule"].startswith(("wall", "room"))] == []
        await bench.service.recorder.saved()
        series = await bench.client.get("/api/series?channel=jar-a-mass")
        assert series.json()["unit"] == "g"
        assert max(v for v in series.json()["max"] if v is not None) == 412.5
        for path in ("/", "/stations/jar-a", f"/burns/{burn}/record", "/api/curve?station=jar-a"):
            page = await bench.client.get(path)
            assert page.status_code == 200, path
        page = (await bench.client.get("/stations/jar-a")).text
        assert "412.5" in page
        assert "91" in page
        assert "OVER LIMIT" not in page
