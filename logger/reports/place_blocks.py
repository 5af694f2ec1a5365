"""[pure] What each place of a burn was, in its record: measured, how it warmed, its uncertainty."""

from collections.abc import Iterator

from logger.burn.coverage import WallCoverage, never_measured, unknown
from logger.burn.heat import WARMEST_ROOM_C
from logger.reports import burn_blocks, curve_places
from logger.reports import curve as curves
from logger.reports.blocks import EVEN, Block, FactList, Grid, Heading, Paragraph, Sketch
from logger.reports.burn_times import BurnTimes
from logger.reports.curve import Curve
from logger.reports.document import BurnRecord, PlaceHeat, Series
from logger.reports.unrolled import unrolled
from logger.words import Words, duration, sentence

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


def measured_block(record: BurnRecord, drawn: Curve, at: BurnTimes) -> Block:
    """Each place: how hot, when, how much of the burn, by which instrument."""
    if not record.series:
        return Paragraph(text="Nothing.")
    pens = {pen.letter: curve_places.sample(pen, 1.0, 6.0) for pen in curves.pens(drawn)}
    return Grid(
        head=("", "Place", "Highest", "When", "Measured", "Longest gap", "Instrument"),
        rows=tuple(_series(one, record.words, at) for one in record.series),
        signs=tuple(
            burn_blocks.small_drawing(pens.get(one.letter, ""), 40, 12) for one in record.series
        ),
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
        burn_blocks.measured_words(highest, words),
        "" if highest is None else at.since(highest.at_s),
        "by hand" if one.by_hand else f"{100.0 * one.coverage.share:.1f} %",
        gap,
        instrument,
    )


def wall_blocks(record: BurnRecord, found: WallCoverage) -> Iterator[Block]:
    """Which parts of the wall were measured, drawn and in words."""
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


def heat_blocks(record: BurnRecord) -> Iterator[Block]:
    """How each place warmed, the warmest room, and what each uncertainty is made of."""
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
            rows.append((name, burn_blocks.budget_line(one.budget, total, words)))
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
