"""Configurations of one instrument, and fixtures that read any.

`TWO_CHANNELS` end a configuration whose last instrument sends a wall and the room: the page too.
"""

import pytest

from logger.errors import SettingsError
from logger.settings import Settings, load
from tests.support.whole_settings import WALL

CHANNEL = """
[[instrument.channel]]
name = "{name}"
quantity = "temperature"
place = "room"
unit = "degC"
"""
ROOM = CHANNEL.format(name="room")
TWO_CHANNELS = (
    WALL
    + """\
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
)
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
def settings_of(tmp_path):
    """Settings from a text, as if in a file bench.toml."""

    def settings_of(text: str) -> Settings:
        path = tmp_path / "bench.toml"
        path.write_text(text, encoding="utf-8")
        return load(path)

    return settings_of


@pytest.fixture
def read(settings_of):
    """The keys of the only instrument of a text."""

    def read(text):
        (instrument,) = settings_of(text).instruments
        return instrument.keys

    return read


@pytest.fixture
def problems(settings_of):
    """The faults of a text, each without the file's name."""

    def problems(text: str) -> list[str]:
        with pytest.raises(SettingsError) as caught:
            settings_of(text)
        assert all(problem.startswith("bench.toml:") for problem in caught.value.problems)
        return [problem.removeprefix("bench.toml:") for problem in caught.value.problems]

    return problems


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
