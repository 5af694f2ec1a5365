"""What a person does and sees at the bench, as it enters the pipeline and is recorded.

`at_s` is when it happened and may lie in the past; `entered_s` is when it was typed. `id` is made
by whoever sends it, so that the same entry sent twice counts once.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from logger.burn.expected import Expected
from logger.burn.limits import Material
from logger.burn.look import Look
from logger.burn.stated import Circumstances, Ending
from logger.conditioning.calibration import Calibration, Correction
from logger.quantities import BY_HAND, DEGC, Channel, Place, Position, Quantity, Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """Base: every entry has a time, a time of entry, an id and, if given, a name."""

    at_s: float
    entered_s: float
    id: str
    by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lit(Entry):
    """A person lit the candle on `station`, as a burn of `trial`."""

    station: str
    trial: str
    tester: str = ""  # the short code written on the vessel
    watched_by: str = ""
    checks: tuple[str, ...] | None = None  # what was confirmed before; None: not asked
    mass_g: float | None = None  # of the whole candle, weighed before
    wax_g: float | None = None  # of it: the wax that it was poured with
    # What its forecasts start from, by channel; empty: what the candle's earlier burns taught.
    expected: Mapping[str, Expected] = field(default_factory=dict)
    new_trial: bool = False  # a new one indeed, though one has nearly this name
    stated: Circumstances = Circumstances()
    # Of the records of its tester and trial, as they were when it was lit:
    vessel: str = ""
    wick: str = ""
    shared_pour: bool = False  # its tester serves several wicks in turn
    material: Material | None = None  # stands above that of the station
    inner_diameter_mm: float | None = None  # of the vessel at the fill line
    reason: str = ""  # why it is lit though its vessel is not cleared
    lacks: tuple[str, ...] = ()  # what a disk that did not answer in time left out, a line each
    hand_kept: str = ""  # the table it came in from, long after; empty: entered at the bench


@dataclass(frozen=True, slots=True, kw_only=True)
class Out(Entry):
    """A person saw that the candle on `station` is out."""

    station: str
    stated: Ending = Ending()


@dataclass(frozen=True, slots=True, kw_only=True)
class Note(Entry):
    """Words about what is seen at `station`."""

    station: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Observed(Entry):
    """A person looked at the candle of `station`, at a mark or at any time."""

    station: str
    look: Look
    text: str = ""
    mark_s: float | None = None  # seen at this time of being lit, until `at_s` says so


@dataclass(frozen=True, slots=True, kw_only=True)
class Photographed(Entry):
    """A person took a photo of the candle of `station`."""

    station: str
    photo: str  # name of its file
    text: str = ""
    at_candle: bool = False  # its camera says that it was taken then


@dataclass(frozen=True, slots=True, kw_only=True)
class WeighIn(Entry):
    """A person weighed the candle of `station`, with its vessel and cold."""

    station: str
    mass_g: float
    wax_g: float | None = None  # of it: the wax that it was poured with


@dataclass(frozen=True, slots=True, kw_only=True)
class ManualReading(Entry):
    """Values of one place, typed in one go; raw, in the internal unit of the quantity."""

    station: str
    place: Place
    values: tuple[float, ...]
    quantity: Quantity = Quantity.TEMPERATURE
    emissivity: float | None = None  # infrared thermometer: of the surface
    emissivity_set: float = 1.0  # what the thermometer assumed
    reflected_c: float | None = None
    accuracy: float | None = None  # of the thermometer, as its maker states; of its channel
    typed_in: Unit = DEGC  # the unit it was typed in, for answers
    where: str = ""  # page, terminal; empty: a program sent it

    @property
    def by_a_person(self) -> bool:
        """Whether somebody stood at the candle: a program may send what nobody looked at."""
        return bool(self.by or self.where)

    @property
    def channel(self) -> Channel:
        """The channel that manual readings of this place make up."""
        parts = [self.station, "hand", self.place.position.value]
        if self.place.height_mm is not None:
            parts.append(f"{self.place.height_mm:g}".replace(".", "-"))
        if self.place.clock is not None:
            parts.append(str(self.place.clock))
        return Channel(
            name="-".join(parts),
            instrument=BY_HAND,
            station=self.station,
            quantity=self.quantity,
            place=self.place,
            emissivity=self.emissivity,
            emissivity_set=self.emissivity_set,
            accuracy=self.accuracy,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved(Entry):
    """A reading was typed at the wrong jar: from now on it belongs to `station`."""

    reading: str  # id of the ManualReading, which stays as it was
    station: str

    @property
    def entry(self) -> str:
        """Id of the entry that it changes."""
        return self.reading


class Danger(StrEnum):
    """What only a person can see, and what ends the trial (sources: criteria)."""

    FLAME_TOO_HIGH = "flame-too-high"
    FLAME_ON_WALL = "flame-on-wall"
    FLASH_OVER = "flash-over"
    CRACK = "crack"
    OTHER = "other"

    @property
    def words(self) -> str:
        """As a person says it."""
        return {
            "flame-too-high": "the flame is too high",
            "flame-on-wall": "the flame touches the wall",
            "flash-over": "the pool burns (flash-over)",
            "crack": "the vessel is cracked",
            "other": "something else",
        }[self.value]


@dataclass(frozen=True, slots=True, kw_only=True)
class Emergency(Entry):
    """A person reports an emergency at `station`."""

    station: str
    what: Danger
    text: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected(Entry):
    """A person puts an earlier entry right: what is given counts instead, None stays as it was.

    The earlier entry itself stays as it was entered.
    """

    entry: str  # its id
    why: str
    happened_s: float | None = None  # when it was so: in place of its `at_s`
    station: str | None = None  # that a reading is of
    trial: str | None = None
    new_trial: bool = False
    tester: str | None = None
    watched_by: str | None = None
    mass_g: float | None = None
    wax_g: float | None = None
    text: str | None = None
    look: Look | None = None  # of it, what is given counts instead
    what: Danger | None = None
    figures: tuple[float, ...] | None = None  # of a reading, in `typed_in` or the unit it had
    typed_in: Unit | None = None  # alone: the figures are right, and are of this unit
    position: Position | None = None
    height_mm: float | None = None
    clock: int | None = None
    emissivity: float | None = None
    emissivity_set: float | None = None
    reflected_c: float | None = None
    stated: Mapping[str, str | float] = field(default_factory=dict)  # by attribute of `stated`
    # Of a lighting: what its other records say, as in Lit.
    vessel: str | None = None
    wick: str | None = None
    shared_pour: bool | None = None
    material: Material | None = None
    reason: str | None = None
    lacks: tuple[str, ...] | None = None
    emptied: tuple[str, ...] = ()  # names of fields as the earlier entry or its place has them


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawn(Entry):
    """A person takes an earlier entry back: it stays as it was entered, and counts no more."""

    entry: str  # its id
    why: str


Change = Moved | Corrected | Withdrawn


@dataclass(frozen=True, slots=True, kw_only=True)
class InSight(Entry):
    """A person says who has the candle in sight."""

    station: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Acknowledge(Entry):
    """A person has seen an alarm."""

    alarm: str  # rule/subject, see AlarmKey
    where: str = ""  # page, phone, terminal
    together: bool = False  # also the alarms that were told in the same line


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelve(Entry):
    """A person sets an alarm aside until `until_s`."""

    alarm: str
    until_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibrated(Entry):
    """A person compared `channel` with something better at `at_s`: from then on it is corrected."""

    channel: str
    quantity: Quantity  # that the correction is of
    reference: str  # against what
    method: str  # "offset", "ice and boiling", "11 points"
    correction: Correction

    @property
    def record(self) -> Calibration:
        """As conditioning takes it."""
        return Calibration(
            at_s=self.at_s, who=self.by, reference=self.reference, correction=self.correction
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Resumed(Entry):
    """The service came back: from `at_s` to `entered_s` nothing was watched."""

    length_known: bool = True  # False: it was longer, the clock had lost that time


@dataclass(frozen=True, slots=True, kw_only=True)
class Stopped(Entry):
    """The service was stopped: from now on nothing is watched."""


ENTRY_TYPES: dict[str, type[Entry]] = {
    kind.__name__: kind
    for kind in (
        Lit,
        Out,
        Note,
        Observed,
        Photographed,
        WeighIn,
        ManualReading,
        Moved,
        Corrected,
        Withdrawn,
        Emergency,
        InSight,
        Acknowledge,
        Shelve,
        Calibrated,
        Resumed,
        Stopped,
    )
}
