"""[pure] The record of a trial, and of a series of them, as one document."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from logger.decision.criteria import Outcome
from logger.decision.next_step import NextStep
from logger.decision.trial_facts import TrialFacts
from logger.decision.verdict import Verdict
from logger.reports.blocks import (
    Block,
    Document,
    FactList,
    Grid,
    Heading,
    Items,
    Paragraph,
    VerdictBlock,
)
from logger.reports.burn_chapter import BurnChapter
from logger.reports.candle_facts import candle_facts, lots_line
from logger.reports.cautions import CAUTIONS, LABORATORY, WHAT_IT_IS_NOT
from logger.reports.life_tables import life_blocks, peak_facts
from logger.reports.measuring_blocks import instrument_blocks
from logger.reports.rule_blocks import (
    OUTCOME_WORDS,
    criterion_table,
    limit_blocks,
    listed,
    rule_blocks,
    short_ids,
)
from logger.reports.series_blocks import SideBySide, series_blocks
from logger.words import sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class WithdrawnBurn:
    """A burn whose lighting was taken back."""

    name: str
    lit: str
    by: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportedTrial:
    """A trial, each of its burns as it is printed, and those that count no more."""

    facts: TrialFacts
    chapters: tuple[BurnChapter, ...] = ()
    withdrawn: tuple[WithdrawnBurn, ...] = ()
    outlook: str = ""
    days: str = ""  # from the first burn to the last


@dataclass(frozen=True, slots=True, kw_only=True)
class Handover:
    """Who made it and for whom, and what it was made of."""

    bench: str
    maker: str = ""
    version: str
    checksum: str  # of all that was stored of it (SHA-256)
    known_s: float
    known: str  # the same for people; empty where nothing was burned

    @property
    def foot(self) -> str:
        """On every page."""
        stored = f"from what was stored up to {self.known}" if self.known else "before any burn"
        return (
            f"Made by wickbench {self.version} {stored}. Data checksum (SHA-256): {self.checksum}"
        )


def trial_document(reported: ReportedTrial, made: Handover) -> Document:
    """The record of one trial."""
    facts = reported.facts
    return Document(
        above=f"Record of a trial{f', {reported.days}' if reported.days else ''}",
        title=facts.name,
        subtitle=_subtitle([facts], made),
        blocks=(*_trial(reported), *_ending()),
        foot=made.foot,
        checksum=made.checksum,
        at_s=made.known_s,
    )


def series_document(
    trials: Sequence[ReportedTrial], together: SideBySide, made: Handover
) -> Document:
    """The record of several trials: side by side first, then each."""
    facts = [one.facts for one in trials]
    parts: list[Block] = []
    for one in trials:
        parts.append(Heading(text=f"Trial {one.facts.name}", level=1, new_page=True))
        if one.days:
            parts.append(Paragraph(text=one.days, faint=True))
        parts += _trial(one)
    return Document(
        above=f"Record of a series of {len(trials)} trials",
        title=", ".join(one.name for one in facts),
        subtitle=_subtitle(facts, made),
        blocks=(*series_blocks(together), *parts, *_ending()),
        foot=made.foot,
        checksum=made.checksum,
        at_s=made.known_s,
    )


def _subtitle(facts: Sequence[TrialFacts], made: Handover) -> str:
    said = f"Made by {made.maker}" if made.maker else "Made by a maker who is not named"
    clients = dict.fromkeys(one.record.client for one in facts if one.record and one.record.client)
    if clients:
        said += f", for {', '.join(clients)}"
    return f"{said}; bench {made.bench}"


def _trial(reported: ReportedTrial) -> Iterator[Block]:
    facts = reported.facts
    chapters = {one.burn: one for one in reported.chapters}
    yield from _verdict(reported)
    yield Heading(text="The candle")
    yield FactList(rows=tuple(candle_facts(facts)))
    if facts.burns:
        yield from life_blocks(facts, chapters)
    for one in reported.chapters:
        yield from one.blocks
    yield from _withdrawn(reported)
    if facts.burns:
        yield from instrument_blocks(facts, chapters)
        yield from rule_blocks(facts)
        yield from limit_blocks(facts)


def _verdict(reported: ReportedTrial) -> Iterator[Block]:
    facts, verdict = reported.facts, reported.facts.verdict
    lines = [f"{sentence(reason)}." for reason in _reasons(verdict)]
    if lots := "; ".join(verdict.lots) or lots_line(facts):
        lines.append(f"It holds for the lots that were burned: {lots}.")
    yield VerdictBlock(
        outcome=verdict.outcome, title=OUTCOME_WORDS[verdict.outcome], lines=tuple(lines)
    )
    if peaks := tuple(peak_facts(facts)):
        yield FactList(rows=peaks)
    if verdict.judgements:
        yield criterion_table(facts)
    for line in verdict.weaker:
        yield Paragraph(strong="Weaker evidence:", text=f"{sentence(line)}.")
    if verdict.missing:
        yield Heading(text="What is missing", level=3)
        yield Items(lines=tuple(_missing(facts)))
    if verdict.smallest_next_burn is not None:
        text = str(verdict.smallest_next_burn)
        yield Paragraph(strong="The smallest next burn that would decide it:", text=f"{text}.")
    if verdict.not_judged:
        yield Paragraph(strong="Not judged:", text=f"{'; '.join(verdict.not_judged)}.")
    if verdict.next_step is not None:
        yield from _next_step(verdict.next_step)
    if reported.outlook:
        yield Paragraph(strong="What is to come:", text=f"{reported.outlook}.")


def _next_step(found: NextStep) -> Iterator[Block]:
    wick = f" (wick {found.wick})" if found.wick else ""
    expected = f". {found.expected}" if found.expected else ""
    yield Paragraph(
        strong="What to try next:", text=f"{found.step.value}{wick}: {found.reason}{expected}."
    )
    for told, said in (("too large a wick", found.hot), ("too small a wick", found.cold)):
        burns: dict[str, list[str]] = {}
        for one in said:
            burns.setdefault(one.text, []).extend([one.burn] if one.burn else [])
        if burns:
            signs = (f"{text} ({listed(of)})" if of else text for text, of in burns.items())
            yield Paragraph(strong=f"Signs of {told}:", text=f"{'; '.join(signs)}.")


def _reasons(verdict: Verdict) -> list[str]:
    """Of all that failed, else of all that is undecided, else the first of what passed."""
    found = [
        one.judgement.reason
        for one in verdict.criteria
        if one.judgement is not None and one.outcome is verdict.outcome
    ]
    if not found and verdict.deciding is not None:
        found = [verdict.deciding.reason]
    return found if verdict.outcome is not Outcome.PASS else found[:1]


def _missing(facts: TrialFacts) -> Iterator[str]:
    """What decides first; the same of several burns once."""
    names = short_ids(facts.burns)
    same: dict[tuple[bool, str], list[str]] = {}
    for gap in sorted(facts.verdict.missing, key=lambda gap: not gap.decides):
        burns = same.setdefault((gap.decides, gap.text), [])
        if gap.burn is not None:
            burns.append(names.get(gap.burn, gap.burn))
    for (decides, text), burns in same.items():
        where = f"{sentence(listed(burns))}: {text}" if burns else text
        yield f"{where}.{' Needed for a pass.' if decides else ''}"


def _withdrawn(reported: ReportedTrial) -> Iterator[Block]:
    if not reported.withdrawn:
        return
    yield Heading(text="Withdrawn burns")
    yield Grid(
        head=("Burn", "Lit", "Withdrawn by", "Why"),
        rows=tuple(
            (one.name, one.lit, one.by or "nobody named", one.why) for one in reported.withdrawn
        ),
        widest=3,
    )
    yield Paragraph(text="Lit by mistake, as was said later: they count for nothing here.")


def _ending() -> Iterator[Block]:
    yield Heading(text="What this is not")
    yield Items(lines=WHAT_IT_IS_NOT)
    yield Paragraph(
        strong="A laboratory would apply, among others:",
        text=f"{'; '.join(LABORATORY)}. They are named, not claimed.",
    )
    yield Heading(text="Cautions")
    yield Items(lines=CAUTIONS)
