"""What a configuration says, and what counts where it says nothing."""

from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import get_args

import pytest

from logger.burn.limits import Material, Station, WallLimits
from logger.errors import SettingsError
from logger.quantities import (
    Averaging,
    Channel,
    Kind,
    Place,
    Position,
    Quantity,
    Transducer,
    Unit,
)
from logger.settings import (
    InfluxSettings,
    MqttSettings,
    Secret,
    TlsSettings,
    WebSettings,
    load,
)
from logger.settings.bench_keys import BenchKeys
from logger.settings.drivers import DRIVERS
from logger.settings.drivers.serial_lines_keys import CsvKeys, JsonKeys, PairsKeys
from logger.settings.keys import Keys
from logger.units import unit_of
from tests.support.whole_settings import (
    EXAMPLE,
    IN_THE_ROOM,
    MQTT,
    UNSAID,
    WALL,
    WHOLE,
    everything,
    probes,
    toml,
)


def test_a_small_configuration_has_all_defaults(settings_of, tmp_path):
    settings = settings_of(WHOLE)
    assert settings.path == tmp_path / "bench.toml"
    assert settings.text == WHOLE
    assert settings.bench.data == tmp_path / "bench-data"
    assert settings.bench.show == {"temperature": "degC", "length": "mm", "mass": "g"}
    assert settings.stations == (Station(name="jar-a", material=Material.GLASS),)
    (probes,) = settings.instruments
    keys = probes.keys
    assert (keys.format, keys.baud, keys.separator, keys.decimal) == ("csv", 9600, None, ".")
    assert fields(probes) == [0]
    assert settings.channels == probes.channels
    assert settings.channels == (
        Channel(
            name="jar-a-wall-3",
            instrument="probes-a",
            station="jar-a",
            quantity=Quantity.TEMPERATURE,
            place=Place(position=Position.WALL, height_mm=60.0, clock=3),
            unit=Unit(name="degC"),
            kind=Kind.CONTACT,
        ),
    )
    assert settings.mqtt is settings.influx is settings.web is None
    assert settings.alarms.run == ()
    assert settings.alarms.unwatched_s == 1800.0
    assert settings.by_hand.accuracy is None


def test_the_example_that_people_copy():
    settings = load(EXAMPLE)
    assert settings.bench.data == Path.home() / "bench-data"
    assert [channel.name for channel in settings.channels] == [
        "jar-a-wall-3", "jar-a-wall-9", "tin-b-base", "room", "jar-a-wall-6", "room-humidity",
    ]  # fmt: skip
    probes, infrared = settings.instruments
    assert probes.keys.silent_after_s == 15.0
    assert fields(probes) == [0, 1, 2, 3]
    assert fields(infrared) == ["ir", "rh"]
    wall = infrared.channels[0]
    assert wall.kind is Kind.INFRARED
    assert (wall.emissivity, wall.emissivity_set, wall.reflected) == (0.92, 0.95, "room")
    assert wall.unit == unit_of("degF", Quantity.TEMPERATURE)
    assert wall.place.height_mm == 38.1
    assert wall.averaging == Averaging(window_s=60.0, every_s=5.0)
    assert probes.channels[0].calibration_offset == -0.3
    assert probes.channels[0].silent_after_s == 15.0
    assert settings.web == WebSettings(listen="127.0.0.1:8470")


def test_what_the_example_has_commented_out_is_right_too(settings_of):
    settings = settings_of(everything())
    assert {one.driver for one in settings.instruments} == set(DRIVERS)
    here = settings.path.parent
    assert settings.mqtt == MqttSettings(
        host="127.0.0.1",
        port=1883,
        commands=False,
        username="bench",
        password_file=str(here / "mqtt-password.txt"),
        tls={
            "ca": str(here / "ca.pem"),
            "cert": str(here / "bench.pem"),
            "key": str(here / "bench-key.pem"),
        },
    )
    assert settings.mqtt.password == Secret(key="password", file=here / "mqtt-password.txt")
    assert settings.influx == InfluxSettings(
        url="http://127.0.0.1:8086",
        org="workshop",
        bucket="wickbench",
        token_file=str(here / "influx-token.txt"),
        readings=True,
    )
    assert settings.influx.name == "influx 127.0.0.1:8086"
    assert settings.influx.token == Secret(key="token", file=here / "influx-token.txt")
    assert settings.alarms.run == ("/usr/local/bin/sound-alarm",)
    assert settings.by_hand.accuracy == 1.5
    assert settings.channels[0].lag_s == 8.0
    assert settings.channels[0].coupling == 0.8
    assert settings.channels[0].resolution == 0.1
    assert settings.channels[4].emissivity_measured


@pytest.mark.parametrize(
    ("unit", "quantity"),
    [
        ("degF", Quantity.TEMPERATURE),
        ("oz", Quantity.MASS),
        ("%", Quantity.HUMIDITY),
        ("degR", Quantity.TEMPERATURE),  # none of the tables: pint knows it
        ("grain", Quantity.MASS),
    ],
)
def test_the_quantity_follows_from_the_unit(settings_of, unit, quantity):
    room = IN_THE_ROOM.replace('quantity = "temperature"\n', "")
    (channel,) = settings_of(room.replace('"degC"', f'"{unit}"')).channels
    assert channel.quantity is quantity


