"""The verdict on a trial; every function here blocks.

What a burn amounts to is kept: once it is out and cold nothing of it changes but what people enter.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from logger.burn.consumption import Consumption, consumption, with_balance
from logger.burn.entries import ManualReading
from logger.burn.evidence import BurnEvidence
from logger.burn.model import Burn
from logger.decision.trial_facts import TrialFacts
from logger.decision.verdict import Verdict
from logger.pipeline import Event
from logger.quantities import Estimate
from logger.reports.verdict_messages import TrialMessage, trial_verdict
from logger.service import records
from logger.service.burn_story import to_s
from logger.service.facts import expected_of, trial_facts
from logger.service.known_sizes import sizes_to_begin
from logger.settings.criterion_keys import default_criteria
from logger.store.queries import Reader

MOST_KEPT = 1000  # burns, of some kilobytes each; the oldest asked for go first


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    burn: Burn
    read_here: Sequence[ManualReading]
    events: Sequence[Event]
    known_s: float
    evidence: BurnEvidence
    on_balance: tuple[Estimate, ...]


class Judging:
    """Verdicts of the bench in one data folder; may be asked from several threads."""

    def __init__(self, data: Path) -> None:
        self.data = data
        self._kept: dict[str, _Kept] = {}

    def verdict(self, trial: str) -> Verdict:
        """On all burns of a trial so far. Raises NotKnown where there is no such trial."""
        return self.facts(trial).verdict

    def facts(self, trial: str) -> TrialFacts:
        """All that is known of a trial. Raises as `verdict`."""
        facts = trial_facts(self, trial)
        if facts.burns:
            return facts
        sizes = sizes_to_begin(self, facts)
        return replace(facts, verdict=replace(facts.verdict, starting_sizes=sizes))

    def message(self, trial: str) -> TrialMessage:
        """The verdict as JSON, and what is to be expected of the burns to come."""
        facts = self.facts(trial)
        coming = expected_of(facts.burns, facts.words)
        burns = [one.burn for one in facts.burns]
        return trial_verdict(trial, burns, facts.verdict, coming, facts.words)

    def known(
        self, reader: Reader, burns: Sequence[Burn]
    ) -> tuple[tuple[BurnEvidence, ...], dict[str, Consumption]]:
        """What burns of a trial are judged on, and what weighing or a balance tells of each."""
        weighed = consumption(records.of_candles(reader, burns))
        known = [self._known(reader, burn) for burn in burns]
        return tuple(one.evidence for one in known), {
            one.burn.id: with_balance(weighed[one.burn.id], one.burn, one.on_balance)
            for one in known
        }

    def _known(self, reader: Reader, burn: Burn) -> _Kept:
        read_here = reader.by_hand(burn)
        kept = self._kept.get(burn.id)
        if (
            kept is not None
            and (kept.burn, kept.read_here) == (burn, read_here)
            and kept.events == records.events_of(reader, burn, kept.known_s)
        ):
            return kept
        kept = _read(reader, burn, read_here)
        end_s = to_s(burn)
        if end_s is not None and reader.estimates_reach(end_s):
            self._kept[burn.id] = kept
            while len(self._kept) > MOST_KEPT:
                self._kept.pop(next(iter(self._kept)), None)
        return kept


def _read(reader: Reader, burn: Burn, read_here: Sequence[ManualReading]) -> _Kept:
    """What a burn is judged on; one of before criteria had figures by those of now."""
    story = records.story_of(reader, burn)
    evidence = story.evidence
    if not evidence.criteria:
        evidence = replace(evidence, criteria=default_criteria())
    return _Kept(
        burn=burn,
        read_here=read_here,
        events=story.events,
        known_s=story.known_s,
        evidence=evidence,
        on_balance=story.on_balance,
    )
