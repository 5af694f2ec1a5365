"""[pure] What people saw of a candle, by mark: as rows for a page and as JSON."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated

from typing_extensions import Doc, TypedDict

from logger.burn.entries import Observed
from logger.burn.entry_words import contents
from logger.burn.look import confounded
from logger.burn.marks import BurnMark, MarkState, mark_of
from logger.burn.melt_pool import MeltPool, melt_pool_lines
from logger.field_table import filled
from logger.messages import rounded
from logger.timestamps import rfc3339
from logger.words import Words, duration


@dataclass(frozen=True, slots=True, kw_only=True)
class LookLine:
    """One look, or a mark at which nobody looked."""

    elapsed_s: float  # of being lit; of a mark without a look its own
    at_s: float | None  # None: nobody looked
    mark: str
    text: str
    doubt: str = ""  # why a rating of the scent in it says little
    by: str = ""


def look_lines(
    looks: Sequence[Observed], marks: Sequence[BurnMark], *, lit_s: float, words: Words
) -> list[LookLine]:
    """Looks in order of time, and between them the marks without one."""
    lines = [*_looks(looks, [one.mark_s for one in marks], lit_s, words)]
    lines += [
        LookLine(
            elapsed_s=one.mark_s,
            at_s=None,
            mark=duration(one.mark_s),
            text="missed: nobody looked" if one.state is MarkState.MISSED else one.state,
        )
        for one in marks
        if one.state is not MarkState.SEEN
    ]
    return sorted(lines, key=lambda line: line.elapsed_s)


def _looks(
    looks: Sequence[Observed], marks_s: Sequence[float], lit_s: float, words: Words
) -> Iterator[LookLine]:
    for one in looks:
        elapsed_s = one.at_s - lit_s
        mark_s = mark_of(elapsed_s, marks_s)
        yield LookLine(
            elapsed_s=elapsed_s,
            at_s=one.at_s,
            mark="" if mark_s is None else duration(mark_s),
            text=contents(one, words) or "looked at, nothing noted",
            doubt=confounded(one.look),
            by=one.look.rater or one.by,
        )


class LookMessage(TypedDict):
    """One look at the candle."""

    id: str
    at: str
    elapsed_s: Annotated[float, Doc("of being lit")]
    mark_s: Annotated[float | None, Doc("that it is of; null between marks")]
    by: str | None
    text: str
    seen: Annotated[dict[str, str], Doc("by field, in the bench's units; grades with their word")]
    confounded: Annotated[str | None, Doc("why the rating of the scent tells little")]


class MarkMessage(TypedDict):
    """A mark of the burn."""

    mark_s: Annotated[float, Doc("of being lit")]
    state: MarkState


class MeltPoolMessage(TypedDict):
    """The melt pool, by what people saw; null is not known."""

    across_mm: Annotated[float | None, Doc("when it was last measured short of the wall")]
    at_s: Annotated[float, Doc("of being lit, of that look")]
    growth_mm_per_h: Annotated[float | None, Doc("of its edge, from lighting to that look")]
    full_s: Annotated[float | None, Doc("of being lit: first seen at the wall all round")]
    soonest_s: Annotated[float | None, Doc("at the wall at the soonest, as it grew")]
    words: list[str]


def look_messages(
    looks: Sequence[Observed], marks: Sequence[BurnMark], lit_s: float, words: Words
) -> list[LookMessage]:
    """All looks in order of time."""
    marks_s = [one.mark_s for one in marks]
    return [
        {
            "id": one.id,
            "at": rfc3339(one.at_s),
            "elapsed_s": rounded(one.at_s - lit_s),
            "mark_s": mark_of(one.at_s - lit_s, marks_s),
            "by": one.by or None,
            "text": one.text,
            "seen": {field.key: field.said(value, words) for field, value in filled(one.look)},
            "confounded": confounded(one.look) or None,
        }
        for one in looks
    ]


def melt_pool_message(found: MeltPool, words: Words) -> MeltPoolMessage:
    """The melt pool as people saw it."""
    return {
        "across_mm": rounded(found.across_mm),
        "at_s": rounded(found.at_s),
        "growth_mm_per_h": rounded(found.growth_mm_per_h),
        "full_s": rounded(found.full_s),
        "soonest_s": rounded(found.wall_s),
        "words": [*melt_pool_lines(found, words)],
    }
