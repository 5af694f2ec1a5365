"""[pure] In what a burn was not as planned, or not as a burn should be."""

from collections.abc import Iterator

from logger.reports.document import BurnRecord
from logger.reports.si_beside import SiBeside
from logger.words import duration, sentence


def deviations(record: BurnRecord) -> Iterator[str]:
    """In what the burn was not as planned, or not as a burn should be."""
    burn, words, limits = record.burn, SiBeside.of(record.words), record.limits
    if burn.hand_kept:
        yield f"Nobody watched it on this bench: it comes from the table {burn.hand_kept}"
    if burn.reason:
        yield f"Lit though its vessel was not cleared: {burn.reason}"
    for line in burn.lacks:
        yield f"Not complete: {line}"
    planned_s = burn.circumstances.planned_length_s
    if planned_s is not None and burn.out_s is not None:
        short_s = planned_s - burn.elapsed_s(record.until_s)
        if short_s > limits.burn_notice_s:
            yield f"It ended {duration(short_s)} before its planned length"
    yield from _room(record, words)
    for line in (*record.looser, *record.damage):
        yield sentence(line)


def _room(record: BurnRecord, words: SiBeside) -> Iterator[str]:
    if record.room is None:
        return
    lowest, highest = record.room.coverage.lowest, record.room.coverage.highest
    low = None if lowest is None else lowest.value
    if low is not None and low < record.limits.room_low_c:
        yield f"The room was colder than the maker wants: {words.temperature(low)}"
    high = None if highest is None else highest.value
    if high is not None and high > record.limits.room_high_c:
        yield f"The room was warmer than the maker wants: {words.temperature(high)}"
