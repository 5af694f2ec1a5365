"""What a person may state of a burn: one table of fields, the same on every way in and out."""

import json

import pytest

from logger.burn.entries import Lit, Out
from logger.burn.stated import Circumstances, Ending
from logger.field_table import fields_of
from logger.publish.commands import parse
from tests.support.web_bench import LIT, ONE_STATION, START_S, serving

STATED = {
    "regime": "power",
    "trimmed_to": "0.25 in",
    "planned_length": "90 min",
    "surface": "steel tray",
    "gap": "30 cm",
    "heating": "off",
    "fan": "off",
    "window": "closed",
}
KEPT = {
    "regime": "power",
    "trimmed_to_mm": 6.35,  # an inch is 25.4 mm by definition (1959)
    "planned_length_s": 5400.0,
    "surface": "steel tray",
    "gap_mm": 300.0,
    "heating": "off",
    "fan": "off",
    "window": "closed",
}


async def told(bench, burn="1"):
    return (await bench.client.get(f"/api/burns/{burn}")).json()


async def test_by_http_all_of_it_is_kept_shown_and_corrected(tmp_path):
    async with serving(tmp_path) as bench:
        lit = await bench.post("/api/burns", **LIT, **STATED)
        assert lit.status_code == 201, lit.text
        await bench.seconds(2)
        out = await bench.post("/api/burns/1/out", ended="stopped early", how="metal lid")
        assert out.json()["text"] == "jar-a: recorded out, stopped early, metal lid"
        await bench.seconds(1)
        found = await told(bench)
        assert found["stated"] == {**KEPT, "ended": "stopped early", "how": "metal lid"}
        record = (await bench.client.get("/burns/1/record")).text
        assert "regime power; trimmed to 6.3 mm; planned length 1 h 30 min;" in record
        assert "<dt>Ended</dt><dd>stopped early, metal lid</dd>" in record
        first, last = (one["id"] for one in found["entries"])
        changed = await bench.post(
            f"/api/entries/{first}/correct",
            why="a slip",
            regime="short",
            clear=["gap", "planned_length"],
        )
        assert changed.status_code == 201, changed.text
        assert "regime short, not power" in changed.json()["text"]
        assert "gap left out, not 300 mm" in changed.json()["text"]
        changed = await bench.post(f"/api/entries/{last}/correct", why="a slip", how="blown out")
        assert changed.status_code == 201, changed.text
        refused = await bench.post(f"/api/entries/{last}/correct", why="a slip", regime="short")
        assert "the extinguishing has no regime" in refused.json()["detail"]
        await bench.seconds(1)
        found = await told(bench)
        kept = {**KEPT, "regime": "short", "ended": "stopped early", "how": "blown out"}
        del kept["gap_mm"], kept["planned_length_s"]
        assert found["stated"] == kept
        for wrong in ({"regime": "fast"}, {"trimmed_to": "6 g"}, {"planned_length": "0 h"}):
            refused = await bench.post("/api/burns", **LIT, **wrong)
            assert refused.status_code == 422
            assert next(iter(wrong)) in refused.json()["detail"]


async def test_nothing_of_it_is_demanded_and_blowing_out_is_advised_against(tmp_path):
    async with serving(tmp_path) as bench:
        await bench.light()
        out = await bench.post("/api/burns/1/out", how="blown out")
        assert out.json()["text"] == (
            "jar-a: recorded out, blown out. Next time take a snuffer or a flat metal lid: "
            "blowing throws hot wax (common practice)"
        )
        await bench.seconds(1)
        assert (await told(bench))["stated"] == {"how": "blown out"}


