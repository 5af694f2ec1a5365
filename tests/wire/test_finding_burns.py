"""Every burn stays findable: by trial, vessel, wick, tester and date, withdrawn ones as such."""

import json
import re
from html import unescape

import pytest
from typer.testing import CliRunner

from logger.cli import app
from logger.errors import DataError
from logger.reports.burn_list import burn_filter
from tests.support.web_bench import serving

SHELF = (
    ("vessels", {"name": "tin-60"}),
    ("wicks", {"name": "marrow-6"}),
    ("wickings", {"name": "one-6", "wick": "marrow-6"}),
    ("testers", {"name": "M6"}),
)


async def numbers(bench, **asked):
    found = (await bench.client.get("/api/burns", params=asked)).json()["burns"]
    return [one["number"] for one in found]


@pytest.fixture
async def burned(tmp_path):
    """A bench with a shelf and one burn."""
    async with serving(tmp_path) as bench:
        for path, body in SHELF:
            assert (await bench.post(f"/api/{path}", **body)).status_code == 201
        # a record is named without a slash, a lighting may have one
        await bench.post("/api/burns", station="jar-a", trial="cedar 6/8")
        await bench.seconds(1)
        await bench.post("/api/burns/1/out")
        await bench.seconds(1)
        yield bench


async def test_a_trial_with_a_slash_has_its_pages_and_its_verdict(burned):
    bench = burned
    for path in ("/api/trials/cedar%206%2F8", "/api/trials/cedar%206/8"):
        assert (await bench.client.get(path)).json()["name"] == "cedar 6/8"
    changed = await bench.post("/api/trials/cedar%206%2F8/change", vessel="tin-60", wicking="one-6")
    assert changed.status_code == 201, changed.text
    assert (await bench.client.get("/api/trials/cedar%206%2F8/verdict")).status_code == 200
    listed = (await bench.client.get("/shelf/trials")).text
    link = re.search(r'href="(/shelf/trials/cedar[^"]*)"', listed)[1]
    sheet = await bench.client.get(unescape(link))
    assert sheet.status_code == 200
    assert "<h1>cedar 6/8</h1>" in sheet.text
    posted = await bench.client.post(
        f"{unescape(link)}/change", data={"id": "form-000001", "question": "enough?"}
    )
    assert posted.status_code == 303
    assert (await bench.client.get(posted.headers["location"])).status_code == 200


async def test_by_every_name_and_by_date_withdrawn_ones_too(burned, tmp_path):
    bench = burned
    await bench.post("/api/trials/cedar%206%2F8/change", vessel="tin-60", wicking="one-6")
    await bench.post("/api/testers/M6/change", trial="cedar 6/8")
    await bench.post("/api/trials", name="beech-4")
    for trial in ("cedar 6/8", "beech-4", "beech-4"):
        more = {"tester": "m6", "reason": "an empty tin"} if "/" in trial else {}
        lit = await bench.post("/api/burns", station="jar-a", trial=trial, **more)
        assert lit.status_code == 201, lit.text
        await bench.seconds(2)
        await bench.post(f"/api/burns/{lit.json()['number']}/out")
        await bench.seconds(1)
    gone = await bench.post(f"/api/entries/{lit.json()['id']}/withdraw", why="never lit")
    assert gone.status_code == 201, gone.text
    await bench.seconds(1)
    assert await numbers(bench) == [4, 3, 2, 1]
    assert await numbers(bench, trial="Cedar 6/8") == [2, 1]
    assert await numbers(bench, vessel="tin-60") == [2]
    assert await numbers(bench, wick="marrow-6") == [2]
    assert await numbers(bench, tester="M6") == [2]
    assert await numbers(bench, trial="beech-4", tester="M6") == []
    assert await numbers(bench, **{"from": "2031-05-05"}) == []
    assert await numbers(bench, **{"from": "2031-05-03", "to": "2031-05-05"}) == [4, 3, 2, 1]
    assert await numbers(bench, to="2031-05-04T09:00:01Z") == [1]
    refused = await bench.client.get("/api/burns", params={"from": "tomorrowish"})
    assert refused.status_code == 422
    assert refused.json()["detail"].startswith("from: ")
    page = (await bench.client.get("/burns", params={"trial": "beech-4"})).text
    assert page.count('class="button quiet" href="/burns/') == 2
    assert ", withdrawn</span>" in page
    for number in (1, 2, 3, 4):  # each has a page that leads to its record, and answers
        shown = await bench.client.get(f"/burns/{number}")
        assert shown.status_code == 200
        assert f'href="/burns/{number}/record"' in shown.text
        assert (await bench.client.get(f"/burns/{number}/record")).status_code == 200
        for link in re.findall(r'<td><a href="([^"]+)"', shown.text):
            assert (await bench.client.get(unescape(link))).status_code == 200, link
    assert "<b>Withdrawn:</b>" in shown.text
    assert (await bench.client.get("/burns/77")).status_code == 404
    methods = (await bench.client.options("/api/burns")).headers["allow"]
    assert {one.strip() for one in methods.split(",")} == {"GET", "HEAD", "POST"}
    config = ["--config", str(tmp_path / "bench.toml")]
    told = CliRunner().invoke(app, ["burn", "list", "--tester", "M6", "--json", *config])
    assert [one["number"] for one in json.loads(told.stdout)["burns"]] == [2]
    lines = CliRunner().invoke(app, ["burn", "list", *config]).stdout.splitlines()
    assert [line.split()[0] for line in lines] == ["4", "3", "2", "1"]
    assert lines[0].endswith("[withdrawn]")
    assert "tin-60  marrow-6" in lines[2]


def test_a_day_that_ends_it_is_a_part_of_it():
    day = burn_filter({"to": "2031-05-04"}, 2e9)
    moment = burn_filter({"to": "2031-05-04T00:00:00Z"}, 2e9)
    assert day.to_s is not None
    assert moment.to_s is not None
    assert abs(day.to_s - moment.to_s - 86_400.0) <= 14 * 3600.0  # whatever the system's zone
    with pytest.raises(DataError, match=r"^from: "):
        burn_filter({"from": "31 May"}, 2e9)
