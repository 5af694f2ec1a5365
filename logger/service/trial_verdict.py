"""The verdict on a trial; every function here blocks.

What a burn amounts to is kept: once it is out and cold nothing of it changes but what people enter.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from logger.burn.entries import ManualReading
from logger.burn.evidence import BurnEvidence
from logger.burn.model import Burn
from logger.decision.outlook import outlook
from logger.decision.verdict import Verdict, judge
from logger.pipeline import Event
from logger.reports.verdict_messages import TrialMessage, trial_verdict
from logger.service import records
from logger.service.burn_story import to_s
from logger.store.queries import Reader, open_read

MOST_KEPT = 1000  # burns, of some kilobytes each; the oldest asked for go first


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    burn: Burn
    read_here: Sequence[ManualReading]
    events: Sequence[Event]
    known_s: float
    evidence: BurnEvidence


class Judging:
    """Verdicts of the bench in one data folder; may be asked from several threads."""

    def __init__(self, data: Path) -> None:
        self.data = data
        self._kept: dict[str, _Kept] = {}

    def verdict(self, trial: str) -> Verdict:
        """On all burns of a trial so far. Raises NotKnown where there is no such trial."""
        with open_read(self.data) as reader:
            return self._verdict(reader, records.burns_of(reader, trial))

    def message(self, trial: str) -> TrialMessage:
        """The verdict as JSON, and what is to be expected of the burns to come."""
        with open_read(self.data) as reader:
            burns = records.burns_of(reader, trial)
            verdict = self._verdict(reader, burns)
            latest = burns[-1]
            bench, _ = records.bench_and_text(reader, latest)
        limits = latest.limits or bench.limits
        coming = outlook(burns, bench.words, limit_c=limits.of(latest.material).limit_c)
        return trial_verdict(trial, burns, verdict, coming)

    def _verdict(self, reader: Reader, burns: Sequence[Burn]) -> Verdict:
        bench, _ = records.bench_and_text(reader, burns[-1])
        return judge([self.evidence(reader, burn) for burn in burns], bench.words)

    def evidence(self, reader: Reader, burn: Burn) -> BurnEvidence:
        """What a burn is judged on."""
        read_here = reader.by_hand(burn)
        kept = self._kept.get(burn.id)
        if (
            kept is not None
            and (kept.burn, kept.read_here) == (burn, read_here)
            and kept.events == records.events_of(reader, burn, kept.known_s)
        ):
            return kept.evidence
        kept = _read(reader, burn, read_here)
        end_s = to_s(burn)
        if end_s is not None and reader.estimates_reach(end_s):
            self._kept[burn.id] = kept
            while len(self._kept) > MOST_KEPT:
                self._kept.pop(next(iter(self._kept)), None)
        return kept.evidence


def _read(reader: Reader, burn: Burn, read_here: Sequence[ManualReading]) -> _Kept:
    """What a burn is judged on; the same as its record says."""
    story = records.story_of(reader, burn)
    return _Kept(
        burn=burn,
        read_here=read_here,
        events=story.events,
        known_s=story.known_s,
        evidence=story.evidence,
    )
