"""The tables of a configuration, one function each; instruments have their own module."""

import tomllib
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from typing import Any

import platformdirs

from logger.burn.limits import Limits, Material, Station, WallLimits
from logger.errors import DataError
from logger.quantities import Averaging, Quantity
from logger.settings import forms
from logger.settings.model import (
    AlarmSettings,
    BenchSettings,
    InfluxSettings,
    MqttSettings,
    Secret,
    TlsSettings,
    WebSettings,
)
from logger.settings.table import Form, Table
from logger.units import Dimension

_PORT = forms.whole(1, 65_535, "1883")


def bench(table: Table, folder: Path) -> BenchSettings:
    """[bench]: `folder` is where relative paths begin."""
    name = table.need("name", forms.name('"back-room"'), instead="bench")
    shown = table.table("show")
    units = {
        Quantity.TEMPERATURE.value: shown.take(
            "temperature", forms.unit_name(Quantity.TEMPERATURE, '"degF"'), "degC"
        ),
        Dimension.LENGTH.value: shown.take(
            "length", forms.unit_name(Dimension.LENGTH, '"in"'), "mm"
        ),
        Quantity.MASS.value: shown.take("mass", forms.unit_name(Quantity.MASS, '"oz"'), "g"),
    }
    shown.done()
    data = table.take("data", forms.path(folder, '"~/bench-data"'), None)
    table.done()
    return BenchSettings(
        name=name,
        data=data or platformdirs.user_data_path("wickbench", appauthor=False) / name,
        show=MappingProxyType(units),
    )


def default_limits() -> Mapping[str, Any]:
    """The [limits] that stand under every configuration."""
    text = files("config").joinpath("limits.toml").read_text(encoding="utf-8")
    defaults: Mapping[str, Any] = tomllib.loads(text)["limits"]
    return defaults


def limits(table: Table) -> Limits:
    """[limits], over the defaults."""
    length = forms.more_than_zero(forms.quantity(Dimension.DURATION, '"4 h"'))
    burn_length_s = table.need("burn_length", length, instead=1.0)
    burn_notice_s = table.need("burn_notice", length, instead=0.0)
    if burn_notice_s >= burn_length_s:
        table.fault(
            "burn_notice",
            "does not come before the end of burn_length; write a shorter time than that",
        )
    room_low_c, room_high_c = table.need(
        "room", Form(read=_room, example=_ROOM), instead=(0.0, 1.0)
    )
    found = Limits(
        burn_length_s=burn_length_s,
        burn_notice_s=burn_notice_s,
        cool_down_s=table.need("cool_down", length, instead=1.0),
        room_low_c=room_low_c,
        room_high_c=room_high_c,
        wall={material: _wall(table.table(material)) for material in Material},
    )
    table.done()
    return found


def averaging(table: Table, default: Averaging) -> Averaging:
    """[averaging], of the bench or of one instrument."""
    time = forms.more_than_zero(forms.quantity(Dimension.DURATION, '"30 s"'))
    found = Averaging(
        window_s=table.take("window", time, default.window_s),
        every_s=table.take("every", time, default.every_s),
    )
    table.done()
    return found


def stations(tables: list[Table]) -> tuple[Station, ...]:
    """Every [[station]]."""
    found: list[Station] = []
    lines: dict[str, int] = {}
    for table in tables:
        name = unique_name(table, '"jar-a"', lines)
        if name == "bench":
            table.fault("name", '"bench" stands for the whole bench in topics; write another name')
        material = table.take("material", forms.choice(Material, Material.GLASS), None)
        table.done()
        found.append(Station(name=name, material=material))
    return tuple(found)


def mqtt(table: Table, folder: Path) -> MqttSettings:
    """[mqtt]; the contract's topics leave by it."""
    host = table.need("host", forms.HOST, instead="")
    tls = table.optional_table("tls")
    port = table.take("port", _PORT, 1883 if tls is None else 8883)  # registered with IANA
    username = table.take("username", forms.text('"bench"'), None)
    password = _secret(table, "password", folder)
    if (username is None) is not (password is None) and not table.has("password"):
        lacking = "username" if username is None else "password_file"
        there = "a password" if username is None else "username"
        table.fault(lacking, f"missing beside {there}; write both or neither")
    commands = table.take("commands", forms.FLAG, False)
    table.done()
    return MqttSettings(
        host=host,
        port=port,
        commands=commands,
        username=username,
        password=password,
        tls=None if tls is None else _tls(tls, folder),
    )


