"""[pure] How a trial was judged: by criterion, by what rule, against whose limit."""

from collections.abc import Iterator, Sequence

from logger.burn.evidence import BurnEvidence
from logger.decision.criteria import Criterion, Outcome
from logger.decision.trial_facts import TrialFacts
from logger.decision.verdict import Judgement
from logger.reports.blocks import Block, Grid, Heading, Paragraph
from logger.reports.burn_chapter import sentence
from logger.reports.si_beside import SiBeside
from logger.words import duration

_GRAVEST = (Outcome.FAIL, Outcome.UNDECIDED, Outcome.PASS)


def criterion_table(facts: TrialFacts) -> Grid:
    """Each criterion once, by the burn that decides it: the gravest, nearest to its limit."""
    words = SiBeside.of(facts.words)
    names = short_ids(facts.burns)
    rows = []
    for same in by_criterion(facts.verdict.judgements).values():
        one = gravest(same)
        rows.append(
            (
                one.criterion.title,
                one.outcome.value,
                names.get(one.burn, one.burn),
                figure(one.value, words),
                figure(one.limit, words),
            )
        )
    return Grid(head=("Criterion", "Outcome", "Burn", "Value", "Limit"), rows=tuple(rows))


def rule_blocks(facts: TrialFacts) -> Iterator[Block]:
    """Each criterion with its rule; passes in one line, everything else burn by burn."""
    names = short_ids(facts.burns)
    yield Heading(text="How it was judged")
    for criterion, same in by_criterion(facts.verdict.judgements).items():
        yield Heading(text=criterion.title, level=3)
        for one in same:
            if one.outcome is not Outcome.PASS:
                burn = names.get(one.burn, one.burn)
                yield Paragraph(
                    strong=f"Burn {burn}, {one.outcome.value}:", text=f"{sentence(one.reason)}."
                )
        passed = [one for one in same if one.outcome is Outcome.PASS]
        if passed:
            nearest = gravest(passed)
            yield Paragraph(
                strong=f"Pass in {listed([names.get(one.burn, one.burn) for one in passed])}.",
                text=f"Nearest to the limit, burn {names.get(nearest.burn, nearest.burn)}: "
                f"{nearest.reason}."
                if nearest.value is not None
                else f"{sentence(nearest.reason)}.",
            )
        yield Paragraph(text=f"{criterion.rule} {criterion.source}", faint=True)


def limit_blocks(facts: TrialFacts) -> Iterator[Block]:
    """The limits that stood, each with whose it is; sets that differ each by its burns."""
    words = SiBeside.of(facts.words)
    yield Heading(text="Limits, and whose they are")
    sets: dict[tuple[tuple[str, str, str], ...], list[str]] = {}
    for one in facts.burns:
        sets.setdefault(tuple(_limits(one, words)), []).append(one.burn.short_id)
    for rows, burns in sets.items():
        if len(sets) > 1:
            yield Paragraph(strong=f"{sentence(listed(burns))}:", text="")
        yield Grid(head=("Limit", "Value", "Origin"), rows=rows, widest=2)


def _limits(one: BurnEvidence, words: SiBeside) -> Iterator[tuple[str, str, str]]:
    limits, wall = one.limits, one.limits.of(one.burn.material)
    of = f"of {one.burn.material.value}" if one.burn.material else "of a vessel not stated"
    settings = "the bench's settings when it was lit: the maker's own"
    yield f"Outside {of}", words.temperature(wall.limit_c), settings
    yield "Alert before it", words.temperature(wall.alert_c), settings
    yield "Longest burn", duration(limits.burn_length_s), settings
    yield "Cool-down", duration(limits.cool_down_s), settings
    room = f"{words.temperature(limits.room_low_c)} to {words.temperature(limits.room_high_c)}"
    yield "Room of the test", room, settings


def by_criterion(judgements: Sequence[Judgement]) -> dict[Criterion, list[Judgement]]:
    """In the order in which they were applied."""
    found: dict[Criterion, list[Judgement]] = {}
    for one in judgements:
        found.setdefault(one.criterion, []).append(one)
    return found


def gravest(same: Sequence[Judgement]) -> Judgement:
    """The one of the worst outcome; of several the one nearest to its limit or over it."""
    return max(
        same, key=lambda one: (-_GRAVEST.index(one.outcome), (one.value or 0.0) - (one.limit or 0))
    )


def figure(value: float | None, words: SiBeside) -> str:
    """A figure of a judgement; empty where it has none."""
    return "" if value is None else words.temperature(value)


def short_ids(burns: Sequence[BurnEvidence]) -> dict[str, str]:
    """What people read for a burn, by its id."""
    return {one.burn.id: one.burn.short_id for one in burns}


def listed(burns: Sequence[str]) -> str:
    """Several burns in words; numbers in a row as from and to."""
    if len(burns) == 1:
        return f"burn {burns[0]}"
    numbers = [int(one) for one in burns if one.isascii() and one.isdigit()]
    if len(numbers) == len(burns) > 2 and numbers == [*range(numbers[0], numbers[-1] + 1)]:
        return f"burns {numbers[0]} to {numbers[-1]}"
    return f"burns {', '.join(burns[:-1])} and {burns[-1]}"
