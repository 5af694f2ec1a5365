"""[pure] What the record of a burn and that of its trial both tell of a burn, as blocks."""

from collections.abc import Iterable, Iterator, Sequence

from logger.alarms.lifecycle import Priority
from logger.burn.model import Hottest
from logger.burn.wax_words import wax_lines
from logger.conditioning.uncertainty import Budget
from logger.decision.criteria import Outcome
from logger.field_table import said
from logger.reports import curve as curves
from logger.reports import curve_marks
from logger.reports.blocks import Grid, Sketch, Snapshot, VerdictBlock
from logger.reports.burn_history import AlarmStory, times, together
from logger.reports.burn_times import BurnTimes, link_line
from logger.reports.curve import Curve
from logger.reports.document import BurnRecord
from logger.reports.looks import LookLine
from logger.reports.place_line import PlaceLine
from logger.reports.svg import tag
from logger.words import Words, duration, sentence

_WIDE_PX, _NARROW_PX = 960.0, 360.0

OUTCOMES = {
    Outcome.PASS: "Stayed under the limit",
    Outcome.FAIL: "Failed",
    Outcome.UNDECIDED: "Undecided",
}


def verdict_block(record: BurnRecord) -> VerdictBlock:
    """How the burn was judged, with the reasons that decided."""
    verdict = record.verdict
    deciding = [one for one in verdict.judgements if one.outcome is verdict.outcome]
    return VerdictBlock(
        outcome=verdict.outcome,
        title=OUTCOMES[verdict.outcome],
        lines=tuple(f"{sentence(one.reason)}." for one in deciding),
    )


def curve(record: BurnRecord) -> Curve:
    """What the record's curve shows."""
    return curves.of(
        record.burn,
        [PlaceLine.of(one) for one in record.series],
        until_s=record.until_s,
        wall=record.wall,
        words=record.words,
        zone=record.zone,
        alarms=record.alarms,
    )


def curve_sketch(record: BurnRecord, drawn: Curve, caption: str = "") -> Sketch:
    """The curve, for wide and narrow screens."""
    name = f"burn-{record.burn.short_id}"
    return Sketch(
        svg=curves.draw(drawn, width=_WIDE_PX, name=name),
        narrow_svg=curves.draw(drawn, width=_NARROW_PX, name=f"{name}-narrow"),
        described=f"Temperatures over the burn; the figures are in the tables of {name}",
        caption=caption,
    )


def burn_facts(record: BurnRecord, at: BurnTimes, words: Words) -> Iterator[tuple[str, str]]:
    """When it burned, how, and what came of it; a name and a text each."""
    burn = record.burn
    yield "Lit", f"{at.day(burn.lit_s)}, {at.clock(burn.lit_s)} ({at.zone_name})"
    out = "not recorded out when this was made"
    yield "Out", out if burn.out_s is None else at.clock(burn.out_s)
    so_far = " so far" if burn.out_s is None else ""
    longest = duration(record.limits.burn_length_s)
    length = duration(burn.elapsed_s(record.until_s))
    yield "Burned for", f"{length}{so_far}; the maker's longest burn is {longest}"
    if stated := tuple(said(burn.circumstances, words)):
        yield "How it was burned", "; ".join(stated)
    if burn.ending.words:
        yield "Ended", burn.ending.words
    yield "Weighed", ". ".join(map(sentence, wax_lines(record.weighed, words)))
    if record.proofs:
        yield "Proves", "; ".join(map(str, record.proofs))
    if burn.links:
        yield "Instruments", "; ".join(map(link_line, burn.links))
    yield "Watched by", ", ".join(record.watched_by) or "nobody named"


def alarm_grid(record: BurnRecord, alarms: Iterable[AlarmStory], at: BurnTimes) -> Grid:
    """Alarms from raising to end, those that came and went together in one line."""
    letters = {one.channel.name: one.letter for one in record.series}
    found = [*together(alarms)]
    return Grid(
        head=("", "Raised", "", "What was said", "Acknowledged", "Over"),
        rows=tuple(_alarm(same, at, letters) for same in found),
        signs=tuple(_sign(same[0].priority) for same in found),
        widest=3,
    )


