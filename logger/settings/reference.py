"""Every key of a configuration, as a page of the manual: made of the classes that read it.

`python -m logger.settings.reference` prints the page; a test holds that the one which lies in
`dashboards/manual` is this one.
"""

import json
import sys
from collections.abc import Iterator, Sequence
from enum import StrEnum
from typing import Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from logger.settings import delivery_routes
from logger.settings.averaging_keys import AveragingKeys
from logger.settings.bench_keys import (
    AlarmSettings,
    BenchSettings,
    ByHandKeys,
    MarkKeys,
    ShowKeys,
    StationKeys,
)
from logger.settings.channels import CalibrationKeys, ChannelKeys
from logger.settings.criterion_keys import CriterionKeys
from logger.settings.drivers import (
    BleAdvertKeys,
    BleGattKeys,
    InstrumentKeys,
    ModbusRtuKeys,
    OneWireKeys,
    ScpiKeys,
    SerialLinesKeys,
)
from logger.settings.drivers.serial_lines_keys import CsvKeys, JsonKeys, PairsKeys, SeparatedKeys
from logger.settings.drivers.wired_keys import AskedKeys, SerialKeys
from logger.settings.keys import Form, Keys
from logger.settings.limit_keys import LimitKeys, WallLimitKeys
from logger.settings.plan_keys import PlanKeys, RetestKeys

_HEAD = """# The configuration, key by key

One file in [TOML](https://toml.io), `bench.toml`: `wickbench check` says what is wrong with it, \
with the line. [The example](../../config/bench.toml) shows most of it in use. Quantities are text \
with their unit (`"60 mm"`, `"2.4 in"`, `"140 degF"`, `"4 h"`), differences of temperature are \
`"1.5 delta_degC"`, names are small letters, digits and hyphens.

An editor that takes a JSON Schema for TOML completes keys and marks slips as you type: \
`wickbench docs --schema > bench.schema.json`, and as first line of `bench.toml` \
`#:schema ./bench.schema.json`, or as your editor asks for it. What one key demands of another \
only `wickbench check` knows.
"""

_TABLES: Sequence[tuple[str, str, type[Keys]]] = (
    ("[bench]", "The bench itself.", BenchSettings),
    ("[bench] show", "The units in which figures are shown to you.", ShowKeys),
    (
        "[limits]",
        "Your own limits. All may be left out.",
        LimitKeys,
    ),
    (
        "[limits.glass], [limits.ceramic], [limits.metal]",
        "Of the outside of a vessel, by its material. All may be left out, too.",
        WallLimitKeys,
    ),
    (
        "[[criterion]]",
        "A figure of your own that a verdict asks for, in place of the default in `limits.toml`.",
        CriterionKeys,
    ),
    (
        "[averaging], [instrument.averaging]",
        "Of all instruments, or of one. The running estimate learns the noise by itself.",
        AveragingKeys,
    ),
    ("[[station]]", "A spot where one candle burns; one table for each.", StationKeys),
    (
        "[[instrument]]",
        "What delivers readings: these keys, and those of its driver.",
        InstrumentKeys,
    ),
    (
        "[[instrument.channel]]",
        "One quantity at one place: these keys, and those of the instrument's driver.",
        ChannelKeys,
    ),
    ("calibration", "Of a channel.", CalibrationKeys),
    ("[web]", "Where the page is served.", delivery_routes.WebSettings),
    ("[mqtt]", "The broker that alarms go to.", delivery_routes.MqttSettings),
    ("[mqtt.tls]", "Encryption; an empty table is enough.", delivery_routes.TlsSettings),
    ("[influx]", "A time-series engine for several benches.", delivery_routes.InfluxSettings),
    ("[by_hand]", "The thermometer that a person reads places with.", ByHandKeys),
    ("[marks]", "When a person looks at a burning candle.", MarkKeys),
    ("[alarms]", "What alarms do beyond page and broker.", AlarmSettings),
    ("[plan]", "When you are at the bench, and what one person can do.", PlanKeys),
    (
        "[plan.retest]",
        "What is burned again when a lot changes: one or two burns of one tester, one tester to "
        "its end, or a new trial. The defaults are common practice; you may ask for more.",
        RetestKeys,
    ),
)

