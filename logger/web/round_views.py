"""[pure] A reading round as its page shows it: each place in turn, and what it read."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from logger.burn.entries import ManualReading
from logger.burn.limits import WallLimits
from logger.burn.model import BurnStatus
from logger.conditioning import manual
from logger.quantities import Channel, Estimate, Place, Quality
from logger.shelf.rounds import INFRARED, NamedPlace, RoundRecord, ThermometerRecord
from logger.web.bench_service import BenchService
from logger.web.place_views import PlaceView, place_view
from logger.web.texts import gettext as _
from logger.words import Words


@dataclass(frozen=True, slots=True, kw_only=True)
class HandThermometer:
    """With what readings are taken at a station, as forms send it along."""

    name: str = ""
    unit: str
    emissivity: float | None = None
    emissivity_set: float | None = None
    remark: str = ""  # what is missing to correct it

    @property
    def version(self) -> str:
        """Changes with anything that is shown or sent."""
        return f"{self.name} {self.unit} {self.emissivity} {self.emissivity_set}"


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundStep:
    """One place of the round, and what it read last in this burn."""

    key: str  # names it on the page
    name: str
    place: Place
    height: str  # in the bench's unit, without it; empty where there is none
    view: PlaceView | None  # None: not read in this burn
    reading: ManualReading | None
    set_aside: str
    doubt: str

    @property
    def version(self) -> str:
        """Changes with anything that is shown but what the stream of news brings."""
        reading = self.reading
        return "" if reading is None else f"{reading.id} {reading.at_s} {reading.values}"


@dataclass(frozen=True, slots=True, kw_only=True)
class StationRound:
    """The places of one burning candle."""

    status: BurnStatus
    steps: tuple[RoundStep, ...]
    thermometer: HandThermometer
    recorded: bool  # whether its places are on the shelf


def station_round(
    bench: BenchService,
    status: BurnStatus,
    record: RoundRecord | None,
    thermometer: ThermometerRecord | None,
) -> StationRound:
    """The places of `record`; without one, those that were read by hand in this burn."""
    words, station = bench.settings.words, status.station
    places = record.in_turn if record else _read_before(bench, status)
    lines = [line.now for line in bench.entered_at(station)]
    readings = [one for one in lines if isinstance(one, ManualReading) and one.station == station]
    steps = tuple(
        _step(bench, status, place, key=f"{station}-{number}", readings=readings)
        for number, place in enumerate(places, 1)
    )
    return StationRound(
        status=status,
        steps=steps,
        thermometer=_in_hand(record, thermometer, words),
        recorded=record is not None,
    )


def _read_before(bench: BenchService, status: BurnStatus) -> Sequence[NamedPlace]:
    places = [
        replace(channel.place, shown_in=bench.settings.words.length_in)
        for name, channel in bench.hub.by_hand.items()
        if channel.station == status.station and name in bench.hub.estimates
    ]
    return [NamedPlace(name=str(place), place=place) for place in places]


def _step(
    bench: BenchService,
    status: BurnStatus,
    named: NamedPlace,
    *,
    key: str,
    readings: Sequence[ManualReading],
) -> RoundStep:
    words = bench.settings.words
    place = replace(named.place, shown_in=words.length_in)
    channel = _read_at(status.station, place).name
    here = [one for one in readings if one.channel.name == channel]
    latest = max(here, key=lambda one: one.at_s, default=None)
    view = None
    set_aside = doubt = ""
    if latest is not None:
        estimate = manual.estimate(latest.channel, latest.values, latest.at_s, latest.reflected_c)
        wall = WallLimits(alert_c=status.alert_c, limit_c=status.limit_c)
        view = place_view(latest.channel, estimate, wall, words, bench.now_s())
        set_aside, doubt = _set_aside(latest, estimate)
    height_mm = place.height_mm
    return RoundStep(
        key=key,
        name=named.name,
        place=place,
        height="" if height_mm is None else f"{words.length_in.outside(height_mm):.10g}",
        view=view,
        reading=latest,
        set_aside=set_aside,
        doubt=doubt,
    )


def _read_at(station: str, place: Place) -> Channel:
    """The channel that readings there make up."""
    return ManualReading(
        at_s=0.0, entered_s=0.0, id="", station=station, place=place, values=()
    ).channel


def _set_aside(reading: ManualReading, estimate: Estimate) -> tuple[str, str]:
    """What of the values does not count and why; and why the rest may be doubted."""
    hits = manual.sorted_out(reading.channel, reading.values, reading.reflected_c)[1]
    written = ", ".join(f"{reading.typed_in.outside(one):.1f}" for one in hits)
    set_aside = _(
        "%(values)s set aside: far above the others, as where it saw the flame", values=written
    )
    doubt = ""
    if estimate.quality is not Quality.GOOD:
        doubt = (
            _("doubtful: fewer than 3 values count")
            if estimate.used < 3
            else _("doubtful: the values contradict one another")
        )
    return set_aside if hits else "", doubt


def _in_hand(
    record: RoundRecord | None, thermometer: ThermometerRecord | None, words: Words
) -> HandThermometer:
    if thermometer is None:
        return HandThermometer(unit=words.temperature_in.name)
    unit = thermometer.unit or words.temperature_in.name
    if thermometer.sensing != INFRARED:
        return HandThermometer(name=thermometer.name, unit=unit)
    emissivity = None if record is None else record.emissivity
    if emissivity is None:
        remark = _("not corrected: the finish that it sees is not recorded, or reflects too much")
        return HandThermometer(name=thermometer.name, unit=unit, remark=remark)
    return HandThermometer(
        name=thermometer.name,
        unit=unit,
        emissivity=emissivity,
        emissivity_set=thermometer.emissivity_set or 1.0,
    )
