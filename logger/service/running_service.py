"""A bench while it runs, as pages, the demonstration and tests reach it."""

import asyncio
import logging
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from logger.burn.entries import Corrected, Entry, Lit
from logger.burn.ledger import LedgerLine
from logger.clock import Clock
from logger.decision.check_candle import BenchCheck
from logger.decision.own_trials import OwnTrial
from logger.errors import DataError, Doubted, NotKnown, Refused, StoreError
from logger.hub import Hub
from logger.instruments.instrument_link import InstrumentLink
from logger.intake.entered import Entered
from logger.intake.shelf_bodies import RecordBody
from logger.intake.shelf_messages import RecordedMessage, recorded_message
from logger.pipeline import Pipeline
from logger.planning.maker_plan import MakerPlan
from logger.quantities import Channel, Estimate
from logger.reports.change_messages import JudgedLots
from logger.reports.comparison_messages import ComparisonMessage, comparison
from logger.reports.cost_messages import SeriesCostsMessage, series_costs
from logger.reports.curve_messages import CurveMessage
from logger.reports.curve_series import (
    CurveSeriesMessage,
    CurveSubject,
    SingleReadingsMessage,
    Span,
)
from logger.reports.document_files import FileForm, document_file, usual_paper
from logger.reports.document_pdf import PaperSize
from logger.reports.record_messages import BurnMessage
from logger.reports.verdict_messages import TrialMessage
from logger.service import comparing, curve_data, records, trial_report
from logger.service.all_trials import all_own_trials
from logger.service.bench_checks import checked_bench
from logger.service.bench_plans import maker_plan
from logger.service.burn_curve import curve_svg
from logger.service.core import bench_of
from logger.service.engine import Engine
from logger.service.lighting import with_records, with_records_again
from logger.service.lot_changes import judged_lots
from logger.service.page_access import PageAccess
from logger.service.trial_verdict import Judging
from logger.settings import Settings
from logger.store import shelf_rows
from logger.store.disk_space import SpaceWatch
from logger.store.recorder import Recorder
from logger.store.store import Store

log = logging.getLogger(__name__)

STORED_WITHIN_S = 10.0  # hours of estimates are read in well under this (our choice)
NO_RECORDS = (
    "the disk did not give the records of its trial and tester in time: vessel and material are "
    "as before, or not known"
)
LAST_HOUR_ALONE = (
    "the disk did not give what was measured since its corrected lighting in time: the hottest "
    "place is of the last hour, or what was known before"
)
RECORDS_WITHIN_S = 1.0  # a lighting waits no longer for a disk that hangs (our choice)


