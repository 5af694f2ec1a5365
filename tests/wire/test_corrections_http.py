"""Entries corrected and withdrawn over HTTP, across a restart, in record and verdict."""

import pytest

from logger import settings
from logger.burn.entries import Corrected
from logger.service.offline import enter_offline
from logger.timestamps import rfc3339
from tests.support.web_bench import ONE_STATION, serving

TWO_STATIONS = ONE_STATION.replace(
    "[[instrument]]", '[[station]]\nname = "jar-b"\nmaterial = "glass"\n\n[[instrument]]', 1
)
PLACE = {"height": "80 mm", "clock": 9}


async def burn_of(bench, burn):
    return (await bench.client.get(f"/api/burns/{burn}")).json()


async def verdict_of(bench, trial="cedar-6"):
    return (await bench.client.get(f"/api/trials/{trial}/verdict")).json()


def wall(found):
    (one,) = (j for j in found["judgements"] if j["criterion"] == "wall-limit")
    return one


async def test_a_reading_in_the_wrong_unit_fails_no_trial_once_it_is_corrected(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        read = await bench.post(
            f"/api/burns/{burn}/readings", values=[98.0, 98.4, 98.2], sure=True, **PLACE
        )
        id = read.json()["id"]
        await bench.seconds(3)
        assert wall((await burn_of(bench, burn))["verdict"])["outcome"] == "fail"
        put_right = await bench.post(
            f"/api/entries/{id}/correct", unit="degF", why="typed in degF", by="Ines"
        )
        assert put_right.status_code == 201
        assert "98.0, 98.4, 98.2 °F, not 98.0, 98.4, 98.2 °C" in put_right.json()["text"]
        await bench.seconds(3)
    async with serving(tmp_path) as bench:
        await bench.seconds(3)
        found = await burn_of(bench, burn)
        judged = wall(found["verdict"])
        assert "doubtful" not in judged["reason"]
        assert judged["outcome"] != "fail"
        assert found["hottest_measured"]["value"] == pytest.approx(36.8, abs=0.2)
        (entry,) = (one for one in found["entries"] if one["id"] == id)
        assert "98.0, 98.4, 98.2 °C" in entry["text"]
        assert "98.0, 98.4, 98.2 °F" in entry["counts"]
        assert [(c["change"], c["by"], c["why"]) for c in entry["changes"]] == [
            ("corrected", "Ines", "typed in degF")
        ]
        record = (await bench.client.get(f"/burns/{burn}/record")).text
        assert "98.0, 98.4, 98.2 °F, not 98.0, 98.4, 98.2 °C, says Ines: typed in degF" in record
        standing = [a["alarm"] for a in (await bench.now())["alarms"]]
        assert not [one for one in standing if "hand" in one]
        again = await bench.post(f"/api/entries/{id}/withdraw", id="of-no-jar", why="of no jar")
        assert again.status_code == 201
        assert (await burn_of(bench, burn))["hottest_measured"] is None


async def test_a_doubtful_reading_that_was_moved_leaves_no_doubt_behind(tmp_path):
    async with serving(tmp_path, TWO_STATIONS) as bench:
        burn = await bench.light()
        await bench.light(station="jar-b", trial="pine-2")
        typed = {"values": [48.0, 74.0, 61.0], "unit": "degC"}
        read = await bench.post(f"/api/burns/{burn}/readings", **typed, **PLACE)
        assert read.json()["quality"] == "doubtful"
        good = {"values": [48.0, 48.1, 48.2], "unit": "degC", "height": "40 mm"}
        await bench.post(f"/api/burns/{burn}/readings", **good)
        await bench.seconds(60)
        before = wall((await burn_of(bench, burn))["verdict"])
        await bench.post(f"/api/readings/{read.json()['id']}/move", station="jar-b")
        after = wall((await burn_of(bench, burn))["verdict"])
        assert "limit alarm was raised" in before["reason"]
        assert "limit alarm was raised" not in after["reason"]


async def test_an_emergency_tapped_by_mistake_is_withdrawn_only_with_a_reason(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        tap = await bench.post(f"/api/burns/{burn}/observations", emergency="crack", text="")
        path = f"/api/entries/{tap.json()['id']}/withdraw"
        assert (await bench.post(path)).status_code == 422
        assert (await bench.post(path, why=" ")).status_code == 422
        assert (await bench.post(path, why="brushed the screen", by="Ines")).status_code == 201
        await bench.post(f"/api/burns/{burn}/out")
        await bench.seconds(2)
        found = await burn_of(bench, burn)
        assert found["danger"] is None
        reasons = [j["reason"] for j in found["verdict"]["judgements"]]
        assert "an emergency was reported, and withdrawn: the diary says why" in reasons
        record = (await bench.client.get(f"/burns/{burn}/record")).text
        assert "EMERGENCY reported, the vessel is cracked" in record
        assert "brushed the screen" in record


async def test_a_lighting_that_never_was_is_of_no_trial(tmp_path):
    async with serving(tmp_path, TWO_STATIONS) as bench:
        await bench.light()
        wrong = await bench.post("/api/burns", station="jar-b", trial="cedar-6")
        body = wrong.json()
        await bench.post(f"/api/entries/{body['id']}/withdraw", why="the wrong station")
        statuses = {s["station"]: s for s in (await bench.now())["stations"]}
        assert (statuses["jar-b"]["burn"], statuses["jar-b"]["state"]) == (None, "cold")
        await bench.seconds(2)
        assert body["burn"] not in (await verdict_of(bench))["burns"]
        assert (await burn_of(bench, body["burn"]))["withdrawn"] is True
    async with serving(tmp_path, TWO_STATIONS) as bench:
        statuses = {s["station"]: s for s in (await bench.now())["stations"]}
        assert (statuses["jar-b"]["burn"], statuses["jar-a"]["state"]) == (None, "lit")


async def test_a_repeated_post_is_answered_with_what_was_recorded(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        body = {"id": "the-same-note", "text": "soot at the rim", "at": "2 min ago"}
        first = await bench.post(f"/api/burns/{burn}/observations", **body)
        await bench.seconds(60)
        again = await bench.post(f"/api/burns/{burn}/observations", **body)
        assert (first.status_code, again.status_code) == (201, 200)
        assert again.json() == {**first.json(), "new": False}
        assert first.json()["text"] == "jar-a: soot at the rim"
    async with serving(tmp_path) as bench:
        later = await bench.post(f"/api/burns/{burn}/observations", **body)
        assert later.json() == again.json()


async def test_a_trial_that_nearly_exists_is_asked_about_also_after_a_restart(tmp_path):
    async with serving(tmp_path, TWO_STATIONS) as bench:
        first = await bench.post("/api/burns", station="jar-a", trial="amber-jar-w6")
        assert "the first burn of amber-jar-w6" in first.json()["text"]
    async with serving(tmp_path, TWO_STATIONS) as bench:
        near = {"station": "jar-b", "trial": "Amber Jar W6", "id": "nearly-named"}
        asked = await bench.post("/api/burns", **near)
        assert asked.status_code == 409
        assert "there is a trial amber-jar-w6" in asked.json()["detail"]
        assert (await bench.post("/api/burns", **near, new_trial=True)).status_code == 201


async def test_a_field_is_emptied_from_the_page_and_by_json(tmp_path):
    async with serving(tmp_path) as bench:
        lit = await bench.post(
            "/api/burns", station="jar-a", trial="cedar-6", tester="M6", mass="500 g", wax="220 g"
        )
        id, burn = lit.json()["id"], lit.json()["burn"]
        page = (await bench.client.get("/stations/jar-a")).text
        assert '<input type="checkbox" name="clear" value="wax"> Leave empty: wax' in page
        form = {"clear": ["wax", "tester"], "why": "of another jar", "id": "form-clears"}
        sent = await bench.client.post(f"/stations/jar-a/entries/{id}/correct", data=form)
        assert sent.status_code == 303
        (entry,) = (one for one in (await burn_of(bench, burn))["entries"] if one["id"] == id)
        assert entry["counts"] == "lit, a burn of cedar-6, weighed 500.0 g"
        cleared = await bench.post(f"/api/entries/{id}/correct", clear=["mass"], why="not weighed")
        assert cleared.status_code == 201
        refused = await bench.post(f"/api/entries/{id}/correct", clear=["trial"], why="no trial")
        assert refused.status_code == 422


@pytest.mark.parametrize("running", [True, False], ids=["service", "no service"])
async def test_a_lighting_that_was_earlier_shows_the_peak_stored_since(tmp_path, running):
    async with serving(tmp_path) as bench:
        lit_s = bench.clock.now_s()
        await bench.seconds(90, wall=64.0, room=22.0)  # over the limit of 60
        await bench.clock.advance(1.25 * 3600.0)  # more than memory holds
        burn = await bench.light()
        await bench.seconds(60, wall=45.0, room=22.0)
        await bench.service.recorder.saved()
        found = await burn_of(bench, burn)
        assert found["hottest_measured"]["value"] < 46.0
        (lighting,) = (one["id"] for one in found["entries"])
        change = {"why": "recorded late", "by": "Ines"}
        if running:
            body = change | {"at": rfc3339(lit_s)}
            answer = await bench.post(f"/api/entries/{lighting}/correct", **body)
            assert answer.status_code == 201, answer.text
            await bench.seconds(3)
        now_s = bench.clock.now_s()
    if not running:
        stamps = {"id": "put-right-0001", "at_s": now_s, "entered_s": now_s}
        entry = Corrected(**stamps, entry=lighting, happened_s=lit_s, **change)
        await enter_offline(settings.load(tmp_path / "bench.toml"), entry)
    async with serving(tmp_path) as bench:
        await bench.seconds(3)
        found = await burn_of(bench, burn)
        assert found["hottest_measured"]["value"] == pytest.approx(64.0, abs=0.5)
        assert found["lit"] == rfc3339(lit_s)
        assert wall(found["verdict"])["outcome"] == "fail"
        record = (await bench.client.get(f"/burns/{burn}/record")).text
        assert "64.0 °C" in record


async def test_the_page_of_an_earlier_burn_corrects_it_too(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light(trial="cedar-6")
        note = await bench.post(f"/api/burns/{burn}/observations", text="soot at 3 o'clock")
        await bench.seconds(5)
        await bench.post(f"/api/burns/{burn}/out")
        await bench.seconds(5)
        await bench.light(trial="cedar-8")
        form = f"/stations/jar-a/entries/{note.json()['id']}/correct"
        assert f'action="{form}" data-leads>' in (await bench.client.get("/burns/1")).text
        for number, back, leads_to in (
            (1, "/burns/1", "/burns/1"),
            (2, "//elsewhere.example/burns/1", "/"),
        ):
            fields = {"id": f"form-000{number}", "why": "wrong jar", "text": f"no soot {number}"}
            sent = await bench.client.post(form, data=fields | {"back": back})
            assert (sent.status_code, sent.headers["location"]) == (303, leads_to)
            page = (await bench.client.get("/burns/1")).text
            assert f"no soot {number}" in page
            assert "<s>note: soot at 3 o&#39;clock</s>" in page
        assert "no soot" not in (await bench.client.get("/")).text
