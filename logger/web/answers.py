"""What the JSON side hands out, for its description: the shapes that `messages` and `views` make.

Nothing is built from these; a test holds what the running bench says against them.
"""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from logger.alarms.lifecycle import AlarmState, Priority
from logger.burn.criteria import Outcome
from logger.burn.entries import Danger
from logger.burn.limits import Material
from logger.burn.model import BurnPhase
from logger.instruments.instrument_link import LinkState
from logger.quantities import Position, Quality, Quantity


class Answer(BaseModel):
    """Base: every member is always there, null for nothing yet."""

    model_config = ConfigDict(extra="forbid")


class Problem(BaseModel):
    """What is wrong and what to mend (RFC 9457); `type` is left out, for about:blank."""

    title: str = Field(description="the status in words")
    status: int
    detail: str = Field(description="one line for the person who asked")
    question: str = Field(
        default="", description="where the entry is only improbable: its yes is `sure`"
    )


class EnteredAnswer(Answer):
    """An entry, as it was recorded."""

    id: str = Field(description="of the entry, as it was sent")
    at: str = Field(description="when it happened, RFC 3339")
    entered: str = Field(description="when it was typed, RFC 3339")
    burn: str | None = Field(description="the burn it belongs to, or that it began, if any")
    text: str = Field(description="what came of it, in a line")
    new: bool = Field(description="false where this id was entered before: nothing was added")


class EnteredByHand(EnteredAnswer):
    """Values typed in one go, as they were recorded, and what they amount to."""

    channel: str = Field(description="that this place makes up")
    value: float = Field(description="average of the used ones, corrected")
    unit: str = Field(description="that they were typed in")
    standard_uncertainty: float
    used: list[float] = Field(description="as typed")
    set_aside: list[float] = Field(description="as typed: far above the rest, as of a flame")
    quality: Quality


class HottestAnswer(Answer):
    """The hottest measured place."""

    channel: str
    place: str
    value: float
    unit: str
    standard_uncertainty: float
    accuracy_assumed: bool
    time: str


class StationNow(Answer):
    """A station: lit and out are what a person last confirmed."""

    time: str
    station: str
    state: BurnPhase
    burn: str | None
    trial: str | None
    lit: str | None
    out: str | None
    elapsed_s: float | None
    remaining_s: float | None = Field(description="to the longest burn; below zero when over")
    alert_c: float
    limit_c: float
    hottest_measured: HottestAnswer | None
    margin_k: float | None = Field(description="from the value plus twice its uncertainty")
    automatic: bool = Field(description="whether an instrument reads this vessel")


class EstimateAnswer(Answer):
    """What a channel is now, with its uncertainty."""

    kind: str
    time: str
    channel: str
    value: float | None
    unit: str
    standard_uncertainty: float | None
    repeatability: float | None
    used: int
    rejected: int
    quality: Quality
    accuracy_assumed: bool = Field(
        description="the accuracy in it is its kind's usual limit of error: none was stated, and "
        "no calibration is in force"
    )


class ForecastAnswer(Answer):
    """Where a place will be at the end of its burn."""

    kind: str
    time: str
    channel: str
    at: str = Field(description="of what it is said, RFC 3339")
    value: float
    low: float
    high: float
    level: float = Field(description="how probably it lies between low and high")
    unit: str


class ChannelNow(Answer):
    """A channel: where it looks, its latest estimate and where it is going."""

    name: str
    instrument: str
    station: str | None
    quantity: Quantity
    place: Position
    height_mm: float | None
    clock: int | None
    words: str
    estimate: EstimateAnswer | None
    forecast: ForecastAnswer | None


class AlarmNow(Answer):
    """An alarm that is not normal."""

    alarm: str = Field(description="the id that it is acknowledged by")
    since: str
    rule: str
    station: str | None
    channel: str | None
    priority: Priority
    state: AlarmState
    value: float | None
    limit: float | None
    unit: str | None
    expected: str | None = Field(description="when what is predicted comes, RFC 3339")
    text: str
    burn: str | None
    acknowledged: str | None = Field(description="when, RFC 3339")
    acknowledged_by: str | None
    acknowledged_where: str | None
    shelved_until: str | None


class RefusalsAnswer(Answer):
    """What an instrument sent and could not be read, of one kind."""

    channel: str | None
    reason: str
    count: int
    excerpt: str = Field(description="of the latest")
    time: str


class InstrumentNow(Answer):
    """An instrument's health."""

    name: str
    state: LinkState
    reason: str
    since: str
    readings: int
    dropped: int
    reconnects: int
    battery_percent: int | None
    signal_dbm: int | None
    refused: list[RefusalsAnswer]


