"""`wickbench init`: a first configuration, from what is in reach."""

import platform
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from logger.errors import UsageError
from logger.service.finding import InReach, SearchPlaces, find_instruments
from logger.service.found_text import wired, wireless
from logger.service.proposals import as_text
from logger.settings import Settings, parse

_COLUMN = 34  # where remarks begin, as in the example


def make_first_bench(
    path: Path,
    *,
    name: str = "",
    stations: Sequence[str] = (),
    material: str = "",
    places: SearchPlaces | None = None,
) -> tuple[Settings, InReach]:
    """Write a configuration to `path`; what it says, and what was in reach.

    A bench without a `name` is called as its computer is, a single station "jar-a". Raises
    UsageError where `path` cannot be written or exists, SettingsError where words do not fit.
    """
    if path.exists():  # before the search: it takes seconds
        raise _exists(path)
    parse(_text(None, name, stations, material), path)
    found = find_instruments(None, places)
    text = _text(found, name, stations, material)
    settings = parse(text, path)
    _write_new(path, text)
    return settings, found


def _write_new(path: Path, text: str) -> None:
    """All of it or nothing, and never over a file, even one made a moment ago."""
    try:
        with path.open("x", encoding="utf-8") as file:
            try:
                file.write(text)
                file.flush()
            except OSError:
                path.unlink()
                raise
    except FileExistsError:
        raise _exists(path) from None
    except OSError as exc:
        raise UsageError(f"{path}: cannot be written: {exc.strerror}") from exc


def _exists(path: Path) -> UsageError:
    return UsageError(
        f"{path} is there already and stays as it is; edit it (`wickbench find` has lines for "
        "new instruments), or name another file: --config FILE"
    )


def _text(found: InReach | None, name: str, stations: Sequence[str], material: str) -> str:
    return "".join(f"{line}\n" for line in _lines(found, name, stations, material))


def _lines(
    found: InReach | None, name: str, stations: Sequence[str], material: str
) -> Iterator[str]:
    yield "# The configuration of this bench. Yours to edit: the program never writes to it again."
    yield '# Quantities are text with their unit: "60 mm", "2.4 in", "140 degF". A line that begins'
    yield "# with # is a remark. `wickbench check` says what is wrong with it, and every key is in"
    yield "# `wickbench docs configuration`."
    yield ""
    yield "[bench]"
    yield _with_remark(f"name = {as_text(name or _of_this_computer())}", "also in MQTT topics")
    yield "# For Fahrenheit, inches and ounces take the # away:"
    yield '# show = { temperature = "degF", length = "in", mass = "oz" }'
    yield ""
    yield "# Your own limits go here; what you leave out comes from limits.toml, with its sources."
    yield "# [limits.glass]"
    yield '# wall_alert = "135 degF"           # a caution: come and look'
    yield '# wall_limit = "140 degF"           # a warning: the test has failed'
    yield ""
    yield "# Spots where one candle burns, each with its own [[station]]."
    for station in stations or ("jar-a",):
        yield "[[station]]"
        yield f"name = {as_text(station)}"
        if material:
            yield _with_remark(f"material = {as_text(material)}", "of the vessel: sets its limits")
        else:
            yield '# material = "glass"              # ceramic, metal; left out: the lowest limits'
        yield ""
    yield "# The page. On this address only this computer can open it."
    yield "[web]"
    yield 'listen = "127.0.0.1:8470"'
    yield ""
    if found is not None:
        yield from _instruments(found)


def _instruments(found: InReach) -> Iterator[str]:
    """What surely is of this bench as it is used, what may be another's as remarks."""
    plugged = tuple(one for one in found.ports if one.usb or one.path != one.device)
    built_in = tuple(one for one in found.ports if one not in plugged)
    if not plugged and not found.sensors:
        yield "# No instrument is plugged in. Read by hand: `wickbench burn read`, or the page."
        yield "# When you have one, `wickbench find` prints the lines to paste here."
    else:
        yield "# Instruments. Take out what is none of this bench's, and say where each probe is:"
        yield "# one that is left at the room is NOT watched for the limits of a vessel. On a wall:"
        yield '#     station = "jar-a"'
        yield '#     place = "wall"'
        yield '#     height = "60 mm"             # above the outside base'
        yield "#     clock = 3                    # 1 to 12 round the vessel, 12 at your mark"
        yield '#     kind = "contact"             # a probe on the surface'
        yield from wired(replace(found, ports=plugged))
    if built_in or found.bluetooth:
        yield ""
        yield "# Ports of the computer itself, to which nothing may be connected, and Bluetooth"
        yield '# sensors, the neighbours\' too: take the "# " away from what you use.'
        unsure = [*wired(replace(found, ports=built_in, sensors=())), *wireless(found)]
        yield from (f"# {line}".rstrip() for line in unsure)


def _with_remark(line: str, remark: str) -> str:
    return f"{line:{_COLUMN}}# {remark}"


def _of_this_computer() -> str:
    """Its name, as topics can carry it: two benches of one broker should not share theirs."""
    return (
        re.sub("[^a-z0-9]+", "-", platform.node().partition(".")[0].lower()).strip("-") or "bench"
    )
