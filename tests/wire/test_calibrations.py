"""Calibrations from the terminal and over HTTP to the disk, by date, and back out of it."""

import asyncio
import json
import math
from dataclasses import replace

import pytest
from typer.testing import CliRunner

from logger import settings
from logger.burn.course import Course
from logger.burn.entries import Calibrated, Lit, Out
from logger.burn.expected import ANY_ABOVE_ROOM, after, wall_shape
from logger.burn.hypotheses import weigh
from logger.cli import app
from logger.conditioning.calibration import Correction
from logger.errors import DataError
from logger.pipeline import Pipeline
from logger.quantities import Quantity
from logger.service import core, records
from logger.service.calibrating import calibrate as calibrate_by
from logger.service.calibrating import read_points
from logger.service.replay import lines
from logger.store.queries import known_calibrations
from logger.store.store import Store
from logger.timestamps import parse_rfc3339
from tests.support.store import AT_S, configured
from tests.support.web_bench import ONE_STATION, START_S, WALL, serving

ICE = {
    "ice": "0.2 degC",
    "boiling": "99.1 degC",
    "pressure": "1002 hPa",
    "by": "Ines",
    "reference": "ice bath, glass thermometer no. 4",
}


@pytest.fixture
def bench(tmp_path):
    """Runs `wickbench` on a bench that no service holds; its words come back."""
    config = tmp_path / "bench.toml"
    text = ONE_STATION.replace("{folder}", str(tmp_path))
    config.write_text(text.replace("field = 0", 'calibration = { offset = "5 kelvin" }\nfield = 0'))

    def wickbench(*words):
        return CliRunner().invoke(app, [*words, "--config", str(config)])

    wickbench.settings = lambda: settings.load(config)
    wickbench.config = config
    return wickbench


def calibrate(bench, *words, by="Ines", at="2031-05-04T08:00:00Z"):
    words = (*words, "--by", by, "--reference", "glass thermometer no. 4", "--at", at)
    return bench("calibrate", WALL, *words)


def stored(bench):
    return known_calibrations(bench.settings().bench.data)


@pytest.fixture(autouse=True)
def today(monkeypatch):
    """The day after the evening that these tests are about."""
    monkeypatch.setattr("logger.clock.RealClock.now_s", lambda _self: START_S + 86_400.0)


def test_what_a_person_compared_is_stored_with_date_name_and_reference(bench):
    assert bench("calibrate", "list").stdout == "no calibration is recorded\n"
    words = ("--ice", "0", "--boiling", "99.1", "--pressure", "1002 hPa")
    done = calibrate(bench, *words, "--uncertainty", "0.05 degC", at="2031-05-04")
    assert done.exit_code == 0, done.output
    (entry,) = stored(bench)
    assert (entry.channel, entry.by) == (WALL, "Ines")
    assert entry.reference == "glass thermometer no. 4"
    assert entry.method == "ice, and boiling at 1002 hPa"
    assert START_S - 86_400.0 < entry.at_s < START_S < entry.entered_s
    assert entry.correction.applied(0.0) == pytest.approx(0.0)
    assert entry.correction.applied(99.1) == pytest.approx(99.66, abs=0.01)
    assert entry.correction.uncertainty_at(0.0) == pytest.approx(0.078, abs=0.001)


@pytest.mark.parametrize(
    ("words", "at_60"),
    [
        pytest.param(("--offset", "-0.3 degC"), -0.3, id="offset"),
        pytest.param(("--offset", "-0.54 delta_degF"), -0.3, id="offset in degF"),
        pytest.param(
            ("--ice", "32", "--boiling", "210.2", "--unit", "degF", "--altitude", "1000 m"),
            -(99.0 - 96.66) * 60.0 / 99.0,  # where it boils at 96.66 degC, at 898.7 hPa
            id="altitude",
        ),
    ],
)
def test_ways_to_compare(bench, words, at_60):
    done = calibrate(bench, *words)
    assert done.exit_code == 0, done.output
    assert stored(bench)[0].correction.at(60.0) == pytest.approx(at_60, abs=0.01)


