"""Configurations of one instrument, and a fixture that reads them."""

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