def influx(table: Table, folder: Path) -> InfluxSettings:
    """[influx]; single-user engines need neither organisation nor token."""
    found = InfluxSettings(
        url=table.need("url", forms.WEB_ADDRESS, instead=""),
        org=table.take("org", forms.text('"workshop"'), ""),
        bucket=table.take("bucket", forms.text('"wickbench"'), "wickbench"),
        token=_secret(table, "token", folder),
    )
    table.done()
    return found


def web(table: Table) -> WebSettings:
    """[web]."""
    host, port = table.need("listen", forms.ADDRESS, instead=("", 0))
    table.done()
    return WebSettings(host=host, port=port)


def alarms(table: Table) -> AlarmSettings:
    """[alarms]."""
    found = AlarmSettings(
        run=table.take("run", forms.texts('["/usr/local/bin/ring", "--loud"]'), ()),
        unwatched_s=table.take(
            "unwatched",
            forms.more_than_zero(forms.quantity(Dimension.DURATION, '"30 min"')),
            1800.0,  # choice: a test burn is looked at every half hour anyway
        ),
    )
    table.done()
    return found


def unique_name(table: Table, example: str, lines: dict[str, int]) -> str:
    """The `name` of one of several; `lines` says where those before stand, and takes this one."""
    name = table.need("name", forms.name(example), instead="")
    if name in lines:
        table.fault("name", f'"{name}" is taken on line {lines[name]}; write another name')
    elif name:
        lines[name] = table.line("name")
    return name


_ROOM = '["20 degC", "27 degC"]'


def _room(value: object) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise DataError(f"needs a lower and an upper temperature; write {_ROOM}")
    form = forms.quantity(Quantity.TEMPERATURE, '"20 degC"')
    low_c, high_c = (form.read(each) for each in value)
    if low_c >= high_c:
        raise DataError(f'"{value[0]}" is not below "{value[1]}"; write the lower one first')
    return low_c, high_c


def _wall(table: Table) -> WallLimits:
    form = forms.quantity(Quantity.TEMPERATURE, '"60 degC"')
    alert_c = table.need("wall_alert", form, instead=0.0)
    limit_c = table.need("wall_limit", form, instead=1.0)
    if alert_c >= limit_c:
        own = "wall_alert" if table.has("wall_alert") else "wall_limit"
        table.fault(
            own,
            f"the alert at {alert_c:g} degC does not come before the limit at {limit_c:g} degC; "
            "write a wall_alert below wall_limit",
        )
    table.done()
    return WallLimits(alert_c=alert_c, limit_c=limit_c)


def _secret(table: Table, key: str, folder: Path) -> Secret | None:
    file_key, variable_key = f"{key}_file", f"{key}_env"
    table.never(
        key,
        "a secret has no place in this file, which is kept with each burn; write it alone into a "
        f'file and name that: {file_key} = "{key}.txt", '
        f'or an environment variable: {variable_key} = "WICKBENCH_{key.upper()}"',
    )
    file = table.take(file_key, forms.path(folder, f'"{key}.txt"'), None)
    variable = table.take(variable_key, forms.VARIABLE, None)
    if file is not None and variable is not None:
        table.fault(variable_key, f"stands beside {file_key}; write one of the two")
    if file is None and variable is None:
        return None
    return Secret(key=key, file=file, variable=variable)


def _tls(table: Table, folder: Path) -> TlsSettings:
    """[mqtt.tls]; empty, it trusts the authorities that the system trusts."""
    ca, cert, key = (
        table.take(name, forms.path(folder, f'"{name}.pem"'), None)
        for name in ("ca", "cert", "key")
    )
    if (cert is None) is not (key is None):
        lacking = "cert" if cert is None else "key"
        table.fault(lacking, "missing: a certificate goes with its key; write both or neither")
    table.done()
    return TlsSettings(ca=ca, cert=cert, key=key)