async def test_a_form_without_scripts_takes_bare_numbers_in_the_maker_s_units(tmp_path):
    inches = ONE_STATION.replace("[bench]", '[bench]\nshow = { length = "in" }')
    async with serving(tmp_path, inches) as bench:
        page = (await bench.client.get("/")).text
        for one in fields_of(Circumstances):
            assert f'name="{one.key}"' in page
        assert "Trimmed to, in" in page
        form = {"id": "form-000001", "trial": "cedar-6", "trimmed_to": "0,25", "regime": ""}
        answer = await bench.client.post(
            "/stations/jar-a/lit", data={**form, "planned_length": "1,5", "fan": "off"}
        )
        assert answer.status_code == 303, answer.text
        await bench.seconds(1)
        found = await told(bench)
        assert found["stated"] == {"trimmed_to_mm": 6.35, "planned_length_s": 5400.0, "fan": "off"}
        page = (await bench.client.get("/")).text
        for one in fields_of(Ending):
            assert f'name="{one.key}"' in page
        entry = found["entries"][0]["id"]
        answer = await bench.client.post(
            f"/stations/jar-a/entries/{entry}/correct",
            data={"id": "form-000002", "why": "misread", "trimmed_to": "0.2", "clear": "fan"},
        )
        assert answer.status_code == 303, answer.text
        await bench.seconds(1)
        stated = (await told(bench))["stated"]
        assert stated == {"trimmed_to_mm": 5.08, "planned_length_s": 5400.0}


def test_by_mqtt_a_command_says_the_same():
    lit, _ = parse(
        "record-lit",
        json.dumps({"station": "jar-a", "trial": "cedar-6", **STATED}).encode(),
        retained=False,
        now_s=START_S,
    )
    assert isinstance(lit, Lit)
    assert lit.stated == Circumstances(**KEPT)
    out, _ = parse(
        "record-out",
        json.dumps({"station": "jar-a", "ended": "self-extinguished"}).encode(),
        retained=False,
        now_s=START_S,
    )
    assert isinstance(out, Out)
    assert out.stated == Ending(ended="self-extinguished")


async def test_what_is_not_stated_is_taken_from_the_records(tmp_path):
    async with serving(tmp_path) as bench:
        for path, body in (
            ("wicks", {"name": "marrow-6"}),
            ("wickings", {"name": "one-6", "wick": "marrow-6"}),
            ("trials", {"name": "cedar-6", "wicking": "one-6", "regime": "short"}),
            ("testers", {"name": "M6", "trial": "cedar-6"}),
        ):
            assert (await bench.post(f"/api/{path}", **body)).status_code == 201
        assert (
            await bench.post("/api/trials/cedar-6/change", trimmed_to="5 mm", planned_length="1 h")
        ).status_code == 201
        await bench.post("/api/burns", station="jar-a", tester="M6", trimmed_to="4 mm")
        await bench.seconds(1)
        found = await told(bench)
        assert found["wick"] == "marrow-6"
        assert found["stated"] == {
            "regime": "short",
            "trimmed_to_mm": 4.0,
            "planned_length_s": 3600.0,
        }
        station = (await bench.now())["stations"][0]
        assert station["remaining_s"] == pytest.approx(3600.0, abs=3.0)
        page = (await bench.client.get("/")).text
        assert "put it out: your planned length is over" in page
        assert "longest burn is over" not in page


@pytest.mark.parametrize(
    ("planned", "longest_s", "says"),
    [
        pytest.param("20 min", 1200.0, "longer than the 20 min planned", id="shorter"),
        pytest.param("9 h", 4 * 3600.0, "longer than your 4 h", id="never looser"),
    ],
)
def test_a_planned_length_warns_sooner_and_never_later(planned, longest_s, says):
    from dataclasses import replace

    from logger.alarms.lifecycle import AlarmEvent
    from logger.units import Dimension, parse_quantity
    from tests.support.pipeline_bench import Live, lit

    live = Live()
    stated = Circumstances(planned_length_s=parse_quantity(planned, Dimension.DURATION))
    live.put(replace(lit(), stated=stated))
    live.wait(int(longest_s) - 5)
    assert not live.alarms("burn-too-long")
    live.wait(10)
    assert live.alarms("burn-too-long")
    told = [event.alarm.finding for event in live.of(AlarmEvent)]
    assert any(says in one.text and one.limit == longest_s for one in told)
