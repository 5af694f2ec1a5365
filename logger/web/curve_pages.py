"""The pages of curves: a burn's, several burns' since lighting, and all of a station."""

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from logger.errors import DataError
from logger.reports.curve_frame import hours
from logger.reports.curve_happened import CurveMarkMessage
from logger.reports.curve_messages import CurveLineMessage, CurveMessage
from logger.reports.curve_places import Pen, sample
from logger.reports.curve_series import CurveSeriesMessage, CurveSubject, Span
from logger.reports.svg import tag
from logger.web.api import bench_of
from logger.web.bench_service import BenchService
from logger.web.curve_routes import subject_of
from logger.web.pages import page
from logger.web.work import aside
from logger.words import Words

ROWS = 12  # of the table beside the curve: what a person reads at a glance (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveView:
    """What the page shows of a curve, and of the same figures in a table."""

    subject: CurveSubject
    curve: CurveMessage
    from_s: float  # Unix seconds or, of several burns, seconds since lighting
    to_s: float
    rows: Sequence[tuple[float, Sequence[str]]]  # beginning of a stretch; the highest of each line

    @property
    def source(self) -> str:
        """The query that its JSON is asked for by."""
        asked = [("burn", one) for one in self.subject.burns]
        asked += [("trial", one) for one in self.subject.trials]
        if self.subject.station:
            asked.append(("station", self.subject.station))
        return urlencode(asked)

    @property
    def marks(self) -> Sequence[CurveMarkMessage]:
        """What happened meanwhile."""
        return [
            one
            for one in self.curve["marks"]
            if one["at_s"] <= self.to_s and (one["to_s"] or one["at_s"]) >= self.from_s
        ]

    def since(self, at_s: float) -> str:
        """Hours and minutes since lighting."""
        return hours(at_s - (self.curve["lit_s"] or 0.0))


async def of_burn(request: Request) -> Response:
    """GET /burns/{id}/curve?from=&to=: the curve of one burn, live or past."""
    bench, subject = bench_of(request), CurveSubject(burns=(request.path_params["id"],))
    view = await aside(_view, bench, subject, dict(request.query_params))
    return page(bench, "curve.html", view=view, name=subject.burns[0], swatch=swatch)


async def of_several(request: Request) -> Response:
    """GET /curves?burn=&trial=&station=&from=&to=: several burns, or all of a station."""
    bench = bench_of(request)
    view = await aside(_view, bench, subject_of(request), dict(request.query_params))
    return page(bench, "curve.html", view=view, name="", swatch=swatch)


def swatch(line: CurveLineMessage) -> Markup:
    """A piece of the line, for the head of its column."""
    pen = line["pen"]
    drawn = Pen(
        letter=line["letter"],
        label=line["label"],
        css=pen["css"],
        colour=pen["colour"],
        dash=" ".join(f"{length:g}" for length in pen["dash"]),
        width=pen["width"],
    )
    return Markup(  # noqa: S704 - made of our own numbers and names of classes
        tag("svg", sample(drawn, 1.0, 6.0), class_="curve swatch", width="40", height="12")
    )


def _view(bench: BenchService, subject: CurveSubject, asked: dict[str, str]) -> CurveView:
    curve = bench.curve_message(subject)
    from_s, to_s = _number(asked, "from", curve["from_s"]), _number(asked, "to", curve["to_s"])
    if from_s >= to_s:
        raise DataError("from: must lie before to")
    return CurveView(
        subject=subject,
        curve=curve,
        from_s=from_s,
        to_s=to_s,
        rows=_rows(bench, subject, curve, (from_s, to_s)),
    )


def _number(asked: dict[str, str], name: str, otherwise: float) -> float:
    """Seconds of the query. Raises DataError for what is no plain number."""
    text = asked.get(name, "")
    if not text:
        return otherwise
    if len(text) > 20 or not text.isascii() or not text.replace(".", "", 1).isdigit():
        raise DataError(f"{name}: must be a number of seconds")
    return float(text)


def _rows(
    bench: BenchService, subject: CurveSubject, curve: CurveMessage, span_s: Span
) -> list[tuple[float, list[str]]]:
    """The highest of each line in each of some stretches, in words."""
    words, whole = bench.settings.words, span_s[1] - span_s[0]
    starts = [span_s[0] + whole * number / ROWS for number in range(ROWS)]
    found: dict[str | None, CurveSeriesMessage] = {}
    columns: list[list[str]] = []
    for line in curve["lines"]:
        zero_s, burn = line["zero_s"], line["burn"]
        if burn not in found and not line["by_hand"]:
            one = subject if subject.station else CurveSubject(burns=(burn or "",))
            names = [line["channel"]] if zero_s else []
            moved = (span_s[0] + zero_s, span_s[1] + zero_s)
            found[burn] = bench.curve_series(one, names, moved, ROWS)
        highest: dict[int, tuple[float, float | None]] = {}
        for at_s, value, expanded in _figures(line, found.get(burn)):
            row = int((at_s - span_s[0]) / whole * ROWS)
            if 0 <= row < ROWS and value > highest.get(row, (-1e9, None))[0]:
                highest[row] = value, expanded
        columns.append([_words(highest.get(row), words) for row in range(ROWS)])
    return [(start, [column[row] for column in columns]) for row, start in enumerate(starts)]


def _figures(
    line: CurveLineMessage, found: CurveSeriesMessage | None
) -> list[tuple[float, float, float | None]]:
    """Time, value and expanded uncertainty of a line."""
    if line["by_hand"]:
        return list(line["points"])
    until_s = line["until_s"]
    times_s = [] if found is None else found["times_s"]
    for one in () if found is None else found["series"]:
        if one["channel"] == line["channel"]:
            columns = zip(times_s, one["max"], one["expanded"], strict=True)
            return [
                (at_s - line["zero_s"], value, expanded)
                for at_s, value, expanded in columns
                if value is not None and (until_s is None or at_s - line["zero_s"] <= until_s)
            ]
    return []


def _words(found: tuple[float, float | None] | None, words: Words) -> str:
    if found is None:
        return ""
    value, expanded = found
    return words.temperature(value) if expanded is None else words.measured(value, expanded / 2.0)


ROUTES = (
    Route("/burns/{id}/curve", of_burn),
    Route("/curves", of_several),
)
