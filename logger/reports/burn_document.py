"""[pure] The record of one burn as a document: everything that is handed over of it."""

from collections.abc import Iterator
from dataclasses import replace

from logger.burn.melt_pool import melt_pool_lines
from logger.burn.safety import unconfirmed
from logger.decision.criteria import Outcome
from logger.reports import burn_blocks, place_blocks
from logger.reports.blocks import (
    Block,
    Document,
    FactList,
    Heading,
    Items,
    Listing,
    Paragraph,
)
from logger.reports.burn_times import BurnTimes
from logger.reports.cautions import CAUTIONS
from logger.reports.document import BurnRecord
from logger.reports.looks import look_lines
from logger.reports.rule_blocks import by_criterion
from logger.words import duration, sentence

_CURVE = (
    "Each line is the running estimate of one place; the band is its expanded uncertainty, drawn "
    "for the place that was the hottest, and the ring its highest. Hatched: a place on the vessel "
    "was not measured, and no line is drawn there. Dots: doubtful estimates, not judged. Numbered "
    "signs above: alarms, listed below."
)
_EXPANDED = (
    "± is the expanded uncertainty, k = 2: about 95 % of such intervals hold the true value, as "
    'far as its parts are known (GUM 6.2). "Assumed": nobody stated or compared the instrument\'s '
    "accuracy, so the usual limit of error of its kind stands in. A place that nobody measured may "
    "have been hotter."
)
_KEPT = "Readings are kept as they came: every figure here can be computed again."


def burn_document(record: BurnRecord) -> Document:
    """The record of one burn."""
    burn, at = record.burn, BurnTimes(lit_s=record.burn.lit_s, zone=record.zone)
    which = "one burn" if burn.number is None else f"burn {burn.number}"
    made_by = ", ".join(f"{name} {version}" for name, version in record.versions.items())
    known = f"{at.day(record.known_s)}, {at.seconds(record.known_s)}"
    return Document(
        above=f"Record of {which}, {at.day(burn.lit_s)}",
        title=burn.trial,
        subtitle=", ".join(filter(None, _candle(record))),
        blocks=tuple(_blocks(record, at)),
        foot=f"Made by {made_by} from what was stored of burn {burn.short_id} up to {known}. "
        f"Times of day are in {at.zone_name}. {_KEPT}",
        at_s=record.known_s,
    )


def _candle(record: BurnRecord) -> Iterator[str]:
    burn = record.burn
    yield burn.tester and f"Tester {burn.tester}"
    yield f"burned on {burn.station} of the bench {record.bench}"
    yield f"in {burn.material.value}" if burn.material else ""
    yield burn.vessel and f"vessel {burn.vessel}"
    yield burn.wick and f"wick {burn.wick}"
    yield "a shared pour" if burn.shared_pour else ""


def _blocks(record: BurnRecord, at: BurnTimes) -> Iterator[Block]:
    words, drawn = record.words, burn_blocks.curve(record)
    if record.burn.reason:
        yield Paragraph(strong="Lit though its vessel was not cleared:", text=record.burn.reason)
    for line in record.burn.lacks:
        yield Paragraph(strong="Not complete:", text=f"{line}.")
    yield _verdict(record)
    yield Heading(text="Curve")
    yield burn_blocks.curve_sketch(record, drawn, _CURVE)
    yield Heading(text="The burn")
    yield FactList(rows=(*burn_blocks.burn_facts(record, at, words), *_confirmed(record)))
    yield from _hottest(record, at)
    yield Heading(text="What was measured")
    yield place_blocks.measured_block(record, drawn, at)
    if record.wall_coverage is not None:
        yield from place_blocks.wall_blocks(record, record.wall_coverage)
    if record.heat:
        yield from place_blocks.heat_blocks(record)
    yield Heading(text="Alarms")
    yield (
        burn_blocks.alarm_grid(record, record.alarms, at)
        if record.alarms
        else Paragraph(text="None was raised.")
    )
    if record.checks:
        yield Heading(text="Confirmed before lighting")
        yield Items(lines=tuple(f"{check}." for check in record.checks))
    if record.looks or record.marks:
        yield Heading(text="What was seen")
        for line in melt_pool_lines(record.melt_pool, words):
            yield Paragraph(text=f"{sentence(line)}.")
        lit_s = record.burn.lit_s
        yield burn_blocks.look_grid(
            look_lines(record.looks, record.marks, lit_s=lit_s, words=words), at
        )
    if record.photos:
        yield Heading(text="Photos")
        yield from burn_blocks.snapshots(record, at)
    yield Heading(text="Notes")
    yield burn_blocks.diary_grid(record, at)
    yield from _judged(record)
    yield from _settings(record)
    yield Heading(text="Cautions")
    yield Items(lines=CAUTIONS)
    if record.damage:
        yield Paragraph(
            strong="Not all that was stored could be read.", text="This record lacks it:"
        )
        yield Items(lines=record.damage)


