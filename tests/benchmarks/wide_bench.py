"""A bench as wide as wanted for the benchmarks: its configuration, and hours of its readings.

Each station has three places on the wall, one of them seen by an infrared sensor, and a room probe;
sixteen channels are four stations. Every fourth station reaches its limit.
"""

import math
import random
from collections.abc import Iterator
from pathlib import Path

from logger.timestamps import rfc3339

PER_STATION = 4
BEGUN_S = 1_940_000_000.0
WARMS_S = 2400.0  # time constant of the walls
HEATS_K = (24.0, 27.0, 31.0, 37.5)  # over the room, station by station: the last crosses 60 degC

HEAD = """
[bench]
name = "wide"
data = "{folder}/data"

[web]
listen = "127.0.0.1:0"
"""
STATION = """
[[station]]
name = "jar-{station}"
material = "glass"
"""
INSTRUMENT = """
[[instrument]]
name = "probes"
driver = "serial-lines"
port = "{folder}/probes"
"""
WALL = """
[[instrument.channel]]
name = "jar-{station}-wall-{number}"
station = "jar-{station}"
place = "wall"
height = "{height} mm"
clock = {clock}
field = {field}
unit = "degC"
"""
CONTACT = 'kind = "contact"\naccuracy = "0.5 delta_degC"\n'
INFRARED = 'kind = "infrared"\nemissivity = 0.92\nreflected = "jar-{station}-room"\n'
ROOM = """
[[instrument.channel]]
name = "jar-{station}-room"
station = "jar-{station}"
place = "room"
field = {field}
unit = "degC"
accuracy = "0.5 delta_degC"
"""


def configuration(channels: int, more: str = "") -> str:
    """For `BenchProcess`, which fills in its folder; `more` are other tables."""
    stations = range(-(-channels // PER_STATION))
    text = HEAD + more + "".join(STATION.format(station=one) for one in stations)
    text += INSTRUMENT.replace("{folder}", "{{folder}}").format()
    for field in range(channels):
        station, number = divmod(field, PER_STATION)
        if number == PER_STATION - 1:
            text += ROOM.format(station=station, field=field)
            continue
        text += WALL.format(
            station=station,
            number=number,
            field=field,
            height=20 + 20 * number,
            clock=3 + 3 * number,
        )
        # A room that is not among so few channels reflects nothing.
        has_room = channels > station * PER_STATION + PER_STATION - 1
        text += INFRARED.format(station=station) if number == 2 and has_room else CONTACT
    return text


def names(channels: int) -> list[str]:
    """Of the channels, in order of the configuration."""
    pairs = [divmod(field, PER_STATION) for field in range(channels)]
    return [
        f"jar-{station}-room" if number == PER_STATION - 1 else f"jar-{station}-wall-{number}"
        for station, number in pairs
    ]


def seconds(channels: int, count: int, *, warm: bool = True) -> Iterator[list[float]]:
    """What every channel shows, second by second from its lighting on: noise, hits of the flame.

    Not `warm` it cools instead, from where it was. After `count` seconds it begins again.
    """
    rng = random.Random(1)
    while True:
        for second in range(count):
            warmed = 1.0 - math.exp(-second / WARMS_S) if warm else math.exp(-second / WARMS_S)
            row = []
            for field in range(channels):
                station, number = divmod(field, PER_STATION)
                heats_k = HEATS_K[station % len(HEATS_K)] - 2.0 * number
                if number == PER_STATION - 1:
                    heats_k = 1.0
                value_c = 22.0 + heats_k * warmed + rng.gauss(0.0, 0.3)
                if number == 2 and rng.random() < 0.02:
                    value_c += rng.uniform(20.0, 80.0)
                row.append(round(value_c, 2))
            yield row


def write_csv(path: Path, channels: int, readings: int) -> None:
    """So many readings at 1 Hz, as `export` writes them."""
    columns = names(channels)
    with path.open("w", encoding="utf-8") as file:
        file.write("time,channel,value\n")
        rows = seconds(channels, readings // channels)
        for second in range(readings // channels):
            for field, value in enumerate(next(rows)):
                at_s = BEGUN_S + second + 0.001 * field
                file.write(f"{rfc3339(at_s, digits=6)},{columns[field]},{value!r}\n")
