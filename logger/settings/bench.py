"""The tables of a configuration but for the instruments, and the file as a whole."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any, ClassVar, Self

import platformdirs
from pydantic import (
    AfterValidator,
    PlainValidator,
    StrictBool,
    ValidationInfo,
    field_validator,
    model_validator,
)

from logger.burn.limits import Limits, Material, Station, WallLimits
from logger.errors import DataError
from logger.quantities import Averaging, Channel, Quantity
from logger.settings import forms
from logger.settings.averaging_keys import AveragingKeys
from logger.settings.drivers import AnyInstrument, InstrumentSettings
from logger.settings.forms import BESIDE
from logger.settings.keys import Fault, Form, Keys, key
from logger.settings.secret import Secret, misplaced, one_of_two, secret
from logger.units import Dimension

_ROOM = '["20 degC", "27 degC"]'


class ShowKeys(Keys):
    """[bench] show: display only, SI inside."""

    temperature: Annotated[str, forms.unit_name(Quantity.TEMPERATURE, '"degF"')] = key(
        "unit to show temperatures in", "degC"
    )
    length: Annotated[str, forms.unit_name(Dimension.LENGTH, '"in"')] = key(
        "unit to show heights in", "mm"
    )
    mass: Annotated[str, forms.unit_name(Quantity.MASS, '"oz"')] = key(
        "unit to show masses in", "g"
    )


class BenchSettings(Keys):
    """[bench]: the bench itself."""

    name: Annotated[str, forms.name('"back-room"')] = key("also part of every MQTT topic")
    data: Annotated[Path, forms.path('"~/bench-data"'), BESIDE] = key(
        "folder of the database; left out: the system's usual place",
        lambda above: str(
            platformdirs.user_data_path("wickbench", appauthor=False) / above["name"]
        ),
    )
    show: Annotated[
        Mapping[str, str], PlainValidator(lambda raw: ShowKeys.model_validate(raw).model_dump())
    ] = key("how figures are shown", {})


class WallLimitKeys(Keys):
    """[limits.glass] and its like: for the outside of a vessel of that material."""

    wall_alert_c: Annotated[float, forms.quantity(Quantity.TEMPERATURE, '"57 degC"')] = key(
        "from here on the maker wants to be told"
    )
    wall_limit_c: Annotated[float, forms.quantity(Quantity.TEMPERATURE, '"60 degC"')] = key(
        "from here on the test has failed"
    )

    @model_validator(mode="after")
    def _alert_comes_first(self) -> Self:
        if self.wall_alert_c >= self.wall_limit_c:
            raise Fault(
                f"the alert at {self.wall_alert_c:g} degC does not come before the limit at "
                f"{self.wall_limit_c:g} degC; write a wall_alert below wall_limit",
                "wall_alert",
                "wall_limit",
            )
        return self

    @property
    def limits(self) -> WallLimits:
        """As the core uses them."""
        return WallLimits(alert_c=self.wall_alert_c, limit_c=self.wall_limit_c)


def _room(value: object) -> tuple[float, float]:
    if not isinstance(value, list) or len(value) != 2:
        raise DataError(f"needs a lower and an upper temperature; write {_ROOM}")
    form = forms.quantity(Quantity.TEMPERATURE, '"20 degC"')
    low_c, high_c = (form.read(each) for each in value)
    if low_c >= high_c:
        raise DataError(f'"{value[0]}" is not below "{value[1]}"; write the lower one first')
    return low_c, high_c


class LimitKeys(Keys):
    """[limits], over the defaults of limits.toml."""

    burn_length_s: Annotated[float, forms.duration('"4 h"')] = key("longest burn")
    burn_notice_s: Annotated[float, forms.duration('"15 min"')] = key(
        "one is told this long ahead of burn_length"
    )
    cool_down_s: Annotated[float, forms.duration('"4 h"')] = key(
        "pause before a candle may be lit again"
    )
    room_c: Annotated[tuple[float, float], Form(_room, _ROOM)] = key(
        "the room should stay within these"
    )
    glass: WallLimitKeys
    ceramic: WallLimitKeys
    metal: WallLimitKeys

    @field_validator("burn_notice_s")
    @classmethod
    def _notice_comes_before_the_end(cls, notice_s: float, info: ValidationInfo) -> float:
        if notice_s >= info.data.get("burn_length_s", float("inf")):
            raise Fault(
                "does not come before the end of burn_length; write a shorter time than that"
            )
        return notice_s

    @property
    def limits(self) -> Limits:
        """As the core uses them."""
        low_c, high_c = self.room_c
        return Limits(
            burn_length_s=self.burn_length_s,
            burn_notice_s=self.burn_notice_s,
            cool_down_s=self.cool_down_s,
            room_low_c=low_c,
            room_high_c=high_c,
            wall={material: getattr(self, material).limits for material in Material},
        )


def over_default_limits(stated: Any) -> Any:
    """The [limits] that stand under every configuration, with those that are stated above them."""
    text = files("config").joinpath("limits.toml").read_text(encoding="utf-8")
    return _merged(tomllib.loads(text)["limits"], stated)


def _merged(beneath: Any, above: Any) -> Any:
    if not isinstance(beneath, Mapping) or not isinstance(above, Mapping):
        return above
    return {**beneath, **{key: _merged(beneath.get(key), value) for key, value in above.items()}}


def _no_topic(name: str) -> str:
    if name == "bench":
        raise Fault('"bench" stands for the whole bench in topics; write another name')
    return name


class StationKeys(Keys):
    """[[station]]: a spot where one candle burns."""

    name: Annotated[str, forms.name('"jar-a"'), AfterValidator(_no_topic)] = key("of the spot")
    material: Material | None = key(
        "of the vessel, picks the limit; left out: the lowest one", None
    )

    @property
    def station(self) -> Station:
        """As the core uses it."""
        return Station(name=self.name, material=self.material)


class TlsSettings(Keys):
    """[mqtt.tls]: encryption; empty, it trusts the authorities that the system trusts."""

    ca: Annotated[Path, forms.path('"ca.pem"'), BESIDE] | None = key(
        "authority of the broker; left out: the system's", None
    )
    cert: Annotated[Path, forms.path('"cert.pem"'), BESIDE] | None = key(
        "certificate of this bench", None
    )
    key: Annotated[Path, forms.path('"key.pem"'), BESIDE] | None = key("of that certificate", None)

    @model_validator(mode="after")
    def _both_or_neither(self) -> Self:
        if (self.cert is None) is not (self.key is None):
            raise Fault(
                "missing: a certificate goes with its key; write both or neither",
                "cert" if self.cert is None else "key",
            )
        return self


class MqttSettings(Keys):
    """[mqtt]: the broker that alarms go to."""

    misplaced: ClassVar[Mapping[str, str]] = misplaced("password")

    host: forms.Host = key("name or address of the broker")
    tls: TlsSettings | None = key("encryption; left out: none", None)
    port: Annotated[int, forms.whole(1, 65_535, "1883")] = key(
        "left out: 1883, with [mqtt.tls] 8883",  # registered with IANA
        lambda above: 1883 if above["tls"] is None else 8883,
    )
    username: Annotated[str, forms.text('"bench"')] | None = key("as the broker knows it", None)
    password_file: Annotated[Path, forms.path('"password.txt"'), BESIDE] | None = key(
        "holds the password and nothing else", None
    )
    password_env: forms.Variable | None = key("or the environment variable that holds it", None)
    commands: StrictBool = key("whether topics under do/ are obeyed", False)

    @field_validator("password_env")
    @classmethod
    def _in_one_place(cls, variable: str | None, info: ValidationInfo) -> str | None:
        return one_of_two("password", info.data.get("password_file"), variable)

    @model_validator(mode="after")
    def _both_or_neither(self) -> Self:
        if (self.username is None) is not (self.password is None):
            lacking = "username" if self.username is None else "password_file"
            there = "a password" if self.username is None else "username"
            raise Fault(f"missing beside {there}; write both or neither", lacking)
        return self

    @property
    def password(self) -> Secret | None:
        """Where it is kept."""
        return secret("password", self.password_file, self.password_env)

    @property
    def name(self) -> str:
        """What the broker is called in alarms."""
        return f"mqtt {self.host}:{self.port}"


class InfluxSettings(Keys):
    """[influx]: a time-series engine that takes the v2 write protocol.

    Single-user engines need neither organisation nor token.
    """

    misplaced: ClassVar[Mapping[str, str]] = misplaced("token")

    url: forms.WebAddress = key("of the engine")
    org: Annotated[str, forms.text('"workshop"')] | None = key("organisation, if it has any", None)
    bucket: Annotated[str, forms.text('"wickbench"')] = key("or database", "wickbench")
    token_file: Annotated[Path, forms.path('"token.txt"'), BESIDE] | None = key(
        "holds the token and nothing else", None
    )
    token_env: forms.Variable | None = key("or the environment variable that holds it", None)

    @field_validator("token_env")
    @classmethod
    def _in_one_place(cls, variable: str | None, info: ValidationInfo) -> str | None:
        return one_of_two("token", info.data.get("token_file"), variable)

    @property
    def token(self) -> Secret | None:
        """Where it is kept."""
        return secret("token", self.token_file, self.token_env)


class WebSettings(Keys):
    """[web]: where the page is served."""

    listen: forms.Address = key("address and port; port 0: any free one")

    @property
    def host(self) -> str:
        """The address."""
        return self.listen[0]

    @property
    def port(self) -> int:
        """The port; 0: any free one."""
        return self.listen[1]


class AlarmSettings(Keys):
    """[alarms]: what alarms do beyond the page and the broker."""

    run: Annotated[tuple[str, ...], forms.texts('["/usr/local/bin/ring", "--loud"]')] = key(
        "program and arguments to start when alarms cannot be delivered", ()
    )
    unwatched_s: Annotated[float, forms.duration('"30 min"')] = key(
        "how often a burn asks who has it in sight",
        "30 min",  # choice: a test burn is looked at every half hour anyway
    )


class BenchKeys(Keys):
    """The whole file."""

    bench: BenchSettings = key("the bench itself", {})
    limits: LimitKeys = key("the maker's own limits")
    averaging: AveragingKeys = key("how noisy readings are averaged", {})
    station: tuple[StationKeys, ...] = key("the spots where candles burn", ())
    instrument: tuple[AnyInstrument, ...] = key("what delivers readings", ())
    web: WebSettings | None = key("where the page is served", None)
    mqtt: MqttSettings | None = key("the broker that alarms go to", None)
    influx: InfluxSettings | None = key("a time-series engine", None)
    alarms: AlarmSettings = key("what alarms do beyond page and broker", {})


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything that a configuration says."""

    path: Path
    text: str  # as it was read: kept with each burn
    bench: BenchSettings
    limits: Limits
    stations: tuple[Station, ...]
    instruments: tuple[InstrumentSettings, ...]
    mqtt: MqttSettings | None
    influx: InfluxSettings | None
    web: WebSettings | None
    alarms: AlarmSettings

    @property
    def channels(self) -> tuple[Channel, ...]:
        """Every channel, in the order of the configuration."""
        return tuple(channel for one in self.instruments for channel in one.channels)


def settings(keys: BenchKeys, path: Path, text: str) -> Settings:
    """What the rest of the program sees of `keys`, which `text` at `path` says."""
    averaging = keys.averaging.over(Averaging())
    return Settings(
        path=path,
        text=text,
        bench=keys.bench,
        limits=keys.limits.limits,
        stations=tuple(one.station for one in keys.station),
        instruments=tuple(one.settings(averaging) for one in keys.instrument),
        mqtt=keys.mqtt,
        influx=keys.influx,
        web=keys.web,
        alarms=keys.alarms,
    )
