"""[pure] How a trial was judged: by criterion, by what rule, against whose limit."""

from collections.abc import Iterator, Sequence

from logger.burn.evidence import BurnEvidence
from logger.decision.criteria import Criterion, Judgement, Outcome
from logger.decision.trial_facts import TrialFacts
from logger.reports.blocks import EVEN, Block, Grid, Heading, Paragraph
from logger.reports.judged_figures import asked, figure
from logger.reports.si_beside import SiBeside
from logger.words import duration, sentence

OUTCOME_WORDS = {
    Outcome.PASS: "Pass",
    Outcome.FAIL: "Fail",
    Outcome.UNDECIDED: "Undecided",
    Outcome.WORTH_MAKING: "Worth making",
}
_GRAVEST = (Outcome.FAIL, Outcome.UNDECIDED, Outcome.WORTH_MAKING, Outcome.PASS)


def criterion_table(facts: TrialFacts) -> Grid:
    """Each criterion once, by the burn that it rests on."""
    words = SiBeside.of(facts.words)
    names = short_ids(facts.burns)
    rows = []
    for criterion, outcome, one in _outcomes(facts):
        found = ("", "", "")
        if one is not None:
            found = (
                names.get(one.burn, one.burn),
                figure(one.value, one, words),
                asked(one, words),
            )
        rows.append((criterion.title, outcome.value, *found))
    return Grid(head=("Criterion", "Outcome", "Burn", "Value", "Limit"), rows=tuple(rows))


def _outcomes(facts: TrialFacts) -> Iterator[tuple[Criterion, Outcome, Judgement | None]]:
    """As the trial's own rule has them; else by the gravest of each."""
    for of_trial in facts.verdict.criteria:
        yield of_trial.criterion, of_trial.outcome, of_trial.judgement
    if not facts.verdict.criteria:
        for criterion, same in by_criterion(facts.verdict.judgements).items():
            one = gravest(same)
            yield criterion, one.outcome, one


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
    """The limits that stood, each with whose it is; the burns where they differed."""
    words = SiBeside.of(facts.words)
    names = short_ids(facts.burns)
    found: dict[tuple[str, str, str], list[str]] = {}
    for one in facts.verdict.judgements:
        if said := asked(one, words):
            origin = one.origin or "the bench's settings when it was lit"
            found.setdefault((one.criterion.title, said, origin), []).append(names[one.burn])
    for burn in facts.burns:
        for row in _of_bench(burn, words):
            found.setdefault((*row, _SETTINGS), []).append(burn.burn.short_id)
    yield Heading(text="Limits, and whose they are")
    yield Grid(
        head=("Limit", "Value", "Origin", "Burns"),
        rows=tuple((*row, listed([*dict.fromkeys(burns)])) for row, burns in found.items()),
        widest=EVEN,
    )


_SETTINGS = "the bench's settings when it was lit"


def _of_bench(one: BurnEvidence, words: SiBeside) -> Iterator[tuple[str, str]]:
    limits, wall = one.limits, one.limits.of(one.burn.material)
    yield "Alert before the limit of the vessel", words.temperature(wall.alert_c)
    yield "Longest burn", duration(limits.burn_length_s)
    yield "Cool-down", duration(limits.cool_down_s)
    room = f"{words.temperature(limits.room_low_c)} to {words.temperature(limits.room_high_c)}"
    yield "Room of the test", room


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
