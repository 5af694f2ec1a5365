"""A whole burn, told in the maker's units and no others: replay, alarms, phone, verdict, record."""

import json
import math
import re

import pytest

from logger.alarms.lifecycle import AlarmEvent
from logger.announcements import Announcer
from logger.burn import plausible, safety
from logger.burn.entries import Lit, ManualReading, Out, WeighIn
from logger.burn.model import BurnEvent
from logger.decision.pool_line import pool_line_gaps
from logger.decision.trial_rule import CRITERIA
from logger.pipeline import Pipeline, with_ticks
from logger.quantities import Channel, Place, Position, Quantity, Reading, Unit
from logger.service import calibrating, found_text
from logger.service.core import bench_of
from logger.service.finding import InReach, OneWireSensor
from logger.service.replay import lines
from logger.settings.config_file import parse
from logger.timestamps import rfc3339
from logger.words import Words
from tests.support.burn_from_formula import ROOM, WALL_3, WALL_9
from tests.support.whole_trial import measured

LIT_S, BURN_S = 1_940_000_000.0, 2400
SI = re.compile(r"°C|degC|\d ?mm\b|\d ?g\b|\dK\b|\d K\b|kelvin")
US = re.compile(r"°F|degF|\d ?in\b|\d ?oz\b")
INCHES = Words(length_in=Unit(name="in", factor=25.4))
SHOWN = {
    "US": 'show = { temperature = "degF", length = "in", mass = "oz" }',
    "SI": "",
}


def readings():
    for second in range(0, BURN_S + 300, 2):
        burnt_s = min(max(second - 60.0, 0.0), BURN_S)
        rise_k = 46.0 * (1.0 - math.exp(-burnt_s / 900.0))
        noise_k = 0.1 * math.sin(12.9898 * second)
        at_s = LIT_S - 60.0 + second + 0.5
        yield Reading(channel="room", value=22.0 + noise_k, at_s=at_s)
        if not 1500 <= second < 1700:  # long enough for `silent`
            yield Reading(channel="far", value=22.0 + 0.9 * rise_k + noise_k, at_s=at_s)
        yield Reading(channel="near", value=22.0 + rise_k - noise_k, at_s=at_s)


@pytest.mark.parametrize("units", ["US", "SI"])
def test_replay_and_record_keep_to_the_units_of_the_bench(units, tmp_path):
    settings = parse(bench(units), tmp_path / "bench.toml")
    rows = "".join(f"{rfc3339(r.at_s)},{r.channel},{r.value:.3f}\n" for r in readings())
    (tmp_path / "burn.csv").write_text("time,channel,value\n" + rows)
    record = tmp_path / "burn.html"
    told = [
        json.loads(line)
        for line in lines(
            settings, tmp_path / "burn.csv", lit_s=LIT_S, out_s=LIT_S + BURN_S, record=record
        )
    ]
    alarms = [one["text"] for one in told if one["kind"] == "alarm"]
    (verdict,) = (one for one in told if one["kind"] == "verdict")
    assert {one["rule"] for one in told if one["kind"] == "alarm"} >= {"wall-limit", "silent"}
    assert verdict["outcome"] == "fail"
    page = re.sub(
        r"<pre.*?</pre>|<style.*?</style>|<svg.*?viewBox", "", record.read_text(), flags=re.S
    )
    texts = [*alarms, *verdict["reasons"], *verdict["missing"], *verdict["notes"]]
    of_others(units, [*texts, *re.sub(r"<[^>]*>", " ", page).splitlines()])


