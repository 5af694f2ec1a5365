"""The pages for people: readable and usable without scripts, live with them."""

import asyncio
import re
import sys
import uuid
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import cast

import jinja2
from jinja2.bccache import Bucket
from markupsafe import Markup
from pydantic import ValidationError
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from logger.burn import safety
from logger.burn.entries import Danger
from logger.burn.look import LOOK_FIELDS
from logger.burn.model import BurnPhase
from logger.burn.stated import Circumstances, Ending
from logger.errors import DataError, Doubted, Refused, StoreError, WickbenchError
from logger.field_table import fields_of
from logger.intake import bodies, correction_bodies, look_bodies
from logger.intake.refusals import refusal
from logger.messages import plain_lines
from logger.timestamps import rfc3339
from logger.web import form_bodies, posted, station, texts, views
from logger.web.alarm_groups import alarm_groups, gravest
from logger.web.api import bench_of
from logger.web.bench_service import BenchService
from logger.web.curves import Curves
from logger.web.field_views import field_view, with_units
from logger.web.form_bodies import Pair
from logger.web.static import StaticFile, answered, file_of, has_chart, static
from logger.words import duration

HEADERS = {
    "content-security-policy": (
        "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; "
        "frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    # Not "no-referrer": with it browsers post forms with "Origin: null" (Fetch standard, "append a
    # request Origin header"), which is refused as foreign. No address ever leaves for elsewhere.
    "referrer-policy": "same-origin",
    "cache-control": "no-cache",
}

FORMS: dict[str, type[bodies.LitBody | bodies.BurnBody]] = {
    "lit": bodies.LitBody,
    "out": bodies.OutBody,
    "readings": bodies.ReadingBody,
    "weigh-ins": bodies.WeighInBody,
    "observations": look_bodies.ObservationBody,
    "in-sight": bodies.InSightBody,
}
"""What the forms of a station's page enter, by the last part of their address."""

_BACK = re.compile(r"/round(#[a-z0-9-]+)?|/burns/[a-z0-9-]+")  # the other pages with such forms

ALARM_FORMS: dict[str, type[bodies.AlarmBody]] = {
    "acknowledge": bodies.AcknowledgeBody,
    "shelve": bodies.ShelveBody,
}


STATED_FIELDS = (*fields_of(Circumstances), *fields_of(Ending), *LOOK_FIELDS)

ENTRY_FORMS: dict[str, type[bodies.EntryBody]] = {
    "correct": correction_bodies.CorrectBody,
    "withdraw": correction_bodies.WithdrawBody,
}


async def curve(request: Request) -> Response:
    """GET /api/curve?station=&width=: the curve of the latest burn as SVG."""
    bench = bench_of(request)
    burn = bench.hub.burns.get(request.query_params.get("station", ""))
    if burn is None:
        raise Refused("no burn is recorded at that station: the curve begins when a candle is lit")
    width = request.query_params.get("width", "360")
    if not (width.isascii() and width.isdigit() and len(width) < 6):
        raise DataError("width: must be a whole number of pixels")
    curves = cast("Curves", request.app.state.curves)
    svg = await curves.svg(burn, int(width))
    return Response(svg, media_type="image/svg+xml", headers=HEADERS)


async def enter_at_station(request: Request) -> Response:
    """POST /stations/{station}/{what}: a form; back to the page once it is recorded."""
    bench, name = bench_of(request), request.path_params["station"]
    kind = FORMS.get(request.path_params["what"])
    if kind is None:
        raise HTTPException(404, "the page has no such form")
    typed = b""
    try:
        typed = await posted.raw(request)
        found = _fields(bench, typed)
        back = found.pop("back", "")
        burn = found.pop("burn", None)
        status = bench.hub.statuses.get(name)
        if issubclass(kind, bodies.LitBody):
            found["station"] = name
        elif status is None or status.burn is None or status.burn != burn:
            raise Refused(f"this page is older than the burn at {name}: load it again")
        now_s = bench.now_s()
        tapped_s = form_bodies.tapped_s(found, now_s)
        body = checked(kind, found)
        if isinstance(body, bodies.LitBody):
            entry = body.entry(tapped_s)
        else:
            entry = cast("bodies.BurnBody", body).entry(tapped_s, name)
        await bench.enter(replace(entry, entered_s=now_s), sure=body.sure)
    except Doubted as exc:
        return problem_page(bench, exc, again=request.url.path, asked=form_bodies.pairs(typed))
    except WickbenchError as exc:
        return problem_page(bench, exc)
    return _recorded(bench, back, name)


def _recorded(bench: BenchService, back: str, station: str) -> Response:
    """Back to the page that the form is on; nobody is sent elsewhere."""
    where = back if _BACK.fullmatch(back) else path_of(bench, station)
    return RedirectResponse(where, status_code=303, headers=HEADERS)


async def change_entry(request: Request) -> Response:
    """POST /stations/{station}/entries/{id}/{what}: an earlier entry corrected or withdrawn."""
    bench, path = bench_of(request), request.path_params
    kind = ENTRY_FORMS.get(path["what"])
    if kind is None:
        raise HTTPException(404, "the page has no such form")
    try:
        found = _fields(bench, await posted.raw(request))
        back = found.pop("back", "")
        now_s = bench.now_s()
        tapped_s = form_bodies.tapped_s(found, now_s)
        body = checked(kind, found)
        entry = cast("bodies.EntryBody", body).entry(tapped_s, path["id"])
        await bench.enter(replace(entry, entered_s=now_s))
    except WickbenchError as exc:
        return problem_page(bench, exc)
    return _recorded(bench, back, path["station"])


async def enter_at_alarm(request: Request) -> Response:
    """POST /alarms/{what}: acknowledge or set aside every `alarm` that the form names."""
    bench = bench_of(request)
    kind = ALARM_FORMS.get(request.path_params["what"])
    if kind is None:
        raise HTTPException(404, "the page has no such form")
    try:
        found = form_bodies.fields(await posted.raw(request))
        back = found.pop("station", "")
        post_id = str(found.pop("id", ""))
        now_s = bench.now_s()
        tapped_s = form_bodies.tapped_s(found, now_s)
        acts = [
            cast("bodies.AlarmBody", checked(kind, {**found, "id": f"{post_id}-{number}"})).entry(
                tapped_s, alarm
            )
            for number, alarm in enumerate(found.pop("alarm", ()))
        ]
        # side by side: none waits until the one before is on a disk that fails
        entering = (bench.enter(replace(act, entered_s=now_s)) for act in acts)
        answers = await asyncio.gather(*entering, return_exceptions=True)
        for answer in answers:
            if isinstance(answer, BaseException):
                raise answer
    except WickbenchError as exc:
        return problem_page(bench, exc)
    return RedirectResponse(path_of(bench, back), status_code=303, headers=HEADERS)


def _fields(bench: BenchService, typed: bytes) -> form_bodies.Fields:
    """A form of the station's page as the body it stands for, bare numbers with their units."""
    found, pairs = form_bodies.fields(typed), form_bodies.pairs(typed)
    for one in LOOK_FIELDS:
        if one.most > 1 and one.key in found:
            texts = (text.strip() for key, text in pairs if key == one.key)
            found[one.key] = [text for text in texts if text]
    return with_units(found, STATED_FIELDS, bench.settings.words)


def checked(kind: type[bodies.Body], found: form_bodies.Fields) -> bodies.Body:
    """The fields of a form as a `kind`. Raises DataError that names every field to fix."""
    try:
        return kind.model_validate(found)
    except ValidationError as exc:
        raise refusal(exc) from None


def path_of(bench: BenchService, name: str) -> str:
    """The page of a station that exists, else the first page: nobody is sent elsewhere."""
    known = name in bench.hub.statuses and len(bench.hub.statuses) > 1
    return f"/stations/{name}" if known else "/"


def page(bench: BenchService, template: str, *, status: int = 200, **found: object) -> Response:
    """The `template` with what every page needs, and what is `found`."""
    words, standing = bench.settings.words, alarm_groups(bench)
    html = (
        templates()
        .get_template(template)
        .render(
            bench=bench.settings.bench.name,
            several=len(bench.hub.statuses) > 1,
            statuses=station.statuses(bench),
            links=bench.links,
            forwarding=views.forwarding_now(bench),
            now_s=bench.now_s(),
            words=words,
            length_unit=words.length_in.name,
            mass_unit=words.mass_in.name,
            dangers=list(Danger),
            advice=safety,
            checks=safety.CHECKS.values(),
            standing=standing,
            gravest=gravest(standing),
            burning=any(one.phase is BurnPhase.LIT for one in bench.hub.statuses.values()),
            stated={
                what: [field_view(one, words) for one in fields_of(table)]
                for what, table in (("lit", Circumstances), ("out", Ending))
            },
            **found,
        )
    )
    return HTMLResponse(plain_lines(html), status_code=status, headers=HEADERS)


def problem_page(
    bench: BenchService, exc: WickbenchError, *, again: str = "", asked: Sequence[Pair] = ()
) -> Response:
    """For a browser without scripts: what is wrong; its Back button keeps what was typed.

    Of a form that is only improbable, `asked` are the fields and `again` is where it is sent.
    """
    status = {Refused: 409, Doubted: 409, StoreError: 503}.get(type(exc), 422)
    return page(bench, "problem.html", status=status, detail=str(exc), again=again, asked=asked)


def _time(at_s: float, now_s: float) -> Markup:
    """A time of day, with the day where it is not today; a script puts it into its own zone."""
    at, now = (datetime.fromtimestamp(s, UTC).astimezone() for s in (at_s, now_s))
    words = (
        f"{at:%H:%M}"
        if at.date() == now.date()
        else f"{at.day} {_MONTHS[at.month - 1]}, {at:%H:%M}"
    )
    return Markup('<time datetime="{}">{}</time>').format(rfc3339(at_s, digits=0), words)


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


class _Compiled(jinja2.FileSystemBytecodeCache):
    """Templates as an earlier start compiled them: that takes half a second and 5 MB.

    They lie where Python keeps what it compiles, and are believed for the same text alone; where
    nothing can be written each start compiles them.
    """

    folder = Path(str(files("dashboards"))) / "bench" / "__pycache__"

    def __init__(self) -> None:
        super().__init__(str(self.folder))

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep one that was compiled now."""
        if not sys.dont_write_bytecode:
            with suppress(OSError):
                self.folder.mkdir(exist_ok=True)
                super().dump_bytecode(bucket)


@cache
def templates() -> jinja2.Environment:
    """The pages as they lie under `dashboards`, with what all of them may use."""
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("dashboards", "bench"),
        bytecode_cache=_Compiled(),
        autoescape=True,
        auto_reload=False,  # else each page looks at the date of every template
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(
        _=texts.marked_up,
        ngettext=texts.ngettext,
        new_id=lambda: uuid.uuid4().hex,
        time=_time,
        duration=duration,
        has_chart=has_chart(),
        zone=lambda at_s: f"{datetime.fromtimestamp(at_s, UTC).astimezone():%z}",
    )
    return environment


def load_templates() -> None:
    """Read every template: later there may be no descriptor left to read one with."""
    for name in templates().list_templates(extensions=["html"]):
        templates().get_template(name)
    _script_texts()


async def script_texts(request: Request) -> Response:
    """GET /static/texts.js: the texts that the scripts write."""
    return answered(request, _script_texts())


@cache
def _script_texts() -> StaticFile:
    rendered = templates().get_template("texts.js").render()
    return file_of(rendered.encode(), "text/javascript; charset=utf-8")


# Level 6, zlib's own: 9 takes twice the time to save a tenth of a curve.
SMALL = Middleware(GZipMiddleware, minimum_size=800, compresslevel=6)

ROUTES = (
    Route("/stations/{station}/{what}", enter_at_station, methods=["POST"]),
    Route("/stations/{station}/entries/{id}/{what}", change_entry, methods=["POST"]),
    Route("/alarms/{what}", enter_at_alarm, methods=["POST"]),
    Route("/api/curve", curve, middleware=[SMALL]),
    Route("/static/texts.js", script_texts, middleware=[SMALL]),
    Route("/static/{name}", static, middleware=[SMALL]),
)
