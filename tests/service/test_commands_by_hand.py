"""What a person types at a terminal: readings, the wrong jar; and what `check` and `find` ask."""

import html
import json
import os

import pytest

from logger import messages
from logger.service import records
from logger.service.finding import SearchPlaces, find_instruments
from logger.service.trial_verdict import Judging
from logger.settings import load
from logger.store.queries import open_read
from logger.timestamps import parse_rfc3339
from simulators.one_wire_folder import OneWireFolder
from tests.support.process_bench import TWO_PROBES, BenchProcess
from tests.support.waiting import until

SENSOR = "28-0000000000a1"
BENCH = (
    TWO_PROBES.replace("[[instrument]]", '[[station]]\nname = "jar-b"\n\n[[instrument]]', 1)
    + f"""
[[instrument]]
name = "bus"
driver = "one-wire"
folder = "{{folder}}/w1"
[[instrument.channel]]
name = "cellar"
quantity = "temperature"
place = "support"
field = "{SENSOR}"
unit = "degC"
"""
)


@pytest.fixture
def bench(tmp_path):
    OneWireFolder(tmp_path / "w1").show(SENSOR, 23.5)
    with BenchProcess(tmp_path, BENCH) as bench:
        yield bench


def lit(bench, station):
    words = ("--trial", "marigold-6", "--watched-by", "Ines", "--checked", "--at", "1 h ago")
    done = bench.typed("burn", "lit", station, *words)
    assert done.returncode == 0, done.stderr


READ = ("burn", "read", "jar-a", "118", "119", "117", "156", "--unit", "degF",
        "--height", "40 mm", "--clock", "9", "--at", "20 min ago")  # fmt: skip


@pytest.mark.parametrize("running", [True, False], ids=["service", "no service"])
def test_what_was_entered_is_listed_corrected_and_withdrawn(bench, running):
    if running:
        bench.start()
    lit(bench, "jar-a")
    assert bench.typed("burn", "note", "jar-a", "soot").returncode == 0
    assert bench.typed(*READ).returncode == 0

    def listed():
        said = bench.typed("burn", "entries", "jar-a")
        assert said.returncode == 0, said.stderr
        return said.stdout.splitlines()

    lighting, note, read = (line.split()[0] for line in listed())
    done = bench.typed("burn", "correct", read, "--unit", "degC", "--why", "the gun was in degC")
    assert done.returncode == 0, done.stderr
    assert "°C, not 118.0" in done.stdout
    done = bench.typed("burn", "withdraw", note, "--why", "not of this jar", "--by", "Ines")
    assert "withdrawn: note: soot, says Ines: not of this jar" in done.stdout, done.stderr
    done = bench.typed("burn", "correct", lighting, "--tester", "M6", "--why", "forgotten")
    assert done.returncode == 0, done.stderr
    lines = listed()
    assert "[now: lit, a burn of marigold-6, M6, watched by Ines; forgotten]" in lines[0]
    assert "[withdrawn; not of this jar]" in lines[1]
    assert "note: soot  [withdrawn; not of this jar]" in bench.typed("burn", "show", "jar-a").stdout
    assert "118.0, 119.0, 117.0, 156.0 °F" in lines[2]
    assert "[now: read by hand, wall, 40 mm, 9 o'clock: 118.0" in lines[2]
    words = ("--clear", "tester", "--clear", "watched_by", "--why", "no code on it")
    done = bench.typed("burn", "correct", lighting, *words)
    assert done.returncode == 0, done.stderr
    assert "code on the vessel none, not M6" in done.stdout
    assert "[now: lit, a burn of marigold-6; no code on it]" in listed()[0]
    done = bench.typed("burn", "correct", lighting, "--clear", "trial", "--why", "no trial")
    assert done.returncode != 0
    assert bench.typed("burn", "withdraw", note, "--why", "again").returncode == 1
    assert bench.typed("burn", "withdraw", lighting).returncode == 2


