"""The record of a burn as one HTML file: nothing outside of it, good on paper and on a phone."""

from base64 import b64encode
from dataclasses import dataclass

from markupsafe import Markup

from logger.alarms.lifecycle import Priority
from logger.burn.coverage import WallCoverage, never_measured, unknown
from logger.burn.heat import WARMEST_ROOM_C
from logger.burn.melt_pool import melt_pool_lines
from logger.burn.model import Hottest
from logger.burn.safety import unconfirmed
from logger.burn.wax_words import wax_lines
from logger.decision.criteria import Criterion, Outcome
from logger.field_table import said
from logger.reports import curve as curves
from logger.reports import curve_marks, curve_places
from logger.reports.burn_history import together
from logger.reports.burn_times import BurnTimes, link_line
from logger.reports.cautions import CAUTIONS
from logger.reports.curve import Curve
from logger.reports.curve_places import Pen
from logger.reports.document import BurnRecord, Photo
from logger.reports.looks import LookLine, look_lines
from logger.reports.place_line import PlaceLine
from logger.reports.svg import tag
from logger.reports.templates import page, style
from logger.reports.unrolled import unrolled
from logger.words import duration

_WIDE_PX, _NARROW_PX = 960.0, 360.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Say:
    """How the record writes figures."""

    record: BurnRecord

    def measured(self, place: Hottest) -> str:
        """Value and expanded uncertainty (k = 2), "assumed" where no accuracy is known."""
        return self.record.words.measured(
            place.value_c, place.standard_uncertainty_c, assumed=place.accuracy_assumed
        )

    def wax(self) -> list[str]:
        """What is known of the candle's wax, a line each."""
        return list(wax_lines(self.record.weighed, self.record.words))

    def stated(self) -> list[str]:
        """How it was burned, as far as anybody stated it."""
        return list(said(self.record.burn.circumstances, self.record.words))

    def melt_pool(self) -> list[str]:
        """How it grew, a line each."""
        return list(melt_pool_lines(self.record.melt_pool, self.record.words))

    def looks(self) -> list[LookLine]:
        """What was seen, by mark."""
        record = self.record
        return look_lines(record.looks, record.marks, lit_s=record.burn.lit_s, words=record.words)

    def picture(self, photo: Photo) -> str:
        """The photo within the page itself (RFC 2397)."""
        return f"data:image/jpeg;base64,{b64encode(photo.jpeg).decode()}"

    def uncovered(self, found: WallCoverage) -> str:
        """What of the wall nobody measured, and what the drawing cannot tell."""
        words = self.record.words
        never = never_measured(found, words) or "every part of the wall was measured"
        level_mm = self.record.burn.wax_level_mm
        return f"{never[0].upper()}{never[1:]}. {unknown(found, words, level_mm)}."

    @property
    def times(self) -> BurnTimes:
        """Its moments, in the zone of its day."""
        return BurnTimes(lit_s=self.record.burn.lit_s, zone=self.record.zone)


OUTCOMES = {
    Outcome.PASS: "Stayed under the limit",
    Outcome.FAIL: "Failed",
    Outcome.UNDECIDED: "Undecided",
}


def record_html(record: BurnRecord) -> str:
    """The whole file. Everything that people or instruments wrote is escaped."""
    drawn = curve(record)
    wall = record.wall_coverage
    return page(
        "burn.html",
        record=record,
        burn=record.burn,
        verdict=record.verdict,
        words=record.words,
        outcome=OUTCOMES[record.verdict.outcome],
        criteria=_criteria(record),
        say=_Say(record=record),
        at=_Say(record=record).times,
        link_line=link_line,
        cautions=CAUTIONS,
        duration=duration,
        warmest_room_c=WARMEST_ROOM_C,
        not_confirmed=() if record.checks is None else unconfirmed(record.checks),
        wide=Markup(curves.draw(drawn, width=_WIDE_PX, name="wide")),  # noqa: S704 - it escapes
        narrow=Markup(curves.draw(drawn, width=_NARROW_PX, name="narrow")),  # noqa: S704  # our own SVG
        wall=wall,
        wall_drawing=Markup(unrolled(wall, record.words.length_in) if wall else ""),  # noqa: S704  # our own SVG
        alarms=list(together(record.alarms)),
        letters={series.channel.name: series.letter for series in record.series},
        samples={pen.letter: _sample(pen) for pen in curves.pens(drawn)},
        signs={priority.value: _sign(priority) for priority in Priority},
        style=style(),
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


def _sample(pen: Pen) -> Markup:
    drawing = curve_places.sample(pen, 1.0, 6.0)
    return Markup(  # noqa: S704 - it escapes
        tag(
            "svg",
            drawing,
            class_="curve swatch",
            viewBox="0 0 40 12",
            width="40",
            height="12",
            aria_hidden="true",
        )
    )


def _sign(priority: Priority) -> Markup:
    drawing = curve_marks.sign(priority, x=10.0, y=10.0)
    return Markup(  # noqa: S704 - it escapes
        tag(
            "svg",
            drawing,
            class_="curve mark",
            viewBox="0 0 20 20",
            width="20",
            height="20",
            fill="currentColor",
            aria_hidden="true",
        )
    )


def _criteria(record: BurnRecord) -> list[Criterion]:
    """Those that were applied, once each."""
    return list(dict.fromkeys(judgement.criterion for judgement in record.verdict.judgements))