def _verdict(record: BurnRecord) -> Block:
    found = burn_blocks.verdict_block(record)
    if found.outcome is not Outcome.PASS:
        return found
    alone = "It applies to this burn only, not to the candle: see what is missing."
    return replace(found, lines=(*found.lines, alone))


def _confirmed(record: BurnRecord) -> Iterator[tuple[str, str]]:
    missing = () if record.checks is None else unconfirmed(record.checks)
    if record.checks is None:
        found = "not asked"
    elif not record.checks:
        found = "nothing"
    else:
        found = "only the checks named below" if missing else "every check, named below"
    yield "Confirmed before lighting", f"{found}."
    if missing:
        yield "Not confirmed", f"{'. '.join(missing)}."


def _hottest(record: BurnRecord, at: BurnTimes) -> Iterator[Block]:
    found, words, wall = record.burn.hottest, record.words, record.wall
    yield Heading(text="Hottest measured place")
    if found is None:
        yield Paragraph(text="No place on the vessel was measured.")
        return
    vessel = record.burn.material.value if record.burn.material else "this vessel"
    said = (
        f"{found.place}, {at.since(found.at_s)} (h:min) after lighting, at {at.clock(found.at_s)}. "
        f"The maker's limit for {vessel} is {words.temperature(wall.limit_c)}; the alert line is "
        f"{words.temperature(wall.alert_c)}."
    )
    for one in record.heat:
        if one.warmest and one.series.channel.name == found.channel:
            side = "under" if one.warmest.stays_under(wall.limit_c) else "over"
            said += (
                f" In a room of {words.temperature(one.warmest.room_limit_c)} it may reach "
                f"{words.temperature(one.warmest.bound_c)}, {side} the limit."
            )
    yield Paragraph(big=burn_blocks.measured_words(found, words), text=said)
    yield Paragraph(text=_EXPANDED, faint=True)


def _judged(record: BurnRecord) -> Iterator[Block]:
    verdict = record.verdict
    yield Heading(text="What is missing")
    yield Items(
        lines=tuple(
            f"{gap.text}.{' Needed for a pass.' if gap.decides else ''}" for gap in verdict.missing
        )
    )
    if verdict.not_judged:
        yield Heading(text="Not judged")
        names = "; ".join(verdict.not_judged)
        which = "Of a shared pour, which serves several wicks in turn, these are not judged"
        yield Paragraph(text=f"{which}: {names}.")
    yield Heading(text="How it was judged")
    for criterion, same in by_criterion(verdict.judgements).items():
        yield Heading(text=criterion.title, level=3)
        for one in same:
            yield Paragraph(strong=f"{sentence(one.outcome.value)}:", text=f"{one.reason}.")
        yield Paragraph(text=f"{criterion.rule} {criterion.source}", faint=True)


def _settings(record: BurnRecord) -> Iterator[Block]:
    words, limits = record.words, record.limits
    notice = duration(limits.burn_notice_s)
    low, high = words.temperature(limits.room_low_c), words.temperature(limits.room_high_c)
    yield Heading(text="Limits and settings in force")
    yield FactList(
        rows=(
            ("Wall limit", f"{words.temperature(record.wall.limit_c)}, the maker's own"),
            ("Wall alert", words.temperature(record.wall.alert_c)),
            ("Longest burn", f"{duration(limits.burn_length_s)}, announced {notice} ahead"),
            ("Cool-down", duration(limits.cool_down_s)),
            ("Room", f"{low} to {high}"),
        )
    )
    for line in record.looser:
        yield Paragraph(strong="Caution:", text=f"{line}.")
    count = len(record.settings_text.splitlines())
    yield Listing(title=f"The settings in force, {count} lines", text=record.settings_text)
