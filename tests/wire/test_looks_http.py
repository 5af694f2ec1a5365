"""Looks over HTTP and by command: entered, corrected, in the burn's JSON and in its record."""

import asyncio

from tests.support.described import as_described
from tests.support.warm_starts import done
from tests.support.web_bench import serving


async def wickbench(bench, *words):
    """What another process says, told of the bench that runs here."""
    words = ("-m", "logger", *words, "--config", str(bench.service.settings.path))
    ended = await asyncio.to_thread(done, *words)
    assert ended.stderr == ""
    return ended.stdout


async def test_a_look_by_http_and_by_command(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        await bench.seconds(60)
        posted = await bench.post(
            f"/api/burns/{burn}/observations", pool="62 mm, 60 mm", full_pool="no", soot=1
        )
        assert posted.status_code == 201, posted.text
        assert posted.json()["text"] == "jar-a: pool 62, 60 mm; full pool no; soot 1 (a trace)"
        look = posted.json()["id"]
        said = await wickbench(bench, "burn", "look", "jar-a", "--flame", "22 mm", "--smoke", "0")
        assert said == "jar-a: smoke 0 (none); flame 22 mm\n"
        said = await wickbench(
            bench, "burn", "correct", look, "--why", "misread", "--soot", "0", "--clear", "pool"
        )
        assert "pool left out, not 62, 60 mm; soot 0 (none), not 1 (a trace)" in said
        refused = await bench.post(f"/api/burns/{burn}/observations", mark="1 h", soot=1)
        assert refused.status_code == 409
        assert "leave the mark out for what you see now" in refused.json()["detail"]

        found = (await bench.client.get(f"/api/burns/{burn}")).json()
        as_described(found, "BurnMessage")
        assert [one["seen"] for one in found["looks"]] == [
            {"full_pool": "no", "soot": "0 (none)"},
            {"smoke": "0 (none)", "flame": "22 mm"},
        ]
        assert {one["state"] for one in found["marks"]} == {"ahead"}
        pool = next(one for one in found["proves"] if one["question"] == "full melt pool")
        assert pool["text"] == "full melt pool: not yet, short of the wall after 60 s"
        record = (await bench.client.get(f"/burns/{burn}/record")).text
        assert "<h2>What was seen</h2>" in record
        assert "smoke 0 (none); flame 22 mm" in record


async def test_what_contradicts_the_burn_is_refused(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        await bench.seconds(60)
        path = f"/api/burns/{burn}/observations"
        early = await bench.post(path, after_smoke="12 s")
        assert (early.status_code, "record it out first" in early.text) == (409, True)
        wrong = await bench.post(path, pool="62")
        assert (wrong.status_code, "has no unit" in wrong.text) == (422, True)
        assert (await bench.post(path, text="a note as before")).status_code == 201
