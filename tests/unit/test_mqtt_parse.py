"""Commands by MQTT: an entry that is whole and fresh, or a refusal that says why."""

import json
import math
from contextlib import suppress

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from logger.burn.entries import Acknowledge, Entry, Lit, ManualReading, Out
from logger.errors import DataError, Refused
from logger.publish.commands import COMMANDS, LONGEST_BYTES, parse
from logger.quantities import Place, Position

NOW_S = 1_935_000_000.0
STAMPS = {"id": "phone-0001", "time": "2031-04-26T20:00:00Z"}
READ = STAMPS | {"station": "jar-a", "values": [41.2, 41.6], "height": "60 mm"}


def read(name: str, command: object, *, retained: bool = False) -> Entry:
    payload = command if isinstance(command, bytes) else json.dumps(command).encode()
    return parse(name, payload, retained=retained, now_s=NOW_S)[0]


def test_acknowledge():
    assert read("acknowledge", STAMPS | {"alarm": "wall-limit/jar-a-wall-3"}) == Acknowledge(
        id="phone-0001",
        at_s=NOW_S,
        entered_s=NOW_S,
        alarm="wall-limit/jar-a-wall-3",
        where="mqtt",
        together=True,
    )


def test_lit_some_time_ago():
    command = {"station": "jar-a", "trial": "cedar 12", "by": "Ines", "at": "5 min ago"}
    assert read("record-lit", STAMPS | command | {"checks": ["smoke alarm"]}) == Lit(
        id="phone-0001",
        at_s=NOW_S - 300.0,
        entered_s=NOW_S,
        by="Ines",
        station="jar-a",
        trial="cedar 12",
        watched_by="Ines",
        checks=("smoke alarm",),
    )


def test_out():
    assert read("record-out", STAMPS | {"station": "jar-a"}) == Out(
        id="phone-0001", at_s=NOW_S, entered_s=NOW_S, station="jar-a"
    )


def test_a_program_names_who_read_it_or_nobody_is_there():
    assert not read("read", READ).by_a_person
    assert read("read", READ | {"by": "Ines"}).by_a_person
    with pytest.raises(DataError, match="where"):
        read("read", READ | {"where": "page"})


def test_reading_in_the_bench_s_units():
    more = {"values": [104.0], "unit": "degF", "height": "2 in", "clock": 3, "reflected": "68 degF"}
    entry = read("read", READ | more)
    assert isinstance(entry, ManualReading)
    assert entry.values == (pytest.approx(40.0),)
    assert entry.place == Place(position=Position.WALL, height_mm=50.8, clock=3)
    assert entry.reflected_c == pytest.approx(20.0)


@pytest.mark.parametrize("apart_s", [-30.0, 30.0])
def test_half_a_minute_apart_is_taken(apart_s):
    assert read("record-out", STAMPS | {"time": NOW_S + apart_s, "station": "jar-a"})


@pytest.mark.parametrize("apart_s", [-30.001, 30.001, -1e9])
def test_more_is_refused(apart_s):
    with pytest.raises(Refused, match="30 s apart"):
        read("record-out", STAMPS | {"time": NOW_S + apart_s, "station": "jar-a"})


def test_a_button_that_knows_neither_time_nor_id_works():
    one, other = (read("record-out", {"station": "jar-a"}) for _ in range(2))
    assert one.at_s == NOW_S
    assert len({one.id, other.id, ""}) == 3


def test_retained_without_a_time_is_refused():
    with pytest.raises(Refused, match="not retained"):
        read("record-out", {"station": "jar-a"}, retained=True)


def test_whether_its_sender_is_sure_stands_beside_the_entry():
    for sure in (True, False):
        payload = json.dumps(READ | {"sure": sure}).encode()
        assert parse("read", payload, retained=False, now_s=NOW_S)[1] is sure


def test_retained_is_refused():
    with pytest.raises(Refused, match="not retained"):
        read("record-out", STAMPS | {"station": "jar-a"}, retained=True)


