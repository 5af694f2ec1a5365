"""A small configuration that is whole, its parts, and the example that people copy."""

import re
from pathlib import Path

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
kind = "contact"
"""

WHOLE = BENCH + STATION + PROBES + WALL

UNSAID = WHOLE.replace('kind = "contact"\n', "")

IN_THE_ROOM = UNSAID.replace('"wall"', '"room"')


def everything() -> str:
    """The example with what is commented out in it."""
    remarks_with_keys = re.compile(r"^# (?=\[|[a-z_]+ = )", re.MULTILINE)
    return remarks_with_keys.sub("", EXAMPLE.read_text(encoding="utf-8"))


def probes(keys: str, wall: str = WALL) -> str:
    """The whole configuration with more keys in its instrument, or another channel."""
    return BENCH + STATION + PROBES + keys + wall


def changed(old: str, new: str) -> str:
    assert old in WHOLE
    return WHOLE.replace(old, new)


OTHER = WALL.replace("jar-a-wall-3", "other")

MQTT = '[mqtt]\nhost = "127.0.0.1"\n'


def toml(value) -> str:
    """`value` as TOML writes it in one line."""
    match value:
        case bool():
            return str(value).lower()
        case str():
            signs = (s if s.isascii() and s.isalnum() else f"\\U{ord(s):08x}" for s in value)
            return f'"{"".join(signs)}"'
        case list():
            return "[" + ", ".join(map(toml, value)) + "]"
        case dict():
            return "{" + ", ".join(f"{toml(k)} = {toml(v)}" for k, v in value.items()) + "}"
        case _:
            return str(value)