@pytest.mark.parametrize("running", [True, False], ids=["service", "no service"])
def test_readings_are_averaged_and_a_wrong_jar_is_put_right(bench, running):
    if running:
        bench.start()
    lit(bench, "jar-a")
    lit(bench, "jar-b")
    said = bench.typed(*READ)
    assert said.returncode == 0, said.stderr
    first, aside, hint = said.stdout.splitlines()
    assert first.startswith("jar-a: recorded 118.0 ± ")
    assert "°F" in first
    assert aside == "set aside, far above the rest (the flame?): 156"
    reading = hint.split()[-2]
    assert "read by hand" not in bench.typed("burn", "entries", "jar-b").stdout

    moved = bench.typed("burn", "move", reading, "jar-b", "--by", "Ines")
    assert moved.returncode == 0, moved.stderr
    for station in ("jar-a", "jar-b"):  # where it was typed, and where it counts
        assert "read by hand" in bench.typed("burn", "entries", station).stdout
    again = bench.typed("burn", "move", reading, "jar-b")
    assert again.returncode == 1
    assert "already" in again.stderr

    with open_read(bench.data) as reader:
        burns = {burn.station: burn for burn in reader.burns()}
        (there,) = reader.by_hand(burns["jar-b"])
        assert reader.by_hand(burns["jar-a"]) == []
        told = [messages.event(one.event) for one in reader.events()]
    events = [message for message in told if message["event"] == "moved"]
    assert there.entered_s - there.at_s == pytest.approx(1200.0)
    assert there.by_a_person
    assert burns["jar-a"].hottest is None
    assert burns["jar-b"].hottest.value_c == pytest.approx(47.78, abs=0.01)
    assert {event["burn"] for event in events} == {burn.id for burn in burns.values()}
    assert all(parse_rfc3339(event["time"]) > there.at_s for event in events)


@pytest.mark.parametrize("running", [True, False], ids=["service", "no service"])
def test_three_weighed_burns_say_what_the_last_quarter_may_reach(bench, running):
    if running:
        bench.start()
    mass_g, evenings = 532.0, ((60, 48.2), (40, 49.7), (20, 51.3))
    for hours_ago, wall_c in evenings:

        def ago(hours, since=hours_ago):
            return ("--at", f"{since - hours} h ago")

        words = ("--trial", "marigold-6", "--watched-by", "Ines", "--checked", *ago(0))
        wax = ("--wax", "220 g") if hours_ago == 60 else ()
        for done in (
            bench.typed("burn", "lit", "jar-b", *words, "--mass", f"{mass_g} g", *wax),
            bench.typed(
                "burn", "read", "jar-b", f"{wall_c}", f"{wall_c + 0.2}", f"{wall_c - 0.1}",
                "--height", "40 mm", *ago(3),
            ),
            bench.typed("burn", "out", "jar-b", *ago(4)),
            bench.typed("burn", "weigh", "jar-b", f"{mass_g - 36.0} g", *ago(14)),
        ):  # fmt: skip
            assert done.returncode == 0, done.stderr
        mass_g -= 36.0
    told = done.stdout.splitlines()
    assert told[0] == "jar-b, marigold-6: weighed 424.0 g, after the burn"
    assert told[1].startswith("460.0 g before, 424.0 g after: 36.0 g of wax used, 9.0 g ± 0.4 an")
    assert "from 4 weighings over 12 h of burning" in told[3]
    assert "; consumption: yes, ±5 %; counts as burn 3 of this candle: yes" in told[-1]
    refused = bench.typed("burn", "weigh", "jar-b", "600 g")
    assert refused.returncode == 1
    assert "more than before, 460.0 g" in refused.stderr

    verdict = Judging(bench.data).message("marigold-6")
    expected = verdict["last_quarter"]
    assert expected["burns"] == 3
    assert 55.0 < expected["value"] < 65.0
    assert expected["low"] < expected["value"] < expected["high"]
    latest = verdict["burns"][-1]
    record = records.record_html(bench.data, latest)
    assert "460.0 g before, 424.0 g after: 36.0 g of wax used, 9.0 g ± 0.4 an hour" in record
    assert "by mid-burn 41 % of the wax was used" in record
    assert verdict["outlook"] in html.unescape(record)