def test_what_a_probe_shows_is_typed_as_the_bench_shows_it(bench):
    fahrenheit = bench.config.read_text().replace(
        "[bench]", '[bench]\nshow = { temperature = "degF" }'
    )
    bench.config.write_text(fahrenheit)
    done = calibrate(bench, "--ice", "32.4", "--boiling", "211.5", "--altitude", "0 m")
    assert done.exit_code == 0, done.output
    assert stored(bench)[0].correction.at(0.0) == pytest.approx(-0.4 / 1.8, abs=0.01)


def test_many_points_come_from_a_file(bench, tmp_path):
    points = tmp_path / "points.csv"
    points.write_text("reference,shown\n20.0,20.2\n40.0,40.1\n60.0,60.3\n")
    done = calibrate(bench, "--points", str(points), "--uncertainty", "0.1 degC")
    assert done.exit_code == 0, done.output
    (entry,) = stored(bench)
    assert entry.method == "3 points"
    assert entry.correction.at(40.2) == pytest.approx(-0.2, abs=0.001)
    assert entry.correction.uncertainty_at(40.2) > 0.1
    points.write_text("reference,shown\n20.0,20.2\n40.0,x\n")
    with pytest.raises(DataError, match=r'points.csv:3: "x" is not a number'):
        read_points(points)


def test_the_list_says_which_one_counts(bench):
    calibrate(bench, "--offset", "-0.5 degC", "--uncertainty", "0.1 degC", at="2031-05-03T08:00Z")
    calibrate(bench, "--offset", "-0.2 degC", at="2031-05-01T08:00Z", by="Otto")
    told = bench("calibrate", "list").stdout.splitlines()
    assert told == [
        f"  {WALL}  2031-05-01  offset: -0.20 ± 1.22 °C at 20.0 °C, -0.20 ± 1.22 °C at 60.0 °C"
        " (uncertainty not stated, a usual one assumed)",
        "    by Otto against glass thermometer no. 4",
        f"* {WALL}  2031-05-03  offset: -0.50 ± 0.20 °C at 20.0 °C, -0.50 ± 0.20 °C at 60.0 °C",
        "    by Ines against glass thermometer no. 4",
    ]
    as_json = json.loads(bench("calibrate", "list", "--json").stdout)
    assert [one["in_force"] for one in as_json] == [False, True]


@pytest.mark.parametrize(
    ("words", "remedy"),
    [
        pytest.param(
            ("--offset", "-30 degC"), "larger than any that a sound probe needs", id="far off"
        ),
        pytest.param(("--offset", "1 degC", "--ice", "0"), "give one of", id="two ways"),
        pytest.param((), "give one of", id="no way"),
        pytest.param(("--ice", "0", "--pressure", "1 bar"), "go together", id="one point of two"),
        pytest.param(("--ice", "0", "--boiling", "99"), "or the altitude", id="no pressure"),
        pytest.param(("--ice", "99", "--boiling", "0", "--pressure", "1000 hPa"),
                     "check units", id="swapped"),
        pytest.param(("--offset", "1 degC", "--at", "2031-06-01"), "in the future", id="tomorrow"),
        pytest.param(("--offset", "1 degC", "--at", "2031-02-31"), "is not a day", id="no-day"),
        pytest.param(("--offset", "1 degC", "--by", ""), "--by NAME", id="by nobody"),
    ],
)  # fmt: skip
def test_what_calibrates_nothing_is_refused_with_its_remedy(bench, words, remedy):
    done = bench("calibrate", WALL, "--by", "Ines", "--reference", "ice", *words)
    assert done.exit_code != 0
    assert remedy in str(done.exception)
    assert not bench.settings().bench.data.exists() or not stored(bench)


