"""How one instrument is doing: what page and `check` show, and what becomes news."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from logger.quantities import Health, Part

MOST_REASONS = 24  # noise can be refused in endless ways; past these they are counted together
OTHER_REASONS = "other reasons"
_LONGEST_TEXT = 240  # characters: a stable port name and a sentence about it
# Refusals with no reading between, so many and for so long, are news: one may be a cut line, and
# some firmware chats a little before each reading (our choice).
_REFUSED_IN_A_ROW = 3
_REFUSED_FOR_S = 5.0
_SIGNAL_STEP_DB = 6  # half the distance; less is news to nobody (our choice)


class LinkState(StrEnum):
    """Where an instrument stands."""

    CONNECTING = "connecting"  # being opened, or open and nothing readable has come of late
    UP = "up"
    DOWN = "down"  # tried again and again
    PARKED = "parked"  # not tried again until the service restarts


@dataclass(slots=True)
class Refusals:
    """What was not taken for one reason."""

    count: int
    excerpt: str  # of the latest; printable
    at_s: float  # the latest


@dataclass(slots=True)
class _Row:
    """Refusals with no reading between."""

    count: int
    since_s: float
    told: bool = False


class InstrumentLink:
    """Mutable, owned by the event loop. `now` gives bench time; `report` hears each change.

    What a driver does not take it hands to `refuse`, what it had no room for to `drop`; one that
    listens on while nothing comes calls `note_lost`. All else is for the supervisor.
    """

    def __init__(self, name: str, now: Callable[[], float]) -> None:
        self.name = name
        self.about = ""  # what the instrument says that it is
        self.state = LinkState.CONNECTING
        self.reason = "not opened yet"
        self.since_s = now()
        self.readings = 0
        self.last_reading_s: float | None = None
        self.dropped = 0  # came faster than they could be taken
        self.reconnects = 0  # times that readings came again after the link was lost
        self.battery_percent: int | None = None
        self.signal_dbm: int | None = None  # as last heard
        self.refused: dict[tuple[str | None, str], Refusals] = {}  # by channel and reason
        self.report: Callable[[Health], None] = _nobody
        self._told_dbm: int | None = None
        self._now = now
        self._row: _Row | None = None
        self._lost = ""  # why it last went down
        self._was_up = False  # before that

    @property
    def ok(self) -> bool:
        """Whether readings are coming."""
        return self.state is LinkState.UP

    def health(self) -> Health:
        """As it stands, for the pipeline."""
        return Health(
            part=Part.INSTRUMENT,
            name=self.name,
            ok=self.ok,
            reason=self.reason,
            at_s=self._now(),
            battery_percent=self.battery_percent,
            signal_dbm=self.signal_dbm,
            reconnects=self.reconnects,
        )

    def refused_count(self, channel: str | None = None) -> int:
        """How much was refused of `channel`; without it, of the whole instrument."""
        return sum(
            refusals.count
            for (named, _), refusals in self.refused.items()
            if channel is None or named == channel
        )

    def note_opened(self) -> None:
        """The port is open; that alone proves nothing."""
        self._row = None
        before = f"; before: {self._lost}" if self._lost else ""
        self._change(LinkState.CONNECTING, f"open, no reading yet{before}")

    def note_heard(self, at_s: float) -> None:
        """A reading came."""
        self.readings += 1
        self.last_reading_s = at_s
        self._row = None
        if self.state is not LinkState.UP:
            if self._was_up:
                self.reconnects += 1
            self._was_up = True
            self._change(LinkState.UP, "readings are coming")

    def refuse(self, reason: str, excerpt: str, channel: str | None = None) -> None:
        """Something came that is not a reading, of `channel` or of nobody in particular."""
        now_s = self._now()
        reason = shown(reason)
        key = (channel, reason)
        if key not in self.refused and len(self.refused) >= MOST_REASONS:
            key = (None, OTHER_REASONS)
        found = self.refused.setdefault(key, Refusals(0, "", now_s))
        found.count += 1
        found.excerpt = shown(excerpt)
        found.at_s = now_s
        if self._row is None:
            self._row = _Row(0, now_s)
        self._row.count += 1
        lasting = now_s - self._row.since_s >= _REFUSED_FOR_S
        if not self._row.told and lasting and self._row.count >= _REFUSED_IN_A_ROW:
            self._row.told = True
            about = reason if channel is None else f"{channel}: {reason}"
            self._change(LinkState.CONNECTING, f"open, but no reading can be made out: {about}")

    def drop(self) -> None:
        """Something came that there was no room for."""
        self.dropped += 1

    def note_battery(self, percent: int) -> None:
        """How full its battery is."""
        if percent != self.battery_percent:
            self.battery_percent = percent
            self.report(self.health())

    def note_signal(self, dbm: int) -> None:
        """How strongly it was heard."""
        self.signal_dbm = dbm
        if self._told_dbm is None or abs(dbm - self._told_dbm) >= _SIGNAL_STEP_DB:
            self._told_dbm = dbm
            self.report(self.health())

    def note_lost(self, reason: str) -> None:
        """Down; it will be tried again."""
        self._lost = shown(reason)
        self._change(LinkState.DOWN, self._lost)

    def park(self, reason: str) -> None:
        """Given up: trying again cannot help."""
        self._change(LinkState.PARKED, shown(reason))

    def _change(self, state: LinkState, reason: str) -> None:
        if (state, reason) == (self.state, self.reason):
            return
        self.state, self.reason, self.since_s = state, reason, self._now()
        self.report(self.health())


def shown(text: str) -> str:
    """`text` fit for a page, a terminal and a log: printable, one line, of bounded length."""
    head = text[:_LONGEST_TEXT]
    plain = "".join(sign if sign.isprintable() else ascii(sign)[1:-1] for sign in head)
    return plain if len(text) <= _LONGEST_TEXT else f"{plain}…"


def _nobody(_: Health) -> None:
    """Heard by nobody until the supervisor listens."""
