"""The tables of a configuration but for the instruments, and the file as a whole."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated

import platformdirs
from pydantic import AfterValidator, PlainValidator

from logger.alarms.burn_rules import BY_HAND_EVERY_S
from logger.burn.limits import CriterionValue, Limits, Material, Station
from logger.burn.marks import AHEAD_S, MarkTimes
from logger.burn.model import LONGEST_AGO_S
from logger.errors import DataError
from logger.field_table import REGIMES
from logger.quantities import DEGC, GRAM, MILLIMETRE, Averaging, Channel, Quantity
from logger.settings import forms
from logger.settings.averaging_keys import AveragingKeys
from logger.settings.criterion_keys import CriterionKeys, criteria_of
from logger.settings.delivery_routes import InfluxSettings, MqttSettings, WebSettings
from logger.settings.drivers import AnyInstrument, InstrumentSettings
from logger.settings.keys import Form, Keys, WrongValue, key
from logger.settings.limit_keys import LimitKeys
from logger.settings.plan_keys import PlanKeys
from logger.units import Dimension, unit_of
from logger.words import Words, duration

_LEAST_KEPT_S = 2.0 * LONGEST_AGO_S  # entered as late as may be, and corrected as late again


class ShowKeys(Keys):
    """[bench] show: display only, SI inside."""

    temperature: Annotated[str, forms.unit_name(Quantity.TEMPERATURE, '"degF"')] = key(
        "temperatures", "degC"
    )
    length: Annotated[str, forms.unit_name(Dimension.LENGTH, '"in"')] = key("heights", "mm")
    mass: Annotated[str, forms.unit_name(Quantity.MASS, '"oz"')] = key("masses", "g")


def _kept_for(keep_s: float | None) -> float | None:
    if keep_s is not None and keep_s < _LEAST_KEPT_S:
        raise WrongValue(
            f"is too short: a burn may be entered and corrected that late; write "
            f'"{_LEAST_KEPT_S / 86_400.0:g} d" or more'
        )
    return keep_s


def _no_later_than_warned(every_s: float) -> float:
    if every_s > BY_HAND_EVERY_S:
        raise WrongValue(
            f'is longer than the bench waits before it warns; write "{duration(BY_HAND_EVERY_S)}" '
            "or less"
        )
    return every_s


class BenchSettings(Keys):
    """[bench]: the bench itself."""

    name: Annotated[str, forms.name('"back-room"')] = key("of the bench, in every MQTT topic")
    data: forms.FilePath = key(
        "folder of the database; left out: the system's usual place",
        lambda above: platformdirs.user_data_path("wickbench", appauthor=False) / above["name"],
    )
    maker: Annotated[str, forms.text('"Aldermoor Candles"')] | None = key(
        "who makes the candles, as reports say it", None
    )
    keep_readings_outside_burns_s: Annotated[
        Annotated[float, forms.duration('"90 d"')] | None, AfterValidator(_kept_for)
    ] = key("how long readings that belong to no burn are kept; left out: for ever", None)
    round_every_s: Annotated[forms.Hours, AfterValidator(_no_later_than_warned)] = key(
        "how often a burning vessel that no instrument reads is read by hand",
        "30 min",  # our choice: a test burn is looked at every half hour anyway
    )
    show: Annotated[
        Mapping[str, str], PlainValidator(lambda raw: ShowKeys.model_validate(raw).model_dump())
    ] = key("how figures are shown", {}, '{ temperature = "degF" }')


def _no_topic(name: str) -> str:
    if name == "bench":
        raise WrongValue('"bench" stands for the whole bench in topics; write another name')
    return name


class StationKeys(Keys):
    """[[station]]: a spot where one candle burns."""

    name: Annotated[str, forms.name('"jar-a"'), AfterValidator(_no_topic)] = key(
        "of the spot, as you type it"
    )
    material: Material | None = key("picks the limit; left out: the lowest one", None)

    @property
    def station(self) -> Station:
        """As the core uses it."""
        return Station(name=self.name, material=self.material)


_Accuracy = forms.more_than_zero(forms.difference(Quantity.TEMPERATURE, '"1.5 delta_degC"'))


class ByHandKeys(Keys):
    """[by_hand]: the thermometer that a person reads places with."""

    accuracy: Annotated[float, _Accuracy] | None = key(
        "limit of error that its maker states", None, _Accuracy.example
    )


class AlarmSettings(Keys):
    """[alarms]: what alarms do beyond the page and the broker."""

    run: forms.Texts = key(
        "program and arguments to start when alarms cannot be delivered",
        (),
        '["/usr/local/bin/sound-alarm"]',
    )
    unwatched_s: forms.Hours = key(
        "so long after an answer, a look or a reading a burn asks who has it in sight",
        "30 min",  # choice: a test burn is looked at every half hour anyway
        '"30 min"',
    )


def _marks(value: object) -> tuple[float, ...]:
    form = forms.duration(_MARKS[1])
    if not isinstance(value, list | tuple):
        raise DataError(f"needs a list of times; write for example {_MARKS[0]}")
    found = {form.read(each) for each in value}
    if any(each <= AHEAD_S for each in found):
        raise DataError(f"a mark is announced {duration(AHEAD_S)} ahead; write later times")
    return tuple(sorted(found))


_MARKS = ('["30 min", "1 h", "2 h"]', '"30 min"')


_OwnMarks = Annotated[tuple[float, ...], Form(_marks, _MARKS[0])] | None


class MarkKeys(Keys):
    """[marks]: when a person looks at a burning candle."""

    at: Annotated[tuple[float, ...], Form(_marks, _MARKS[0])] = key(
        "times of being lit; an empty list asks for none",
        ("30 min", "1 h", "2 h", "3 h", "4 h"),  # common practice of test burns
    )
    power: _OwnMarks = key("of a power burn; left out: as `at`", None, _MARKS[0])
    untrimmed: _OwnMarks = key("of an untrimmed burn; left out: as `at`", None, _MARKS[0])
    short: _OwnMarks = key("of a short burn; left out: as `at`", None, _MARKS[0])
    draught: _OwnMarks = key("of a burn in a draught; left out: as `at`", None, _MARKS[0])

    @property
    def times(self) -> MarkTimes:
        """As the core uses them."""
        own = ((name, getattr(self, name)) for name in REGIMES if name in type(self).model_fields)
        return MarkTimes(at_s=self.at, by_regime_s=tuple(one for one in own if one[1] is not None))


class BenchKeys(Keys):
    """The whole file."""

    bench: BenchSettings = key("the bench itself", {})
    limits: LimitKeys = key("the maker's own limits")
    criterion: tuple[CriterionKeys, ...] = key("what a verdict asks for besides", ())
    averaging: AveragingKeys = key("how noisy readings are averaged", {})
    station: tuple[StationKeys, ...] = key("the spots where candles burn", ())
    instrument: tuple[AnyInstrument, ...] = key("what delivers readings", ())
    web: WebSettings | None = key("where the page is served", None)
    mqtt: MqttSettings | None = key("the broker that alarms go to", None)
    influx: InfluxSettings | None = key("a time-series engine", None)
    alarms: AlarmSettings = key("what alarms do beyond page and broker", {})
    by_hand: ByHandKeys = key("the thermometer that a person reads places with", {})
    marks: MarkKeys = key("when a person looks at a burning candle", {})
    plan: PlanKeys = key("when you are at the bench, and what one person can do", {})


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Everything that a configuration says."""

    path: Path
    text: str  # as it was read: kept with each burn
    bench: BenchSettings
    limits: Limits
    criteria: tuple[CriterionValue, ...]
    stations: tuple[Station, ...]
    instruments: tuple[InstrumentSettings, ...]
    mqtt: MqttSettings | None
    influx: InfluxSettings | None
    web: WebSettings | None
    alarms: AlarmSettings
    by_hand: ByHandKeys
    marks: MarkTimes
    plan: PlanKeys

    @property
    def channels(self) -> tuple[Channel, ...]:
        """Every channel, in the order of the configuration."""
        return tuple(channel for one in self.instruments for channel in one.channels)

    @property
    def words(self) -> Words:
        """How the bench writes figures."""
        return words_of(self.bench.show)