def test_a_channel_that_is_not_there_is_named(bench):
    done = bench("calibrate", "jar-z", "--offset", "1 degC", "--by", "Ines", "--reference", "x")
    assert "no channel jar-z; the configuration has: jar-a-wall-3, room" in str(done.exception)


def test_replay_corrects_each_reading_by_the_day_it_was_read(bench, tmp_path):
    """The calibration wins over the configuration's offset of 5 K from its date on."""
    rows = "".join(f"{START_S + s},{WALL},40.0\n" for s in range(-60, 60))
    (tmp_path / "readings.csv").write_text("time,channel,value\n" + rows)
    calibrate(bench, "--offset", "1 degC", at="2031-05-04T09:00:00Z")
    told = [json.loads(line) for line in lines(bench.settings(), tmp_path / "readings.csv")]
    found = {}
    for one in told:
        if one["kind"] == "estimate":
            found.setdefault(parse_rfc3339(one["time"]) > START_S, set()).add(one["value"])
    assert found == {False: {45.0}, True: {41.0}}


async def test_replay_starts_a_known_burn_from_what_it_started_from(bench, tmp_path, opened):
    """The forecasts of a burn replayed alone are those that its candle's earlier burns made."""
    hotter = after(weigh(_course(60.0)), above_room=True)
    text = (tmp_path / "bench.toml").read_text()
    pipeline = Pipeline(core.bench_of(bench.settings()), START_S)
    entry = Lit(
        at_s=START_S, entered_s=START_S, id="lit", station="jar-a", trial="t",
        expected={WALL: hotter},
    )  # fmt: skip
    rows = "".join(
        f"{START_S + s},{WALL},{30.0 + s / 60.0}\n{START_S + s},room,22.0\n"
        for s in range(0, 3600, 10)
    )
    (tmp_path / "readings.csv").write_text("time,channel,value\n" + rows)

    def foretold():
        told = map(json.loads, lines(bench.settings(), tmp_path / "readings.csv", START_S))
        return [one["value"] for one in told if one["kind"] == "forecast"]

    usual = foretold()
    store = await opened(bench.settings().bench.data, **configured(text))
    await store.append([(entry, pipeline.step(entry))])
    known = foretold()
    assert min(len(known), len(usual)) > 3
    assert known[-1] > usual[-1] + 2.0


def _course(rise_k):
    course = Course(wall_shape(ANY_ABOVE_ROOM, start_sd_k=2.0))
    for t_s in range(30, 14_400, 30):
        course.add(float(t_s), rise_k * -math.expm1(-t_s / 2500.0), 0.1)
    return course


async def test_the_running_bench_takes_it_at_once_and_after_a_restart(tmp_path):
    async with serving(tmp_path) as bench:
        burn = await bench.light()
        await bench.seconds(40, wall=50.0, room=22.0)
        path = f"/api/channels/{WALL}/calibrations"
        offset = {"offset": "-2 delta_degC", "by": "Ines", "reference": "an ice bath"}
        answer = await bench.post(path, **offset, at="1 min ago")  # the next run begins at START_S
        assert answer.status_code == 201, answer.text
        await bench.seconds(6, wall=50.0, room=22.0)
        (wall, _) = (await bench.now())["channels"]
        assert wall["estimate"]["value"] == pytest.approx(48.0, abs=0.01)
        page = await bench.client.get(f"/burns/{burn}/record")
        assert "calibrated against an ice bath" in page.text
        for body, status in (({**ICE, "by": ""}, 422), ({**ICE, "offset": "1 kelvin"}, 422)):
            assert (await bench.post(path, **body)).status_code == status
        missing = await bench.post("/api/channels/jar-z/calibrations", **ICE)
        assert missing.status_code == 409
        assert "no channel jar-z" in missing.json()["detail"]
    async with serving(tmp_path) as bench:
        await bench.seconds(30, wall=50.0, room=22.0)
        (wall, _) = (await bench.now())["channels"]
        assert wall["estimate"]["value"] == pytest.approx(48.0, abs=0.01)
        loaded = settings.load(tmp_path / "bench.toml")  # the command finds the service by it
        answer = await asyncio.to_thread(calibrate_by, loaded, WALL, {**ICE, "at": "now"})
        assert answer["new"]
        await bench.seconds(6, wall=50.0, room=22.0)
        (wall, _) = (await bench.now())["channels"]
        assert wall["estimate"]["value"] == pytest.approx(50.1, abs=0.1)
        assert [one.by for one in known_calibrations(tmp_path / "data")] == ["Ines", "Ines"]


