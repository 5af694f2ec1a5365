"""[pure] The record of one burn as a document: everything that is handed over of it."""

from collections.abc import Iterator
from dataclasses import replace

from logger.burn.coverage import WallCoverage, never_measured, unknown
from logger.burn.heat import WARMEST_ROOM_C
from logger.burn.melt_pool import melt_pool_lines
from logger.burn.model import Hottest
from logger.burn.safety import unconfirmed
from logger.decision.criteria import Outcome
from logger.reports import curve as curves
from logger.reports import curve_places
from logger.reports.blocks import (
    EVEN,
    Block,
    Document,
    FactList,
    Grid,
    Heading,
    Items,
    Listing,
    Paragraph,
    Sketch,
)
from logger.reports.burn_blocks import (
    alarm_grid,
    budget_line,
    burn_facts,
    curve,
    curve_sketch,
    diary_grid,
    look_grid,
    small_drawing,
    snapshots,
    verdict_block,
)
from logger.reports.burn_times import BurnTimes
from logger.reports.cautions import CAUTIONS
from logger.reports.curve import Curve
from logger.reports.document import BurnRecord, PlaceHeat, Series
from logger.reports.looks import look_lines
from logger.reports.rule_blocks import by_criterion
from logger.reports.unrolled import unrolled
from logger.words import Words, duration, sentence

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
_UNROLLED = (
    "The wall unrolled, seen from outside, heights above the outside base. A figure is the share "
    "of the burn that an instrument measured there. A place counts for the part it lies in alone: "
    "beside it, it may have been hotter."
)
_FITTED = (
    "Two time constants are fitted to each place, of the glass and of the wax behind it; 95 % of "
    "either part has come after three of them. The plateau is in the room as it was at the end. "
    "What a place reaches in a warmer room is a bound: its highest, the room's difference and its "
    "expanded uncertainty, k = 2; a measured figure is never lowered."
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
        subtitle=", ".join(_candle(record)),
        blocks=tuple(_blocks(record, at)),
        foot=f"Made by {made_by} from what was stored of burn {burn.short_id} up to {known}. "
        f"Times of day are in {at.zone_name}. {_KEPT}",
        at_s=record.known_s,
    )


def _candle(record: BurnRecord) -> Iterator[str]:
    burn = record.burn
    if burn.tester:
        yield f"Tester {burn.tester}"
    yield f"burned on {burn.station} of the bench {record.bench}"
    if burn.material:
        yield f"in {burn.material.value}"
    if burn.vessel:
        yield f"vessel {burn.vessel}"
    if burn.wick:
        yield f"wick {burn.wick}"
    if burn.shared_pour:
        yield "a shared pour"