def words_of(show: Mapping[str, str]) -> Words:
    """Figures in the units that [bench] show asks for."""
    return Words(
        temperature_in=unit_of(show.get("temperature", DEGC.name), Quantity.TEMPERATURE),
        mass_in=unit_of(show.get("mass", GRAM.name), Quantity.MASS),
        length_in=unit_of(show.get("length", MILLIMETRE.name), Dimension.LENGTH),
    )


def _shown(instrument: InstrumentSettings, show: Mapping[str, str]) -> InstrumentSettings:
    """Its places are told in the maker's unit of heights."""
    unit = words_of(show).length_in
    channels = (
        replace(channel, place=replace(channel.place, shown_in=unit))
        for channel in instrument.channels
    )
    return replace(instrument, channels=tuple(channels))


def settings(keys: BenchKeys, path: Path, text: str) -> Settings:
    """What the rest of the program sees of `keys`, which `text` at `path` says."""
    averaging = keys.averaging.over(Averaging())
    return Settings(
        path=path,
        text=text,
        bench=keys.bench,
        limits=keys.limits.limits,
        criteria=criteria_of(keys.criterion),
        stations=tuple(one.station for one in keys.station),
        instruments=tuple(
            _shown(one.settings(averaging), keys.bench.show) for one in keys.instrument
        ),
        mqtt=keys.mqtt,
        influx=keys.influx,
        web=keys.web,
        alarms=keys.alarms,
        by_hand=keys.by_hand,
        marks=keys.marks.times,
        plan=keys.plan,
    )
