"""`judge` in the terminal, the same by HTTP and on the page of a trial."""

import asyncio
import json

import pytest

from logger.service.trial_verdict import Judging
from tests.support.command_line import typed
from tests.support.described import as_described
from tests.support.reported_series import GOOD, HOSTILE, reported_series
from tests.support.web_bench import serving


@pytest.fixture(scope="module")
def series(tmp_path_factory):
    """A trial that failed and one with a hostile name, in a database."""
    return asyncio.run(reported_series(tmp_path_factory.mktemp("judged")))


def judge(bench, trial, *words):
    return typed("judge", trial, *words, "--config", str(bench.folder / "bench.toml"))


def test_a_fail_has_its_reason_whose_limit_it_is_the_next_step_and_code_4(series):
    done = judge(series, GOOD)
    assert done.returncode == 4
    first, room, second, third, fourth, *_ = done.stdout.splitlines()
    assert room == "  in a room of 80.6 °F it may reach 164.3 °F, over the maker's limit"
    assert first == "cedar 6: FAIL, by 3 burns"
    assert second.startswith("  fail: The hottest measured place stays under")
    assert "over the maker's limit of 140.0 °F" in third
    assert fourth == "    limit 140.0 °F, default: common practice of makers, or a threshold for " \
        "burns from memory"  # fmt: skip
    assert "  next: one size down. What was seen and measured" in done.stdout
    assert "  holds for: wax Hazelmoor soy 12, lot A7" in done.stdout
    assert "  missing, burn 1: Nobody recorded where the top of the wax was" in done.stdout


def test_json_is_what_http_hands_out_and_is_as_described(series):
    found = json.loads(judge(series, GOOD, "--json").stdout)
    as_described(found, "TrialMessage")
    assert found == json.loads(json.dumps(Judging(series.folder / "data").message(GOOD)))
    flame = next(one for one in found["criteria"] if one["criterion"] == "flame-height")
    assert (flame["asks"], flame["origin"]) == ("2.95 in", "default: EN 15493, seen as quoted")


def test_undecided_names_the_smallest_next_burn_and_ends_with_0(series):
    done = judge(series, HOSTILE)
    assert done.returncode == 0
    assert "UNDECIDED, by 1 burn" in done.stdout
    assert "the smallest next burn that would decide it:\n" in done.stdout
    assert "    once it is out, time how long it smokes\n" in done.stdout
    assert "\u202e" not in done.stdout


def test_a_trial_that_is_not_there(series):
    done = judge(series, "cedar 7")
    assert done.returncode != 0
    assert "there is no trial cedar 7" in done.stderr


def test_a_trial_of_a_new_vessel_is_told_what_to_begin_with(series):
    for kind, name, *options in (
        ("vessel", "wide jar", "--inner-diameter", "95 mm"),
        ("wick", "W6", "--series", "wide ones", "--order", "6"),
        ("wicking", "one wide", "--wick", "W6"),
        ("trial", "wide", "--formula", "slate 8", "--vessel", "wide jar", "--wicking", "one wide"),
    ):
        added = typed(kind, "add", name, *options, "--config", str(series.folder / "bench.toml"))
        assert (added.returncode, added.stderr) == (0, "")
    done = judge(series, "wide")
    assert "wide: UNDECIDED, by 0 burns" in done.stdout
    assert "begin with: not known. No trial of yours has passed with this formula" in done.stdout
    assert "one burn of 4 h or more" in done.stdout


async def test_the_page_of_a_trial_says_the_same(tmp_path):
    async with serving(tmp_path) as bench:
        lit = await bench.post("/api/burns", station="jar-a", trial="cedar 6/8", checks=["tray"])
        await bench.seconds(3, wall=40.0, room=22.0)
        number = lit.json()["number"]
        await bench.post(f"/api/burns/{number}/out", ended="planned", how="snuffer")
        await bench.seconds(1)
        page = (await bench.client.get("/trials/cedar%206/8")).text
        found = (await bench.client.get("/api/trials/cedar%206%2F8/verdict")).json()
        assert f"<b>{found['outcome'].upper()}</b>, by 1 burn." in page
        for text in ("Next: stay", "The smallest next burn", "Nobody reported an emergency"):
            assert text in page
        assert 'href="/burns/1"' in page
        assert 'href="/trials/cedar%206/8"' in (await bench.client.get("/burns/1")).text
        assert (await bench.client.get("/trials/none")).status_code == 404