class ForwardingNow(Answer):
    """How far a time-series engine has what is stored."""

    engine: str
    behind_s: float = Field(description="age of the oldest point that it does not have; 0: none")
    waiting: int = Field(description="points that it does not have")
    set_aside: int = Field(description="points that it refused for themselves")
    refused: str | None = Field(description="the latest of those, and why")
    trouble: str | None = Field(description="why the latest try failed, and what to do")
    text: str = Field(description="all of it in a line")


class Now(Answer):
    """Everything that the page shows."""

    time: str
    bench: str
    show: dict[str, str]
    stations: list[StationNow]
    channels: list[ChannelNow]
    alarms: list[AlarmNow]
    instruments: list[InstrumentNow]
    forwarding: ForwardingNow | None = Field(description="null where no engine is configured")


class SeriesAnswer(Answer):
    """A channel's estimates, lowest and highest of each bucket of time; a gap is null."""

    model_config = ConfigDict(extra="forbid", populate_by_name=True)

    channel: str
    unit: str
    from_: str = Field(alias="from")
    to: str
    times_s: list[float] = Field(description="the beginning of each bucket, Unix seconds")
    min: list[float | None]
    max: list[float | None]


class WarmestRoom(Answer):
    """What a measured figure means for a warmer room; it never lowers it."""

    room: float
    bound: float = Field(description="at most, its expanded uncertainty included")
    unit: str
    stays_under: bool | None = Field(description="the limit, where one stands for it")


class JudgementAnswer(Answer):
    """One criterion on one burn."""

    criterion: str
    burn: str
    outcome: Outcome
    reason: str
    value: float | None
    limit: float | None
    unit: str | None
    warmest_room: WarmestRoom | None
    source: str


class GapAnswer(Answer):
    """What was not measured."""

    text: str
    decides: bool = Field(description="whether the verdict hangs on it")
    burn: str | None


class VerdictAnswer(Answer):
    """How it is judged, and why."""

    outcome: Outcome
    judgements: list[JudgementAnswer]
    missing: list[GapAnswer]


class LastQuarterAnswer(Answer):
    """The peak to expect of the last quarter of the wax."""

    value: float
    low: float
    high: float
    level: float = Field(description="how probably it lies between low and high")
    unit: str
    burns: int = Field(description="that it rests on")


class TrialVerdict(VerdictAnswer):
    """The verdict on all burns of a trial so far."""

    trial: str
    burns: list[str]
    outlook: str = Field(description="what is to be expected of the burns to come, in words")
    last_quarter: LastQuarterAnswer | None


class WarmUpAnswer(Answer):
    """A place's way to its plateau, of two time constants."""

    rise_k: float = Field(description="at the plateau")
    standard_uncertainty_k: float
    above_room: bool = Field(description="else above its own first value")
    plateau_c: float
    settled: bool = Field(description="whether the plateau was seen rather than foretold")
    fast_s: float
    slow_s: float


class PlaceHeatAnswer(Answer):
    """What a place did in a burn; null where it is not on the vessel or not known."""

    channel: str
    place: str
    warm_up: WarmUpAnswer | None
    over_alert_s: float | None
    over_limit_s: float | None
    warmest_room: WarmestRoom | None
    budget: dict[str, float] | None = Field(
        description="standard uncertainty by its cause, of the highest estimate"
    )


class LinkInBurn(Answer):
    """How an instrument kept in touch over the burn; null where it tells nothing of the kind."""

    instrument: str
    reconnects: int
    weakest_dbm: int | None
    battery_percent: int | None


class Weighed(Answer):
    """What weighing the cold candle tells of a burn; null where it was not weighed."""

    before_g: float | None
    after_g: float | None
    used_g: float | None
    rate_g_per_h: float | None
    used_share: float | None = Field(
        description="of all its wax, gone half-way through the burn; null where the wax that was "
        "poured was never told"
    )


class EntryChange(Answer):
    """What changed an entry, and why."""

    change: Literal["corrected", "withdrawn", "moved"]
    entered: str
    by: str | None
    why: str


class BurnEntry(Answer):
    """What a person entered: as it was first, and as it counts."""

    id: str
    short_id: str = Field(description="enough of it to name it by")
    at: str
    entered: str
    by: str | None
    text: str = Field(description="as it was entered first")
    counts: str | None = Field(description="as it counts now; null where it was withdrawn")
    counts_at: str | None
    changes: list[EntryChange]


class BurnAnswer(Answer):
    """A burn as it is stored."""

    burn: str
    station: str
    trial: str
    tester: str | None
    material: Material | None
    lit: str
    out: str | None
    elapsed_s: float
    watched_by: list[str]
    danger: Danger | None
    withdrawn: bool = Field(description="its lighting was a mistake: there was no such burn")
    entries: list[BurnEntry]
    hottest_measured: HottestAnswer | None
    least_margin: HottestAnswer | None
    weighed: Weighed
    links: list[LinkInBurn]
    heat: list[PlaceHeatAnswer]
    verdict: VerdictAnswer
