"""Configurations of one instrument, and a fixture that reads them.

`TWO_CHANNELS` end a configuration whose last instrument sends a wall and the room: the page too.
"""

import pytest

from logger.settings import load

CHANNEL = """
[[instrument.channel]]
name = "{name}"
quantity = "temperature"
place = "room"
unit = "degC"
"""
ROOM = CHANNEL.format(name="room")
TWO_CHANNELS = """
[[instrument.channel]]
name = "jar-a-wall-3"
station = "jar-a"
quantity = "temperature"
place = "wall"
height = "60 mm"
clock = 3
field = 0
unit = "degC"
kind = "contact"
coupling = "0.1 delta_degC"
accuracy = "0.1 delta_degC"

[[instrument.channel]]
name = "room"
quantity = "temperature"
place = "room"
field = 1
unit = "degC"

[web]
listen = "127.0.0.1:0"
"""
PORT = 'port = "/dev/serial/by-id/usb-a"\n'


def bench(driver, keys, *channels):
    """A bench with one instrument; each of `channels` is the keys of one, beside the usual ones."""
    head = (
        f'[bench]\nname = "shed"\ndata = "d"\n[[instrument]]\nname = "one"\ndriver = "{driver}"\n'
    )
    below = (
        CHANNEL.format(name=f"c{number}") + more + "\n" for number, more in enumerate(channels)
    )
    return head + keys + "\n" + "".join(below)


@pytest.fixture
def read(tmp_path):
    def read(text):
        path = tmp_path / "bench.toml"
        path.write_text(text, encoding="utf-8")
        (instrument,) = load(path).instruments
        return instrument.keys

    return read


THREE_JARS = """
[bench]
name = "NAME"
data = "{folder}/data"

[limits]
cool_down = "COOL"

[limits.glass]
wall_alert = "65 degC"
wall_limit = "70 degC"

[web]
listen = "127.0.0.1:PORT"

[[station]]
name = "jar-a"

[[station]]
name = "jar-b"

[[station]]
name = "jar-c"
"""