def _blocks(record: BurnRecord, at: BurnTimes) -> Iterator[Block]:
    words, drawn = record.words, curve(record)
    if record.burn.reason:
        yield Paragraph(strong="Lit though its vessel was not cleared:", text=record.burn.reason)
    for line in record.burn.lacks:
        yield Paragraph(strong="Not complete:", text=f"{line}.")
    yield _verdict(record)
    yield Heading(text="Curve")
    yield curve_sketch(record, drawn, _CURVE)
    yield Heading(text="The burn")
    yield FactList(rows=(*burn_facts(record, at, words), *_confirmed(record)))
    yield from _hottest(record, at)
    yield Heading(text="What was measured")
    yield _measured(record, drawn, at)
    if record.wall_coverage is not None:
        yield from _wall(record, record.wall_coverage)
    if record.heat:
        yield from _heat(record)
    yield Heading(text="Alarms")
    yield (
        alarm_grid(record, record.alarms, at)
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
        yield look_grid(look_lines(record.looks, record.marks, lit_s=lit_s, words=words), at)
    if record.photos:
        yield Heading(text="Photos")
        yield from snapshots(record, at)
    yield Heading(text="Notes")
    yield diary_grid(record, at)
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
    found = verdict_block(record)
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


def _measured_words(place: Hottest, words: Words) -> str:
    """Value and expanded uncertainty (k = 2), "assumed" where no accuracy is known."""
    return words.measured(
        place.value_c, place.standard_uncertainty_c, assumed=place.accuracy_assumed
    )


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
    yield Paragraph(big=_measured_words(found, words), text=said)
    yield Paragraph(text=_EXPANDED, faint=True)


def _measured(record: BurnRecord, drawn: Curve, at: BurnTimes) -> Block:
    if not record.series:
        return Paragraph(text="Nothing.")
    pens = {pen.letter: curve_places.sample(pen, 1.0, 6.0) for pen in curves.pens(drawn)}
    return Grid(
        head=("", "Place", "Highest", "When", "Measured", "Longest gap", "Instrument"),
        rows=tuple(_series(one, record.words, at) for one in record.series),
        signs=tuple(small_drawing(pens.get(one.letter, ""), 40, 12) for one in record.series),
        widest=1,
    )


def _series(one: Series, words: Words, at: BurnTimes) -> tuple[str, ...]:
    highest, channel, gap = one.highest, one.channel, ""
    if not one.by_hand:
        gap = duration(one.coverage.longest_gap_s) if one.coverage.gaps else "none"
    instrument = channel.instrument
    if channel.accuracy is not None:
        instrument += f", accuracy ± {words.difference(channel.accuracy)}"
    if channel.emissivity is not None:
        instrument += f", infrared, emissivity {channel.emissivity}"
    return (
        one.letter,
        str(one.place),
        "no good reading" if highest is None else _measured_words(highest, words),
        "" if highest is None else at.since(highest.at_s),
        "by hand" if one.by_hand else f"{100.0 * one.coverage.share:.1f} %",
        gap,
        instrument,
    )


def _wall(record: BurnRecord, found: WallCoverage) -> Iterator[Block]:
    words = record.words
    never = never_measured(found, words) or "every part of the wall was measured"
    yield Heading(text="Where the wall was measured")
    yield Sketch(
        svg=unrolled(found, words.length_in),
        described="The wall unrolled: which parts were measured",
        share=42,
    )
    level = unknown(found, words, record.burn.wax_level_mm)
    yield Paragraph(text=f"{sentence(never)}. {level}.")
    yield Paragraph(text=_UNROLLED, faint=True)


def _heat(record: BurnRecord) -> Iterator[Block]:
    words, wall = record.words, record.wall
    yield Heading(text="Heat")
    yield Grid(
        head=(
            "",
            "Place",
            "Rise at its plateau",
            "Plateau",
            "How it warmed",
            f"Over {words.temperature(wall.alert_c)}",
            f"Over {words.temperature(wall.limit_c)}",
            f"In a room of {words.temperature(WARMEST_ROOM_C)}",
        ),
        rows=tuple(_warmed(one, words) for one in record.heat if one.series.channel.on_vessel),
        widest=EVEN,
    )
    outlook = f" {record.outlook}." if record.outlook else ""
    yield Paragraph(text=f"{_FITTED}{outlook}", faint=True)
    yield Heading(text="What each uncertainty is made of")
    rows = []
    for one in record.heat:
        if one.budget is not None:
            assumed = one.series.highest is not None and one.series.highest.accuracy_assumed
            total = words.difference(one.budget.expanded, 2) + (" assumed" if assumed else "")
            name = f"{one.series.letter} {one.series.place}"
            rows.append((name, budget_line(one.budget, total, words)))
    yield FactList(rows=tuple(rows) or (("Nothing", "no instrument gave a good figure"),))


def _warmed(one: PlaceHeat, words: Words) -> tuple[str, ...]:
    fit, rise, plateau, warmed = one.warm_up, "not fitted", "", ""
    if fit is not None:
        above = "the room" if fit.above_room else "where it began"
        reach = words.expanded_uncertainty(fit.rise_sd_k)
        rise = f"{words.difference(fit.rise_k)} {reach} above {above}"
        seen = f"predicted; {100.0 * fit.reached:.0f} % of the slow rise seen"
        plateau = f"{words.temperature(fit.plateau_c)}, {'seen' if one.plateau_seen else seen}"
        if fit.fast_k > 0.0:
            within = duration(3.0 * fit.fast_s)
            warmed = f"{words.difference(fit.fast_k)} at once, within about {within}; "
        within = duration(3.0 * fit.slow_s)
        warmed += f"{words.difference(fit.slow_k)} slowly, within about {within}"
    warmer = "not known: no room was measured"
    if one.warmest is not None:
        warmer = f"at most {words.temperature(one.warmest.bound_c)}"
    over = (_over(one.over_alert_s), _over(one.over_limit_s))
    return one.series.letter, str(one.series.place), rise, plateau, warmed, *over, warmer


def _over(time_s: float | None) -> str:
    if time_s is None:
        return "not known"
    return duration(time_s) if time_s else "never"


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