@pytest.mark.parametrize(
    ("name", "command", "words"),
    [
        pytest.param("erase", {}, "there is no such command", id="no command"),
        pytest.param("read", b"", "not JSON", id="nothing"),
        pytest.param("read", b"\xff", "not JSON", id="no text"),
        pytest.param("read", '{"id": 1}'.encode("utf-16"), "not JSON", id="no utf-8"),
        pytest.param("read", b"[" * LONGEST_BYTES, "not JSON", id="deep"),
        pytest.param("read", b"1" * 4096, "not JSON|an object", id="giant number"),
        pytest.param("read", b" " * 4097, "longer than 4096 bytes", id="long"),
        pytest.param("read", b'{"id":"a","id":"b"}', "a key stands twice", id="twice"),
        pytest.param("read", b'{"values":[NaN]}', "NaN is not a number", id="nan"),
        pytest.param("read", b'{"values":[1e999]}', "values.0", id="infinite"),
        pytest.param("read", [], "an object", id="no object"),
        pytest.param("read", READ | {"values": []}, "values", id="no values"),
        pytest.param("read", READ | {"values": [True]}, "values.0", id="no number"),
        pytest.param(
            "read",
            READ | {"values": [1e308], "unit": "MK"},
            "values: inf MK is not a reading",
            id="huge",
        ),
        pytest.param("read", READ | {"unit": "furlong"}, "not a unit of temperature", id="unit"),
        pytest.param("read", READ | {"height": None}, "height: a wall place needs", id="no height"),
        pytest.param("read", READ | {"height": "60"}, 'height: "60" has no unit', id="height"),
        pytest.param("read", READ | {"values": [1e155]}, "not a reading of a candle", id="too hot"),
        pytest.param("read", READ | {"height": "2e7 mm"}, "not a height on", id="too high"),
        pytest.param("read", READ | {"height": "-1 mm"}, "not a height on a vessel", id="below"),
        pytest.param("read", READ | {"reflected": "1e9 degC"}, "reflected", id="reflected"),
        pytest.param("acknowledge", STAMPS | {"alarm": "a", "where": "page"}, "where", id="where"),
        pytest.param("read", READ | {"clock": 13}, "clock", id="clock"),
        pytest.param("read", READ | {"place": "lid"}, "place: ", id="place"),
        pytest.param("read", READ | {"emissivity": 0.0}, "emissivity", id="emissivity"),
        pytest.param("read", READ | {"emisivity": 0.9}, "emisivity", id="unknown key"),
        pytest.param("read", READ | {"time": "noon"}, 'time: "noon" is not a time', id="time"),
        pytest.param("read", READ | {"time": -1e300}, "time", id="time of nowhere"),
        pytest.param("read", READ | {"at": "in 5 min"}, "in 5 min", id="at"),
        pytest.param("read", READ | {"at": NOW_S}, "at", id="at as number"),
        pytest.param("read", READ | {"id": "x"}, "id", id="short id"),
        pytest.param("record-out", STAMPS | {"station": "Jar A"}, "station", id="station"),
        pytest.param("record-lit", STAMPS | {"station": "a", "trial": " "}, "trial", id="trial"),
    ],
)
def test_what_cannot_be_read_is_refused_by_name(name, command, words):
    with pytest.raises(DataError, match=words):
        read(name, command)


def test_words_are_stripped_of_what_steers_a_terminal():
    entry = read("record-out", STAMPS | {"station": "jar-a", "by": "\x1b[2JInes\r\n\u202e"})
    assert entry.by == "[2JInes"


json_values = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=5,
)
keys = sorted({key for kind in COMMANDS.values() for key in kind.model_fields})
near_misses = st.fixed_dictionaries({}, optional={key: json_values for key in keys}).map(
    lambda changes: json.dumps(READ | changes).encode()
)


@given(
    name=st.sampled_from([*COMMANDS, "else"]),
    payload=st.binary(max_size=200) | json_values.map(json.dumps).map(str.encode) | near_misses,
    retained=st.booleans(),
    now_s=st.just(NOW_S),
)
@example(name="read", payload=b'{"time": 1e309}', retained=False, now_s=NOW_S)
@example(name="read", payload=b'"\\ud800"', retained=False, now_s=NOW_S)
def test_whatever_comes_is_an_entry_or_a_refusal(name, payload, retained, now_s):
    with suppress(Refused, DataError):
        entry, _ = parse(name, payload, retained=retained, now_s=now_s)
        assert math.isfinite(entry.at_s)
        assert entry.by.isprintable()
