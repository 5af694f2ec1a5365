"""What the tables of a configuration must agree on.

Read as they are written: a fault within a table hides none between them.
"""

import re
from collections.abc import Iterator, Mapping

from logger.errors import DataError
from logger.quantities import Quantity
from logger.settings.drivers import keys_of
from logger.settings.forms import is_name, seen
from logger.settings.keys import nearest
from logger.settings.problems import Mistake, line_of
from logger.settings.raw import Table, tables
from logger.settings.toml_lines import KeyPath
from logger.units import quantity_of


def disagreements(raw: Table, lines: Mapping[KeyPath, int]) -> Iterator[Mistake]:
    """Each fault between tables."""
    stations = list(tables(raw, "station"))
    instruments = list(tables(raw, "instrument"))
    channels = [one for path, table in instruments for one in tables(table, "channel", path)]
    for named in (stations, instruments, channels):
        yield from _names(named, lines)
    yield from _stations(channels, [table.get("name") for _, table in stations])
    yield from _ports(instruments)
    yield from _mirrored(channels)
    for path, table in instruments:
        for below, what in keys_of(table).disagreements(table):
            yield (*path, *below), what


def _names(named: list[tuple[KeyPath, Table]], lines: Mapping[KeyPath, int]) -> Iterator[Mistake]:
    """No two of a kind have one name."""
    taken: dict[str, int] = {}
    for path, table in named:
        at, name = (*path, "name"), table.get("name")
        if not isinstance(name, str) or not is_name(name):
            continue
        if name in taken:
            yield at, f'"{name}" is taken on line {taken[name]}; write another name'
        taken.setdefault(name, line_of(lines, at))


def _stations(channels: list[tuple[KeyPath, Table]], names: list[object]) -> Iterator[Mistake]:
    """A channel looks at a station there is."""
    known = [str(name) for name in names if is_name(name)]
    for path, table in channels:
        station = table.get("station")
        if isinstance(station, str) and station.strip() and station not in names:
            how = f"write [[station]] with name = {seen(station)} above"
            how = nearest(station, known) if known else how
            yield (*path, "station"), f"no station is called {seen(station)}; {how}"


def _ports(instruments: list[tuple[KeyPath, Table]]) -> Iterator[Mistake]:
    """Two instruments do not read one port."""
    readers: dict[str, str] = {}
    for path, table in instruments:
        port = table.get("port")
        if not isinstance(port, str):
            continue
        if port in readers:
            yield (
                (*path, "port"),
                f"is read by {readers[port]} already; write the port of this one, or put both "
                "one's channels under one instrument",
            )
        readers.setdefault(port, seen(table.get("name")))


def _mirrored(channels: list[tuple[KeyPath, Table]]) -> Iterator[Mistake]:
    """What a surface reflects is another temperature channel, which may come later."""
    for path, table in channels:
        name = table.get("reflected")
        if not isinstance(name, str) or not is_name(name) or not re.search("[a-z]", name):
            continue
        others = [str(other["name"]) for _, other in channels if _may_be_mirrored(other, table)]
        if name not in others:
            how = nearest(name, others) if others else 'write "22 degC"'
            yield (*path, "reflected"), f'no other temperature channel is called "{name}"; {how}'


def _may_be_mirrored(other: Table, table: Table) -> bool:
    name, transducer = other.get("name"), other.get("transducer", "none")
    if not is_name(name) or name == table.get("name"):
        return False
    if "quantity" in other or transducer != "none":
        return str(other.get("quantity", Quantity.TEMPERATURE)) == Quantity.TEMPERATURE
    try:
        return quantity_of(str(other.get("unit"))) is Quantity.TEMPERATURE
    except DataError:
        return True  # for all that is known