@pytest.mark.parametrize(
    ("stated", "noted"),
    [({}, True), ({"uncertainty": "0.1 delta_degC"}, False)],
    ids=["unstated", "stated"],
)
async def test_points_without_an_uncertainty_do_not_state_the_accuracy(tmp_path, stated, noted):
    points = [{"reference": x, "shown": x + off} for x, off in ((20, 0.1), (40, 0.2), (60, 0.0))]
    unstated = ONE_STATION.replace('accuracy = "0.1 delta_degC"\n', "")
    async with serving(tmp_path, unstated) as bench:
        burn = await bench.light()
        await bench.seconds(10, wall=50.0, room=22.0)
        body = {"points": points, "by": "Ines", "reference": "glass thermometer", "at": "1 min ago"}
        answer = await bench.post(f"/api/channels/{WALL}/calibrations", **body, **stated)
        assert answer.status_code == 201, answer.text
        await bench.seconds(10, wall=50.0, room=22.0)
        page = await bench.client.get(f"/burns/{burn}/record")
        assert ("accuracy is not stated" in page.text) is noted


async def test_an_old_burn_keeps_its_figures_whatever_is_calibrated_later(
    tmp_path, opened, evening
):
    text = ONE_STATION.replace("{folder}", str(tmp_path))
    store = await opened(**configured(text))
    bench = evening().hot(upto=60)
    bench.step(Out(at_s=AT_S + 61.0, entered_s=AT_S + 61.0, id="out", station="jar-a"))
    await store.append(bench.steps)
    burn = f"jar-a-{int(AT_S)}"
    before = records.burn_message(tmp_path, burn)
    late = Calibrated(
        at_s=AT_S + 30.0,  # dated into the burn, entered a day after it
        entered_s=AT_S + 86_400.0,
        id="calibrated-late",
        by="Ada",
        channel="jar-a-wall-3",
        quantity=Quantity.TEMPERATURE,
        reference="glass thermometer no. 4",
        method="offset",
        correction=Correction(offset=-5.0),
    )
    await store.append([bench.step(late)])
    assert records.burn_message(tmp_path, burn) == before
    assert "no. 4" not in records.record_html(tmp_path, burn)
    memory = await store.memory(AT_S + 86_401.0)
    assert memory.calibrations == (late,)


async def test_the_table_holds_channel_and_date(tmp_path, opened, evening):
    store = await opened()
    bench = evening()
    entry = Calibrated(
        at_s=AT_S - 60.0, entered_s=AT_S, id="calibrated-1", by="Ada", channel="room",
        quantity=Quantity.TEMPERATURE, reference="x", method="offset",
        correction=Correction(offset=0.5, offset_uncertainty=0.1),
    )  # fmt: skip
    steps = [bench.step(entry)]
    await store.append(steps)
    await store.append(steps)  # a repeated batch adds nothing
    assert isinstance(store, Store)
    rows = await store._on_thread(
        lambda: store._con.execute("SELECT channel, at_us FROM calibration").fetchall()
    )
    assert rows == [("room", int((AT_S - 60.0) * 1e6))]
    better = replace(entry, id="calibrated-2", correction=Correction(offset=0.4))
    await store.append([bench.step(better)])
    memory = await store.memory(AT_S)
    assert memory.calibrations == (entry, better)  # of one date the last entered counts
