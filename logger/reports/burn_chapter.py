"""[pure] One burn within the record of its trial: all of it, a routine folded into one line."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from logger.alarms.lifecycle import Priority
from logger.burn.melt_pool import melt_pool_lines
from logger.burn.safety import unconfirmed
from logger.conditioning.uncertainty import Budget
from logger.quantities import Rule
from logger.reports import burn_blocks
from logger.reports.blocks import Block, FactList, Grid, Heading, Items, Paragraph
from logger.reports.burn_history import AlarmStory, times
from logger.reports.burn_times import BurnTimes
from logger.reports.deviations import deviations
from logger.reports.document import BurnRecord
from logger.reports.looks import look_lines
from logger.reports.si_beside import SiBeside
from logger.words import sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnChapter:
    """A burn as it is printed, and what the rest of the document takes of it."""

    burn: str
    day: str
    blocks: tuple[Block, ...]
    budgets: dict[str, Budget] = field(default_factory=dict)  # by channel, of its highest
    deviations: tuple[str, ...] = ()


def chapter(record: BurnRecord) -> BurnChapter:
    """What is printed of one burn."""
    at = BurnTimes(lit_s=record.burn.lit_s, zone=record.zone)
    title = f"Burn {record.burn.short_id}, {at.day(record.burn.lit_s)}"
    if record.burn.tester:
        title += f", tester {record.burn.tester}"
    return BurnChapter(
        burn=record.burn.id,
        day=at.day(record.burn.lit_s),
        blocks=(Heading(text=title), *_blocks(record, at)),
        budgets={
            one.series.channel.name: one.budget for one in record.heat if one.budget is not None
        },
        deviations=tuple(deviations(record)),
    )


def _blocks(record: BurnRecord, at: BurnTimes) -> Iterator[Block]:
    words = SiBeside.of(record.words)
    yield burn_blocks.verdict_block(record)
    yield burn_blocks.curve_sketch(record, burn_blocks.curve(record))
    yield FactList(rows=tuple(_facts(record, at, words)))
    yield from _measured(record, at, words)
    yield from _seen(record, at, words)
    yield from burn_blocks.snapshots(record, at)
    yield from _alarms(record, at)
    if record.diary:
        yield Heading(text="What people did and noted", level=3)
        yield burn_blocks.diary_grid(record, at)
    if found := tuple(deviations(record)):
        yield Heading(text="Deviations", level=3)
        yield Items(lines=found)


def _facts(record: BurnRecord, at: BurnTimes, words: SiBeside) -> Iterator[tuple[str, str]]:
    yield "Station", record.burn.station
    yield from burn_blocks.burn_facts(record, at, words)
    if pool := tuple(melt_pool_lines(record.melt_pool, words)):
        yield "Melt pool", ". ".join(map(sentence, pool))
    yield "Before lighting", _confirmed(record)


def _confirmed(record: BurnRecord) -> str:
    if record.checks is None:
        return "the safety checks were not asked"
    missing = unconfirmed(record.checks)
    if not missing:
        return "every safety check was confirmed"
    return f"not confirmed: {'; '.join(missing)}"


def _measured(record: BurnRecord, at: BurnTimes, words: SiBeside) -> Iterator[Block]:
    """Each place: highest, when, how much of the burn, warm-up, the warmest room."""
    heat = {one.series.letter: one for one in record.heat}
    rows = []
    for one in record.series:
        highest, found = one.highest, heat.get(one.letter)
        fit = None if found is None else found.warm_up
        warmest = None if found is None else found.warmest
        rows.append(
            (
                one.letter,
                words.place(one.place),
                burn_blocks.measured_words(highest, words),
                "" if highest is None else at.since(highest.at_s),
                "by hand" if one.by_hand else f"{100.0 * one.coverage.share:.1f} %",
                "" if fit is None else f"{words.plain.difference(fit.rise_k)}",
                "" if warmest is None else words.plain.temperature(warmest.bound_c),
            )
        )
    if rows:
        yield Grid(
            head=("", "Place", "Highest", "h:min", "Measured", "Rise", "In the warmest room"),
            rows=tuple(rows),
            widest=1,
        )


def _seen(record: BurnRecord, at: BurnTimes, words: SiBeside) -> Iterator[Block]:
    """Looks at the candle by mark; marks at which nobody looked in one line."""
    lines = look_lines(record.looks, record.marks, lit_s=record.burn.lit_s, words=words)
    looked = [one for one in lines if one.at_s is not None]
    missed = [one.mark for one in lines if one.at_s is None and one.text.startswith("missed")]
    if looked:
        yield Heading(text="What was seen", level=3)
        yield burn_blocks.look_grid(looked, at)
    if missed:
        yield Paragraph(text=f"Nobody looked at the marks of {', '.join(missed)}.")


def _alarms(record: BurnRecord, at: BurnTimes) -> Iterator[Block]:
    """A routine, as notices and who watches, in one line of each kind; all graver ones each."""
    if not record.alarms:
        yield Paragraph(text="No alarm was raised.")
        return
    yield Heading(text="Alarms", level=3)
    grave = [one for one in record.alarms if not _routine(one)]
    if grave:
        yield burn_blocks.alarm_grid(record, grave, at)
    routine = sorted(filter(_routine, record.alarms), key=lambda one: (one.rule, one.priority))
    for (rule, priority), same in groupby(routine, key=lambda one: (one.rule, one.priority)):
        yield Paragraph(strong=f"{rule} ({priority}):", text=_folded(tuple(same), at))


def _routine(one: AlarmStory) -> bool:
    return one.priority is Priority.NOTICE or one.rule == Rule.UNWATCHED


def _folded(same: Sequence[AlarmStory], at: BurnTimes) -> str:
    if len(same) == 1:
        return f"at {at.since(same[0].raised_s)}: {same[0].text}"
    spread = f"from {at.since(same[0].raised_s)} to {at.since(same[-1].raised_s)}"
    seen = sum(one.acknowledged_s is not None for one in same)
    return f"{times(len(same))}, {spread}; acknowledged {times(seen)}. First: {same[0].text}"