_DRIVERS: Sequence[tuple[str, str, type[InstrumentKeys]]] = (
    (
        "Instruments that are asked",
        "Not `ble-advert`, and not lines that come unasked.",
        AskedKeys,
    ),
    ("Instruments on a serial port", "Of `serial-lines`, `scpi` and `modbus-rtu`.", SerialKeys),
    ("serial-lines", "Lines of text; each format adds keys of its own.", SerialLinesKeys),
    ("serial-lines, columns and pairs", "Fields between separators.", SeparatedKeys),
    ('serial-lines, format = "csv"', "Columns.", CsvKeys),
    ('serial-lines, format = "pairs"', "Names with values: `t1=41.2 t2=40.9`.", PairsKeys),
    ('serial-lines, format = "json"', "One object a line.", JsonKeys),
    ("scpi", "Bench meters and scanners.", ScpiKeys),
    ("modbus-rtu", "Modules on an RS-485 line.", ModbusRtuKeys),
    ("one-wire", "Thermometers on the computer's own 1-Wire bus.", OneWireKeys),
    ("ble-gatt", "Bluetooth devices to connect to.", BleGattKeys),
    ("ble-advert", "Bluetooth sensors that only advertise.", BleAdvertKeys),
)


def page() -> str:
    """The whole page, as Markdown."""
    parts = [_HEAD]
    for heading, what, keys in _TABLES:
        parts += _section(f"## {heading}", what, _rows(keys))
        if keys is ChannelKeys:
            parts += _driver_sections()
    return "\n".join(parts)


def _driver_sections() -> Iterator[str]:
    """What each driver adds to the keys of every instrument and channel."""
    shown = {InstrumentKeys} | {keys for _, _, keys in _DRIVERS}
    for heading, what, keys in _DRIVERS:
        shared = {row for one in shown.intersection(keys.__mro__[1:]) for row in _rows(one)}
        own = [row for row in _rows(keys) if row not in shared and "`driver`" not in row]
        yield from _section(f"### {heading}", what, own)
        channel = get_args(keys.model_fields["channel"].annotation)[0]
        shared = set(_rows(ChannelKeys))
        yield from _section("", "Its channels:", [r for r in _rows(channel) if r not in shared])


def _section(heading: str, what: str, rows: Sequence[str]) -> Iterator[str]:
    if heading:
        yield f"{heading}\n"
    if rows:
        yield f"{what}\n"
        yield "| key | for example | default | |\n| --- | --- | --- | --- |"
        yield "\n".join(rows) + "\n"


def _rows(keys: type[Keys]) -> list[str]:
    otherwise = "`limits.toml`" if keys in {LimitKeys, WallLimitKeys} else "none: must be there"
    return [
        f"| `{name}` | {_written(field)} | {_default(field, otherwise)} | {field.description} |"
        for name, field in _values(keys).items()
    ]


def _values(keys: type[Keys]) -> dict[str, FieldInfo]:
    """The keys of a table that hold values, by the name that the file has for them."""
    return {
        field.alias or name: field
        for name, field in keys.model_fields.items()
        if not any(isinstance(one, type) and issubclass(one, Keys) for one in within(field))
    }


def _written(field: FieldInfo) -> str:
    """How a value is written: the words to choose from, or an example."""
    found = [*within(field)]
    if field.examples:
        return f"`{field.examples[0]}`"
    for one in found:
        if get_origin(one) is Literal:
            return ", ".join(f'`"{word}"`' for word in get_args(one))
        if isinstance(one, type) and issubclass(one, StrEnum):
            return ", ".join(f'`"{word}"`' for word in one)
    if bool in found:
        return "`true`, `false`"
    return f"`{next(one.example for one in found if isinstance(one, Form))}`"


def _default(field: FieldInfo, otherwise: str) -> str:
    if field.is_required():
        return otherwise
    if field.default is None or field.default_factory is not None or field.default == ():
        return ""  # its words say what holds then
    if isinstance(field.default, tuple):
        return f"`{json.dumps(field.default)}`"
    if isinstance(field.default, bool):
        return f"`{str(field.default).lower()}`"
    return f'`"{field.default}"`' if isinstance(field.default, str) else f"`{field.default}`"


def within(field: FieldInfo) -> Iterator[Any]:
    """The types and forms that an annotation is made of, however deep."""
    yield from field.metadata
    rest = [field.annotation]
    while rest:
        one = rest.pop(0)
        yield one
        if get_origin(one) is not Literal:
            rest += [*get_args(one), *getattr(one, "__metadata__", ())]


if __name__ == "__main__":
    sys.stdout.write(page())
