"""What the web side needs of a running bench; the service offers it."""

from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Protocol

from logger.burn.entries import Entry
from logger.burn.ledger import LedgerLine
from logger.decision.check_candle import BenchCheck
from logger.decision.own_trials import OwnTrial
from logger.hub import Hub
from logger.instruments.instrument_link import InstrumentLink
from logger.intake.entered import Entered
from logger.intake.shelf_bodies import RecordBody
from logger.intake.shelf_messages import RecordedMessage
from logger.planning.maker_plan import MakerPlan
from logger.quantities import Channel
from logger.reports.change_messages import JudgedLots
from logger.reports.comparison_messages import ComparisonMessage
from logger.reports.cost_messages import SeriesCostsMessage
from logger.reports.curve_messages import CurveMessage
from logger.reports.curve_series import (
    CurveSeriesMessage,
    CurveSubject,
    SingleReadingsMessage,
    Span,
)
from logger.reports.document_files import FileForm
from logger.reports.document_pdf import PaperSize
from logger.reports.record_messages import BurnMessage
from logger.reports.verdict_messages import TrialMessage
from logger.settings import Settings
from logger.store.disk_space import SpaceWatch


class BenchService(Protocol):
    """A bench, running."""

    @property
    def settings(self) -> Settings:
        """The configuration in force."""
        ...

    @property
    def hub(self) -> Hub:
        """The latest of everything."""
        ...

    @property
    def links(self) -> Sequence[InstrumentLink]:
        """Health of each instrument."""
        ...

    @property
    def data(self) -> Path:
        """Folder of the database, for read-only queries."""
        ...

    @property
    def disk_space(self) -> SpaceWatch:
        """The room on the disk."""
        ...

    def channel(self, name: str) -> Channel:
        """The channel of any estimate that was ever given out: configured, or read by hand."""
        ...

    def now_s(self) -> float:
        """Bench time."""
        ...

    async def enter(self, entry: Entry, *, sure: bool = False) -> Entered:
        """Fold and save an entry; what was recorded where its id was entered before.

        Raises Refused where it cannot be so, Doubted where it is improbable, StoreError where
        it could not be saved.
        """
        ...

    async def put_record(self, name: str, body: RecordBody) -> RecordedMessage:
        """Save the next version of a record; what was saved where its id was sent before.

        Raises Refused, NotKnown or DataError where it cannot be so, StoreError where it could not
        be saved.
        """
        ...

    def entered_at(self, station: str, burn_id: str | None = None) -> Sequence[LedgerLine]:
        """What was entered at the latest burn of a station, or at that one; in order of entry."""
        ...

    def short_id(self, id: str) -> str:
        """As much of an entry's id as a person must type."""
        ...

    def burn_message(self, burn: str) -> BurnMessage:
        """A stored burn as JSON; blocks. Raises NotKnown where there is no such burn."""
        ...

    def record_html(self, burn: str) -> str:
        """The record of a burn; blocks, so call it on a thread. Raises NotKnown without one."""
        ...

    def verdict(self, trial: str) -> TrialMessage:
        """The verdict of a trial as JSON; blocks. Raises NotKnown without such a trial."""
        ...

    def report(self, trials: Sequence[str], form: FileForm, paper: PaperSize | None) -> bytes:
        """The record of a trial or a series as a file; blocks. Raises NotKnown without one."""
        ...

    def care_card(self, trial: str, form: FileForm, paper: PaperSize | None) -> bytes:
        """The card of a trial as a file; blocks. Raises Refused where it did not pass."""
        ...

    def comparison(self, trials: Sequence[str]) -> ComparisonMessage:
        """Trials side by side; blocks. Raises NotKnown, DataError."""
        ...

    def comparison_svg(self, trials: Sequence[str], width: float) -> str:
        """Their curves in one drawing; blocks. Raises NotKnown, DataError."""
        ...

    def client_page(self, trials: Sequence[str], units: str) -> str:
        """Trials side by side for a client; blocks. Raises NotKnown, DataError."""
        ...

    def costs(self, trials: Sequence[str]) -> SeriesCostsMessage:
        """What trials cost; blocks. Raises NotKnown, DataError."""
        ...

    def curve_svg(self, burn: str, width: float) -> str:
        """The curve of a burn as SVG; blocks. Raises NotKnown where there is no such burn."""
        ...

    def curve_message(self, subject: CurveSubject) -> CurveMessage:
        """All of a chart but its series; blocks. Raises NotKnown, DataError."""
        ...

    def curve_series(
        self, subject: CurveSubject, channels: Collection[str], span_s: Span, points: int
    ) -> CurveSeriesMessage:
        """Its places, or those of `channels`; blocks. Raises NotKnown, DataError."""
        ...

    def curve_readings(
        self, subject: CurveSubject, channels: Collection[str], span_s: Span
    ) -> SingleReadingsMessage:
        """Single readings of `channels`; blocks. Raises NotKnown, DataError."""
        ...

    def wall_svg(self, burn: str) -> str:
        """The wall of a burn's vessel as SVG; blocks. Raises NotKnown where none can be drawn."""
        ...

    def plan(self) -> MakerPlan:
        """Who burns what, where and when, from now on; blocks."""
        ...

    def judged_lots(self) -> Sequence[JudgedLots]:
        """Verdicts with the lots that they rest on; blocks."""
        ...

    def bench_check(self) -> BenchCheck:
        """What the check candle tells of bench and probes; blocks."""
        ...

    def own_trials(self) -> Sequence[OwnTrial]:
        """What every trial so far showed; blocks."""
        ...