@pytest.mark.parametrize("running", [True, False], ids=["service", "no service"])
def test_an_improbable_reading_is_asked_about_once(bench, running):
    if running:
        bench.start()
    lit(bench, "jar-b")
    typed = ("burn", "read", "jar-b", "134,5", "134.2", "--height", "40 mm", "--at", "20 min ago")
    asked = bench.typed(*typed)
    assert asked.returncode == 1
    assert asked.stderr == (
        "not recorded: 134.3 °C, but this is seldom over 90.0 °C; did you mean "
        "134.3 °F? Add --yes to keep it\n"
    )
    with open_read(bench.data) as reader:
        assert not any(reader.by_hand(burn) for burn in reader.burns())
    kept = bench.typed(*typed, "--yes")
    assert kept.returncode == 0, kept.stderr
    assert kept.stdout.startswith("jar-b: recorded 134.3 ± ")


def test_readings_are_in_the_unit_that_the_bench_shows(tmp_path):
    shown = TWO_PROBES.replace("[bench]", '[bench]\nshow = {{ temperature = "degF" }}', 1)
    with BenchProcess(tmp_path, shown) as bench:
        lit(bench, "jar-a")
        words = ("burn", "read", "jar-a", "104", "104.4", "--height", "40 mm")
        assert "104.2 ± " in (said := bench.typed(*words).stdout)
        assert "°F" in said
        stated = bench.typed(*words, "--unit", "degC")  # not in doubt: no wall is so hot
        assert "104.2 °C, but" in stated.stderr
        averaged = bench.typed("average", "104", "104,4", "104.2")
        assert averaged.stdout.splitlines()[0].startswith("104.2 ± ")
        assert "°F" in averaged.stdout


def test_the_answer_as_json(bench):
    lit(bench, "jar-a")
    answer = json.loads(bench.typed(*READ, "--json").stdout)
    assert answer["used"] == [118.0, 119.0, 117.0]
    assert answer["set_aside"] == [156.0]
    gun = bench.typed(*READ, "--emissivity-set", "0.95")
    assert gun.returncode == 1
    assert "0.92 for bare glass" in gun.stderr
    words = ("--emissivity", "0.92", "--emissivity-set", "0.95", "--reflected", "22 degC")
    gun = json.loads(bench.typed(*READ, *words, "--json").stdout)
    assert gun["value"] > answer["value"] + 1.0


def test_check_and_find_ask_the_running_service(bench):
    bench.start()
    bench.opened()
    bench.write(lambda: [45.0, 22.0])
    until(lambda: all(i["state"] == "up" for i in bench.now()["instruments"]), "all are up")
    until(lambda: all(c["estimate"] for c in bench.now()["channels"]), "estimates")
    done = bench.typed("check", "--json")
    items = {item["what"]: item for item in json.loads(done.stdout)["items"]}
    assert items["service"]["ok"]
    assert items["channel cellar"]["value"] == pytest.approx(23.5)
    assert items["channel jar-a-wall-3"]["warns_early"] > 0.0
    assert items["instrument probes"]["readings"] > 0

    stable = bench.folder / "serial" / "by-id"
    stable.mkdir(parents=True)
    (stable / "usb-probes").symlink_to(os.path.realpath(bench.port.link))
    places = SearchPlaces(serial=stable.parent, one_wire=bench.folder / "w1", plugged=list)
    found = find_instruments(load(bench.config), places)
    (port,), (sensor,) = found.ports, found.sensors
    assert port.state == "read by the running service: up, readings are coming"
    assert (port.read_by, port.toml) == ("probes", None)
    assert (sensor.celsius, sensor.read_by) == (23.5, "bus")