@dataclass(frozen=True, kw_only=True)
class Service:
    """A bench, running: what pages, the demonstration and tests reach it by."""

    settings: Settings
    clock: Clock
    page_access: PageAccess
    links: Sequence[InstrumentLink]
    hub: Hub
    pipeline: Pipeline
    engine: Engine
    store: Store
    recorder: Recorder
    judging: Judging
    disk_space: SpaceWatch
    _entering: asyncio.Lock = field(default_factory=asyncio.Lock)

    @property
    def url(self) -> str:
        """Where this machine reaches the page."""
        return self.page_access.url

    @property
    def data(self) -> Path:
        """Folder of the database."""
        return self.settings.bench.data

    def now_s(self) -> float:
        """Bench time."""
        return self.clock.now_s()

    def channel(self, name: str) -> Channel:
        """The channel of any estimate that was ever given out: configured, or read by hand."""
        return self.pipeline.channel(name)

    async def enter(self, entry: Entry, *, sure: bool = False) -> Entered:
        """Fold and save what a person entered; what was recorded, where its id came before.

        It counts once it is folded, before the disk is asked for anything.

        Raises Refused where it cannot be so, Doubted where it is improbable and nobody is `sure`,
        StoreError where it could not be saved.
        """
        stored = await self._stored_for(entry)
        if stored is None and isinstance(entry, Corrected):
            stored, entry = (), replace(entry, lacks=(LAST_HOUR_ALONE,))
        async with self._entering:  # two posts of one entry must not both find it new
            known = self.recorder.entry_seen(entry.id)
            self.pipeline.remember(entry, stored or ())
            entered = None if known else await self._fold(entry, sure=sure)
        await self.recorder.saved()
        if entered is None:
            return await asyncio.to_thread(records.entered_before, self.data, entry)
        return entered

    async def _fold(self, entry: Entry, *, sure: bool) -> Entered:
        entry = self.pipeline.resolved(entry)
        if isinstance(entry, Lit):
            entry = await self._with_records(entry)
        elif isinstance(entry, Corrected):
            entry = await self._with_records_again(entry)
        question = None if sure else self.pipeline.doubt(entry)
        if question is not None:
            raise Doubted(question)
        return await self.engine.enter(entry)

    async def _stored_for(self, entry: Entry) -> Sequence[Estimate] | None:
        """Estimates since the lighting that `entry` corrects; None where the disk gives none.

        Asked for before other entries must wait: on a disk that hangs an emergency counts at once.
        """
        try:
            otherwise = self.pipeline.lit_otherwise(self.pipeline.resolved(entry))
            if otherwise is None:
                return ()
            async with asyncio.timeout(STORED_WITHIN_S):
                await self.recorder.saved()
                return await asyncio.to_thread(records.sensed, self.data, *otherwise)
        except Refused:
            return ()  # said when it is folded, or answered as it was before
        except (StoreError, TimeoutError) as exc:
            why = str(exc) or "no answer"
            log.warning("a lighting is corrected with the figures of the last hour alone: %s", why)
            return None

    async def _with_records(self, entry: Lit) -> Lit:
        """With what its records say; without it where the disk does not give them in time."""
        reading = asyncio.to_thread(with_records, self.data, entry)
        try:
            return await asyncio.wait_for(reading, RECORDS_WITHIN_S)
        except (StoreError, DataError, TimeoutError) as exc:
            log.warning("%s is lit without its records: %s", entry.station, exc or "no answer")
            return replace(entry, lacks=(NO_RECORDS,))

    async def _with_records_again(self, entry: Corrected) -> Corrected:
        """A lighting corrected to another trial or tester, with what their records say."""
        lit = self.pipeline.lit_by_other_records(entry)
        if lit is None:
            return entry
        reading = asyncio.to_thread(with_records_again, self.data, entry, lit)
        try:
            return await asyncio.wait_for(reading, RECORDS_WITHIN_S)
        except (StoreError, DataError, TimeoutError) as exc:
            log.warning("%s is corrected without its records: %s", lit.station, exc or "no answer")
            return replace(entry, lacks=(*(entry.lacks or ()), NO_RECORDS))

    async def put_record(self, name: str, body: RecordBody) -> RecordedMessage:
        """Save the next version of a record; it counts once it is on the disk."""
        now_s = self.now_s()
        version, new = await self.store.change(lambda con: shelf_rows.enter(con, body, name, now_s))
        return recorded_message(version, new=new)

    def entered_at(self, station: str, burn_id: str | None = None) -> Sequence[LedgerLine]:
        """What was entered at the latest burn of a station, or at that one; in order of entry."""
        return self.pipeline.entered_at(station, burn_id)

    def short_id(self, id: str) -> str:
        """As much of an entry's id as a person must type."""
        return self.pipeline.short_id(id)

    def burn_message(self, burn: str) -> BurnMessage:
        """A stored burn as JSON. Raises NotKnown where there is no such burn."""
        return records.burn_message(self.data, burn)

    def record_html(self, burn: str) -> str:
        """The record of a burn as one page. Raises NotKnown where there is no such burn."""
        return records.record_html(self.data, burn)

    def report(self, trials: Sequence[str], form: FileForm, paper: PaperSize | None) -> bytes:
        """The record of a trial or a series as a file. Raises NotKnown where there is none."""
        made = trial_report.report(self.judging, self.settings, trials)
        return document_file(made, form, paper or usual_paper(self.settings.words))

    def care_card(self, trial: str, form: FileForm, paper: PaperSize | None) -> bytes:
        """The card of a trial as a file. Raises Refused where its verdict is not a pass."""
        made = trial_report.card(self.judging, self.settings, trial)
        return document_file(made, form, paper or usual_paper(self.settings.words))

    def curve_svg(self, burn: str, width: float) -> str:
        """The curve of a burn. Raises NotKnown where there is no such burn."""
        return curve_svg(self.data, burn, width=width)

    def curve_message(self, subject: CurveSubject) -> CurveMessage:
        """All of a chart but its series. Raises NotKnown, DataError."""
        bench = bench_of(self.settings)
        return curve_data.curve_message(self.data, subject, bench, self.now_s())

    def curve_series(
        self, subject: CurveSubject, channels: Collection[str], span_s: Span, points: int
    ) -> CurveSeriesMessage:
        """Its places, or those of `channels`. Raises NotKnown, DataError."""
        bench = bench_of(self.settings)
        return curve_data.curve_series(
            self.data, subject, bench, channels=channels, span_s=span_s, points=points
        )

    def curve_readings(
        self, subject: CurveSubject, channels: Collection[str], span_s: Span
    ) -> SingleReadingsMessage:
        """Single readings of `channels`. Raises NotKnown, DataError."""
        bench = bench_of(self.settings)
        return curve_data.readings_one_by_one(
            self.data, subject, bench, channels=channels, span_s=span_s
        )

    def wall_svg(self, burn: str) -> str:
        """Which parts of the wall were measured. Raises NotKnown where nothing can be drawn."""
        return records.wall_svg(self.data, burn)

    def comparison(self, trials: Sequence[str]) -> ComparisonMessage:
        """Trials side by side. Raises NotKnown, DataError."""
        found = comparing.compared(self.judging, trials, self.settings.words)
        return comparison(found, self.settings.words)

    def comparison_svg(self, trials: Sequence[str], width: float) -> str:
        """Their curves in one drawing. Raises NotKnown, DataError."""
        words = self.settings.words
        found = comparing.compared(self.judging, trials, words)
        svg = comparing.together_svg(self.judging, found, words, width=width)
        if not svg:
            raise NotKnown("no place on a vessel of these trials was measured")
        return svg

    def client_page(self, trials: Sequence[str], units: str) -> str:
        """Trials side by side for a client. Raises NotKnown, DataError."""
        return comparing.client_page(self.judging, trials, units, self.settings.bench)

    def costs(self, trials: Sequence[str]) -> SeriesCostsMessage:
        """What trials cost. Raises NotKnown, DataError."""
        return series_costs(comparing.costs_of(self.judging, trials))

    def verdict(self, trial: str) -> TrialMessage:
        """The verdict of a trial as JSON. Raises NotKnown where there is no such trial."""
        return self.judging.message(trial)

    def plan(self) -> MakerPlan:
        """Who burns what, where and when, from now on."""
        return maker_plan(self.settings, self.judging, self.now_s())

    def judged_lots(self) -> Sequence[JudgedLots]:
        """Verdicts with the lots that they rest on."""
        return judged_lots(self.settings, self.judging)

    def bench_check(self) -> BenchCheck:
        """What the check candle tells of bench and probes."""
        return checked_bench(self.judging, self.settings.words)

    def own_trials(self) -> Sequence[OwnTrial]:
        """What every trial so far showed."""
        return all_own_trials(self.judging)