@pytest.mark.parametrize("units", ["US", "SI"])
def test_announcements_keep_to_the_units_of_the_bench(units, tmp_path):
    settings = parse(bench(units), tmp_path / "bench.toml")
    pipeline = Pipeline(bench_of(settings), LIT_S - 60.0)
    announcer = Announcer(settings.words, lambda: pipeline.burns, lambda: pipeline.alarms)
    at = {"station": "jar-a", "by": "Ines"}
    entered = [
        Lit(id="lit", at_s=LIT_S, entered_s=LIT_S, trial="cedar-6", mass_g=412.0, **at),
        ManualReading(
            id="read",
            at_s=LIT_S + 1800.0,
            entered_s=LIT_S + 1800.0,
            place=Place(position=Position.RIM),
            values=(61.0, 61.2),
            **at,
        ),
        Out(id="out", at_s=LIT_S + BURN_S, entered_s=LIT_S + BURN_S, **at),
        WeighIn(id="w", at_s=LIT_S + 2500.0, entered_s=LIT_S + 2500.0, mass_g=405.0, **at),
    ]
    told, kinds = [], set()
    inputs = sorted([*readings(), *entered], key=lambda one: getattr(one, "entered_s", one.at_s))
    for item in with_ticks(inputs):
        outputs = pipeline.step(item)
        kinds |= {type(one) for one in outputs}
        told += [one.line for one in announcer.announce(outputs)]
        told += [one.text for one in outputs if isinstance(one, BurnEvent)]
    assert {AlarmEvent, BurnEvent} <= kinds
    assert any("Repeated" in one or "(repeated)" in one for one in told)
    assert any("weighed" in one for one in told)
    of_others(units, told)


def test_calibrations_questions_and_finds_keep_to_the_units_of_the_bench(tmp_path):
    words = parse(bench("US"), tmp_path / "bench.toml").words
    offset = {"to": 60.0, "value": -0.5, "standard_uncertainty": 0.1}
    made = {
        "channel": "near",
        "at": "2031-05-04",
        "method": "offset",
        "by": "Ines",
        "reference": "ice bath",
        "in_force": True,
        "adds": [offset],
        "unit": "degC",
        "uncertainty_stated": True,
    }
    told = [*calibrating.lines([made], words)]
    assert told[0].endswith("offset: -0.90 ± 0.36 °F at 140.0 °F")
    sensor = OneWireSensor(id="28-0000000000a1", celsius=22.0, trouble="", read_by=None, toml=None)
    reach = InReach(ports=(), sensors=(sensor,), bluetooth=(), hints=())
    found = [*found_text.lines(reach, words)]
    assert any("71.6 °F" in line for line in found)
    above = Place(position=Position.WALL, height_mm=127.0)
    rim = Channel(
        name="rim",
        instrument="probes",
        station="jar-a",
        quantity=Quantity.TEMPERATURE,
        place=Place(position=Position.RIM, height_mm=101.6),
    )
    asked = plausible._height(above, [(rim, None)], words)
    assert asked == "5.0 in is above the rim, which is at 4.0 in; is the height right?"
    of_others("US", [*told, *(one for one in found if one.startswith("# ")), asked])


def test_what_a_trial_asks_for_is_told_in_inches():
    low = [*pool_line_gaps(measured(channels=(WALL_3, WALL_9, ROOM)), 0.9, INCHES)]
    assert any(one.do == "scan the lowest 0.59 in of the wall, and the base" for one in low)
    of_others("US", [text for one in low for text in (one.text, one.do)])
    static = [text for one in CRITERIA for text in (one.rule, one.source)]
    assert len([text for text in static if SI.search(text)]) >= 5
    for text in (*static, *safety.CHECKS.values()):  # a standard's figure, and the maker's beside
        assert len(re.findall(r"\d (?:mm|cm|°C|g)\b", text)) == len(
            re.findall(r"\d (?:mm|cm|°C|g) \([^)]* (?:in|°F|oz)\)", text)
        ), text


def of_others(units, texts):
    """Asserts that no text has the units of the other half of the world."""
    theirs, ours = (SI, US) if units == "US" else (US, SI)
    assert [one for one in texts if theirs.search(one)] == []
    assert any(ours.search(one) for one in texts)


def bench(units):
    return f"""
[bench]
name = "shed"
{SHOWN[units]}
[limits]
room = ["20 degC", "27 degC"]
[[station]]
name = "jar-a"
material = "glass"
[[instrument]]
name = "probes"
driver = "serial-lines"
port = "/dev/null"
[[instrument.channel]]
name = "near"
station = "jar-a"
place = "wall"
height = "60 mm"
clock = 3
field = 0
unit = "degC"
kind = "contact"
accuracy = "0.5 delta_degC"
resolution = "0.1 delta_degC"
[[instrument.channel]]
name = "far"
station = "jar-a"
place = "wall"
height = "60 mm"
clock = 9
field = 1
unit = "degC"
kind = "contact"
[[instrument.channel]]
name = "room"
place = "room"
field = 2
unit = "degC"
"""