def _alarm(
    same: Sequence[AlarmStory], at: BurnTimes, letters: dict[str, str]
) -> tuple[str, str, str, str, str, str]:
    story, number, text = same[0], str(same[0].number), same[0].text
    if len(same) > 1:
        others = (letters.get(one.channel or "", one.channel or "") for one in same[1:])
        number, text = f"{number}-{same[-1].number}", f"{text}. The same of {', '.join(others)}"
    answered = "not acknowledged"
    if story.acknowledged_s is not None:
        by = f" by {story.acknowledged_by}" if story.acknowledged_by else ""
        where = f" ({story.acknowledged_where})" if story.acknowledged_where else ""
        answered = f"{at.seconds(story.acknowledged_s)}{by}{where}"
    elif story.reminders:
        answered += f"; repeated {times(story.reminders)}"
    over = "not yet" if story.ended_s is None else at.seconds(story.ended_s)
    over += ", then over the limit" if story.superseded else ""
    raised = f"{at.since(story.raised_s)} {at.seconds(story.raised_s)}"
    return number, raised, story.priority.value, text, answered, over


def _sign(priority: Priority) -> str:
    return small_drawing(curve_marks.sign(priority, x=10.0, y=10.0), 20, 20)


def small_drawing(drawn: str, width: int, height: int) -> str:
    """A sign within a line of text."""
    return tag(
        "svg",
        drawn,
        xmlns="http://www.w3.org/2000/svg",
        class_="curve mark",
        viewBox=f"0 0 {width} {height}",
        width=str(width),
        height=str(height),
        fill="currentColor",
        aria_hidden="true",
    )


def look_grid(lines: Iterable[LookLine], at: BurnTimes) -> Grid:
    """What was seen at the candle, by mark."""
    return Grid(
        head=("h:min", "Mark", "Seen", "By"),
        rows=tuple(
            ("" if one.at_s is None else at.since(one.at_s), one.mark, _seen(one), one.by)
            for one in lines
        ),
        widest=2,
    )


def _seen(one: LookLine) -> str:
    doubt = f". The rating of the scent tells little: {one.doubt}." if one.doubt else ""
    return f"{one.text}{doubt}"


def diary_grid(record: BurnRecord, at: BurnTimes) -> Grid:
    """What people did and saw besides."""
    rows = []
    for one in record.diary:
        late = f" (written down at {at.clock(one.entered_s)})" if one.entered_s else ""
        rows.append((at.since(one.at_s), at.clock(one.at_s), f"{one.text}{late}", one.by))
    return Grid(
        head=("h:min", "Time", "What a person did or saw", "By"), rows=tuple(rows), widest=2
    )


def snapshots(record: BurnRecord, at: BurnTimes) -> Iterator[Snapshot]:
    """The photos, each with when and by whom."""
    for photo in record.photos:
        by = f", {photo.by}" if photo.by else ""
        words = f": {photo.text}" if photo.text else ""
        when = f"{at.since(photo.at_s)} (h:min) after lighting, at {at.clock(photo.at_s)}"
        yield Snapshot(jpeg=photo.jpeg, caption=f"{when}{words}{by}")


def measured_words(place: Hottest | None, words: Words) -> str:
    """Value and expanded uncertainty (k = 2), "assumed" where no accuracy is known."""
    if place is None:
        return "no good reading"
    return words.measured(
        place.value_c, place.standard_uncertainty_c, assumed=place.accuracy_assumed
    )


def budget_line(budget: Budget, total: str, words: Words) -> str:
    """What an expanded uncertainty, `total`, is made of."""
    parts = "; ".join(
        f"{one.name} {words.difference(one.standard_uncertainty, 2)} ({one.basis(words)})"
        for one in budget.components
    )
    return f"± {total} at its highest, k = 2. Standard uncertainties: {parts}."
