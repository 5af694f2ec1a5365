"""The record of a trial or a series out of the store; every function here blocks.

Burn by burn: no more than one burn's estimates are in memory at a time.
"""

import hashlib
from array import array
from collections.abc import Iterator, Sequence
from dataclasses import replace

from logger.burn.entries import Withdrawn
from logger.burn.model import Burn
from logger.decision.comparison import compare
from logger.decision.costs import costs
from logger.decision.outlook import outlook
from logger.decision.trial_facts import TrialFacts
from logger.errors import DataError
from logger.reports.blocks import Document
from logger.reports.burn_chapter import BurnChapter, chapter
from logger.reports.burn_times import BurnTimes
from logger.reports.care_card import care_card
from logger.reports.series_blocks import SideBySide
from logger.reports.si_beside import SiBeside
from logger.reports.trial_document import (
    Handover,
    ReportedTrial,
    WithdrawnBurn,
    series_document,
    trial_document,
)
from logger.service import comparing, records
from logger.service.burn_story import BurnStory, zone_of
from logger.service.core import VERSION
from logger.service.facts import trial_facts
from logger.service.trial_verdict import Judging
from logger.settings import Settings
from logger.store.codec import dump
from logger.store.queries import Reader, open_read
from logger.timestamps import rfc3339


def report(judging: Judging, settings: Settings, names: Sequence[str]) -> Document:
    """The record of the trials `names`; of several that of a series.

    Raises NotKnown where neither a burn nor a record has such a name, DataError for too many.
    """
    if len(names) > comparing.MOST:
        raise DataError(f"trial: name 1 to {comparing.MOST} of them")
    checked = _Checksum()
    found = [
        _reported(judging, trial_facts(judging, name), checked) for name in dict.fromkeys(names)
    ]
    made = Handover(
        bench=settings.bench.name,
        maker=settings.bench.maker or "",
        version=VERSION,
        checksum=checked.value,
        known_s=checked.known_s,
        known=_written(checked.known_s) if checked.known_s else "",
    )
    if len(found) == 1:
        return trial_document(found[0], made)
    return series_document(found, _side_by_side(judging, settings, found), made)


def _side_by_side(
    judging: Judging, settings: Settings, trials: Sequence[ReportedTrial]
) -> SideBySide:
    facts = [one.facts for one in trials]
    compared = compare(facts, settings.words)
    wide, narrow = (
        comparing.together_svg(judging, compared, settings.words, width=width, name=name)
        for width, name in ((960.0, "together"), (360.0, "together-narrow"))
    )
    words = SiBeside.of(settings.words)
    return SideBySide(found=compared, costs=costs(facts), words=words, wide=wide, narrow=narrow)


def card(judging: Judging, settings: Settings, name: str) -> Document:
    """The care card of a trial. Raises NotKnown, and Refused where its verdict is not a pass."""
    facts = trial_facts(judging, name)
    until_s = max((one.until_s for one in facts.burns), default=0.0)
    foot = f"Made by wickbench {VERSION} from the verdict on {name}"
    return care_card(facts, settings.bench.maker or "", foot, until_s)


def _written(at_s: float) -> str:
    return rfc3339(at_s, digits=0).replace("T", " ").replace("Z", " UTC")


class _Checksum:
    """Of all that was stored of what is reported: the same data give the same."""

    def __init__(self) -> None:
        self.known_s = 0.0  # up to when anything of it is known
        self._sum = hashlib.sha256()

    @property
    def value(self) -> str:
        """As people compare it."""
        return self._sum.hexdigest()

    def add(self, *values: object) -> None:
        """Values of the domain, in the terms in which they are stored."""
        for one in values:
            if one is not None:
                self._sum.update(dump(one).encode())

    def add_story(self, story: BurnStory, photos: Sequence[bytes]) -> None:
        """A burn with its settings, entries, events and estimates."""
        self.known_s = max(self.known_s, story.known_s)
        self.add(story.burn, *story.entries, *story.events)
        self._sum.update(story.settings_text.encode())
        for one in story.series:
            found = array("d")
            for e in one.estimates:
                figures = (e.value, e.standard_uncertainty)
                found.append(e.at_s)
                found.extend(float("nan") if figure is None else figure for figure in figures)
            self._sum.update(one.channel.name.encode())
            self._sum.update(found.tobytes())
        for jpeg in photos:
            self._sum.update(jpeg)


def _reported(judging: Judging, facts: TrialFacts, checked: _Checksum) -> ReportedTrial:
    shelf = (facts.record, facts.formula, facts.vessel, facts.wicking, facts.wick)
    checked.add(*shelf, *facts.pours, *facts.testers)
    burns = [one.burn for one in facts.burns]
    with open_read(judging.data) as reader:
        chapters = tuple(_chapter(reader, burn, checked) for burn in burns)
        withdrawn = tuple(_withdrawn(reader, facts.name, checked))
    if not burns:
        return ReportedTrial(facts=facts, withdrawn=withdrawn)
    latest = facts.burns[-1]
    limit_c = latest.limits.of(latest.burn.material).limit_c
    days = dict.fromkeys((chapters[0].day, chapters[-1].day))
    return ReportedTrial(
        facts=facts,
        chapters=chapters,
        withdrawn=withdrawn,
        outlook=outlook(burns, facts.words, limit_c=limit_c).text,
        days=" to ".join(days),
    )


def _chapter(reader: Reader, burn: Burn, checked: _Checksum) -> BurnChapter:
    story = records.story_of(reader, burn)
    photos, missing = records.photos_of(reader, burn)
    checked.add_story(story, [one.jpeg for one in photos])
    bench = replace(story.bench, words=SiBeside.of(story.bench.words))
    record = replace(story, bench=bench).record(
        records.of_candles(reader, [burn]), damage=(*reader.damage.lines, *missing)
    )
    return chapter(replace(record, photos=photos))


def _withdrawn(reader: Reader, trial: str, checked: _Checksum) -> Iterator[WithdrawnBurn]:
    for burn in reader.burns(trial):
        if not burn.withdrawn:
            continue
        checked.add(burn)
        at = BurnTimes(lit_s=burn.lit_s, zone=zone_of(burn))
        changes = [one for line in reader.ledger(burn).lines for one in line.changes]
        last = next((one for one in reversed(changes) if isinstance(one, Withdrawn)), None)
        yield WithdrawnBurn(
            name=burn.short_id,
            lit=f"{at.day(burn.lit_s)}, {at.clock(burn.lit_s)}",
            by="" if last is None else last.by,
            why="not known" if last is None else last.why,
        )