def test_what_a_transducer_makes_is_a_temperature(settings_of):
    unsaid = WHOLE.replace('quantity = "temperature"\n', "")
    (channel,) = settings_of(
        unsaid.replace('"degC"', '"mV"') + 'transducer = "thermocouple-k"\naccuracy = "1 kelvin"'
    ).channels
    assert (channel.quantity, channel.accuracy) == (Quantity.TEMPERATURE, 1.0)


def tables_below(keys: type[Keys]) -> Iterator[type[Keys]]:
    yield keys
    for field in keys.model_fields.values():
        within = [field.annotation]
        for each in within:
            within += get_args(each)
            if isinstance(each, type) and issubclass(each, Keys):
                yield from tables_below(each)


def test_every_key_says_what_it_means():
    found = {*tables_below(BenchKeys)}
    for driver in (*DRIVERS.values(), CsvKeys, PairsKeys, JsonKeys):
        found |= {*tables_below(driver)}
    assert len(found) > 20
    for keys in found:
        assert keys.__doc__
        for name, field in keys.model_fields.items():
            assert field.description or name in {"glass", "ceramic", "metal"}, (keys, name)


@pytest.mark.parametrize("driver", DRIVERS)
def test_each_driver_of_the_configuration_can_be_built(driver):
    assert callable(import_module(f"logger.instruments.{driver.replace('-', '_')}").build)


def test_the_example_states_the_default_limits(settings_of):
    assert load(EXAMPLE).limits == settings_of(WHOLE).limits


def test_single_limits_may_be_changed(settings_of):
    limits = settings_of(
        WHOLE + '[limits]\nroom = ["64.4 degF", "25 degC"]\n[limits.glass]\nwall_alert = "55 degC"'
    ).limits
    assert limits.of(Material.GLASS) == WallLimits(alert_c=55.0, limit_c=60.0)
    assert (limits.room_low_c, limits.room_high_c) == (18.0, 25.0)
    assert limits.burn_length_s == 14_400.0
    assert limits.of(None) == limits.of(Material.METAL)


def test_channels_take_what_instruments_of_all_kinds_send(settings_of):
    more = """
[[instrument.channel]]
name = "jar-a-rim"
station = "jar-a"
quantity = "temperature"
place = "rim"
field = 1
unit = "uV"
kind = "contact"
transducer = "thermocouple-k"
[[instrument.channel]]
name = "jar-a-mass"
station = "jar-a"
quantity = "mass"
place = "support"
field = 2
unit = "oz"
accuracy = "0.1 oz"
[[instrument.channel]]
name = "jar-a-wall-9"
station = "jar-a"
quantity = "temperature"
place = "wall"
height = "2.4 in"
field = 3
unit = "°F"
kind = "infrared"
emissivity = 1
reflected = "71.6 degF"
"""
    _, rim, mass, wall = settings_of(WHOLE + more).channels
    assert rim.transducer is Transducer.THERMOCOUPLE_K
    assert rim.unit == Unit(name="uV", factor=0.001)
    assert mass.accuracy == pytest.approx(2.835, abs=0.001)
    assert mass.unit.name == "oz"
    assert wall.reflected == 22.0
    assert wall.unit.name == "degF"
    assert wall.place == Place(position=Position.WALL, height_mm=60.96)


def fields(instrument) -> list[int | str]:
    return [channel.field for channel in instrument.keys.channel]


@pytest.mark.parametrize(
    ("keys", "field", "expected"),
    [
        ('separator = ";"\ndecimal = ","\ncolumns = 4', 3, ("csv", ";", ",", 4)),
        ('format = "csv"\nseparator = "\\t"', 0, ("csv", "\t", ".", None)),
        ('format = "pairs"\ndecimal = ","', "t1", ("pairs", None, ",", None)),
        ('format = "json"', "probes.t1", ("json", None, None, None)),
        ('format = "json"', 2, ("json", None, None, None)),
    ],
)
def test_formats_of_lines(settings_of, keys, field, expected):
    (instrument,) = settings_of(
        probes(keys, WALL.replace("field = 0", f"field = {toml(field)}"))
    ).instruments
    names = ("format", "separator", "decimal", "columns")
    assert tuple(getattr(instrument.keys, name, None) for name in names) == expected
    assert fields(instrument) == [field]


def test_tls_has_its_own_usual_port(settings_of):
    assert settings_of(WHOLE + MQTT).mqtt.port == 1883
    assert settings_of(WHOLE + MQTT).mqtt.tls is None
    encrypted = settings_of(WHOLE + MQTT + "[mqtt.tls]").mqtt
    assert encrypted.port == 8883
    assert encrypted.tls == TlsSettings()


@pytest.mark.parametrize(
    ("finish", "emissivity"), [("bare-glass", 0.92), ("painted", 0.94), ("bare-metal", 0.1)]
)
def test_a_finish_stands_for_its_emissivity(settings_of, finish, emissivity):
    (channel,) = settings_of(UNSAID + f'finish = "{finish}"').channels
    assert (channel.emissivity, channel.kind) == (emissivity, Kind.INFRARED)
    assert not channel.emissivity_measured  # below 0.8 it is doubtful


@pytest.mark.parametrize("position", ["rim", "base", "melt-pool"])
def test_what_touches_vessel_or_wax_states_its_kind(settings_of, position):
    moved = UNSAID.replace('"wall"', f'"{position}"')
    with pytest.raises(SettingsError, match="kind: missing"):
        settings_of(moved)
    (room,) = settings_of(IN_THE_ROOM).channels
    assert room.kind is Kind.UNSTATED
