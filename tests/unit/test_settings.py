import re
from pathlib import Path

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
    Unit,
)
from logger.settings import (
    InfluxSettings,
    MqttSettings,
    Secret,
    Settings,
    TlsSettings,
    WebSettings,
    load,
)
from logger.units import unit_of

EXAMPLE = Path(__file__).parents[2] / "config" / "bench.toml"

BENCH = """
[bench]
name = "back-room"
data = "bench-data"
"""
STATION = """
[[station]]
name = "jar-a"
material = "glass"
"""
PROBES = """
[[instrument]]
name = "probes-a"
driver = "serial-lines"
port = "/dev/serial/by-id/usb-a"
"""
WALL = """
[[instrument.channel]]
name = "jar-a-wall-3"
station = "jar-a"
quantity = "temperature"
place = "wall"
height = "60 mm"
clock = 3
field = 0
unit = "degC"
"""
WHOLE = BENCH + STATION + PROBES + WALL


@pytest.fixture
def read(tmp_path):
    """Settings from a text, as if in a file bench.toml."""

    def read(text: str) -> Settings:
        path = tmp_path / "bench.toml"
        path.write_text(text, encoding="utf-8")
        return load(path)

    return read


@pytest.fixture
def problems(read):
    """The faults of a text, each without the file's name."""

    def problems(text: str) -> list[str]:
        with pytest.raises(SettingsError) as caught:
            read(text)
        assert all(problem.startswith("bench.toml:") for problem in caught.value.problems)
        return [problem.removeprefix("bench.toml:") for problem in caught.value.problems]

    return problems


def test_a_small_configuration_has_all_defaults(read, tmp_path):
    settings = read(WHOLE)
    assert settings.path == tmp_path / "bench.toml"
    assert settings.text == WHOLE
    assert settings.bench.data == tmp_path / "bench-data"
    assert settings.bench.show == {"temperature": "degC", "length": "mm", "mass": "g"}
    assert settings.stations == (Station(name="jar-a", material=Material.GLASS),)
    (probes,) = settings.instruments
    assert (probes.format, probes.baud, probes.separator, probes.decimal) == (
        "csv",
        9600,
        None,
        ".",
    )
    assert probes.fields == (0,)
    assert settings.channels == probes.channels
    assert settings.channels == (
        Channel(
            name="jar-a-wall-3",
            instrument="probes-a",
            station="jar-a",
            quantity=Quantity.TEMPERATURE,
            place=Place(position=Position.WALL, height_mm=60.0, clock=3),
            unit=Unit(name="degC"),
        ),
    )
    assert settings.mqtt is settings.influx is settings.web is None
    assert settings.alarms.run == ()
    assert settings.alarms.unwatched_s == 1800.0


def test_the_example_that_people_copy():
    settings = load(EXAMPLE)
    assert settings.bench.data == Path.home() / "bench-data"
    assert [channel.name for channel in settings.channels] == [
        "jar-a-wall-3", "jar-a-wall-9", "tin-b-base", "room", "jar-a-wall-6", "room-humidity",
    ]  # fmt: skip
    probes, infrared = settings.instruments
    assert probes.silent_after_s == 15.0
    assert probes.fields == (0, 1, 2, 3)
    assert infrared.fields == ("ir", "rh")
    wall = infrared.channels[0]
    assert wall.kind is Kind.INFRARED
    assert (wall.emissivity, wall.emissivity_set, wall.reflected) == (0.92, 0.95, "room")
    assert wall.unit == unit_of("degF", Quantity.TEMPERATURE)
    assert wall.place.height_mm == 38.1
    assert wall.averaging == Averaging(window_s=60.0, every_s=5.0)
    assert probes.channels[0].calibration_offset == -0.3
    assert settings.web == WebSettings(host="127.0.0.1", port=8470)


def test_what_the_example_has_commented_out_is_right_too(read):
    text = EXAMPLE.read_text(encoding="utf-8")
    remarks_with_keys = re.compile(r"^# (?=\[|[a-z_]+ = )", re.MULTILINE)
    settings = read(remarks_with_keys.sub("", text))
    assert settings.mqtt == MqttSettings(
        host="127.0.0.1",
        port=1883,
        commands=False,
        username="bench",
        password=Secret(key="password", file=settings.path.parent / "mqtt-password.txt"),
        tls=TlsSettings(
            ca=settings.path.parent / "ca.pem",
            cert=settings.path.parent / "bench.pem",
            key=settings.path.parent / "bench-key.pem",
        ),
    )
    assert settings.influx == InfluxSettings(
        url="http://127.0.0.1:8086",
        org="workshop",
        bucket="wickbench",
        token=Secret(key="token", file=settings.path.parent / "influx-token.txt"),
    )
    assert settings.alarms.run == ("/usr/local/bin/ring",)
    assert settings.channels[0].lag_s == 8.0
    assert settings.channels[0].coupling == 0.8
    assert settings.channels[0].resolution == 0.1
    assert settings.channels[4].emissivity_measured


def test_the_example_states_the_default_limits(read):
    assert load(EXAMPLE).limits == read(WHOLE).limits


def test_single_limits_may_be_changed(read):
    limits = read(
        WHOLE + '[limits]\nroom = ["64.4 degF", "25 degC"]\n[limits.glass]\nwall_alert = "55 degC"'
    ).limits
    assert limits.of(Material.GLASS) == WallLimits(alert_c=55.0, limit_c=60.0)
    assert (limits.room_low_c, limits.room_high_c) == (18.0, 25.0)
    assert limits.burn_length_s == 14_400.0
    assert limits.of(None) == limits.of(Material.METAL)
