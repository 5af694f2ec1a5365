"""What commands send to the bench: by HTTP to the service that runs, else straight to its store.

Either way the same body is checked by the same code and one writer at a time holds the data.
"""

import asyncio
import json
import time
import urllib.error
import urllib.request
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPException, HTTPResponse
from typing import Any, cast
from urllib.parse import quote

from pydantic import ValidationError

from logger.clock import RealClock
from logger.errors import DataError, Doubted, Refused, ServiceUnreachable, StoreError
from logger.intake import bodies
from logger.intake.calibration_bodies import ChannelBody
from logger.intake.kinds import KINDS
from logger.intake.photo_bodies import PhotoBody, re_encoded, taken_s
from logger.intake.refusals import refusal
from logger.intake.shelf_bodies import SHELF
from logger.reports.record_messages import BurnMessage
from logger.service import records
from logger.service.offline import enter_offline
from logger.service.shelving import put_record_here
from logger.settings import Settings
from logger.store.lock import Holder, holder
from logger.store.photos import keep
from logger.web import tokens

PATIENCE_S = 15.0  # a disk that is slow to commit still answers

Message = dict[str, Any]


def enter(settings: Settings, what: str, subject: str, body: Message) -> Message:
    """Record `what` (a key of `KINDS`) of a station, alarm or channel; the bench's answer.

    Raises DataError, Refused or Doubted as the bench does, ServiceUnreachable where a service
    holds the bench and does not answer, StoreError where it could not be saved.
    """
    body = {"id": uuid.uuid4().hex, **{key: value for key, value in body.items() if value}}
    held = holder(settings.bench.data)
    if held is None:
        return _enter_here(settings, what, subject, body)
    bench = _Bench(settings, held)
    return bench.request(_path(bench, what, subject), body)


def photo(settings: Settings, station: str, raw: bytes, body: Message) -> Message:
    """Record a photo of the candle of a station; raises as `enter` does."""
    body = {"id": uuid.uuid4().hex, **{key: value for key, value in body.items() if value}}
    held = holder(settings.bench.data)
    if held is not None:
        bench = _Bench(settings, held)
        return bench.send(_path(bench, "observations", station, "photos"), *_multipart(raw, body))
    try:
        checked = PhotoBody.model_validate(body)
    except ValidationError as exc:
        raise refusal(exc) from None
    name = keep(settings.bench.data, re_encoded(raw))
    entry = checked.of(name, RealClock().now_s(), station, taken_s(raw))
    return {**asyncio.run(enter_offline(settings, entry)).message}


def _multipart(raw: bytes, body: Message) -> tuple[bytes, str]:
    """A file `photo` and fields as RFC 7578 has them, and their content type."""
    line = f"--{(boundary := uuid.uuid4().hex)}\r\ncontent-disposition: form-data; name="
    fields = "".join(f'{line}"{name}"\r\n\r\n{value}\r\n' for name, value in body.items())
    head = f'{line}"photo"; filename="photo"\r\ncontent-type: application/octet-stream\r\n\r\n'
    sent = (fields + head).encode() + raw + f"\r\n--{boundary}--\r\n".encode()
    return sent, f"multipart/form-data; boundary={boundary}"


def put_record(settings: Settings, kind: str, name: str, way: str, body: Message) -> Message:
    """`add`, `change` or `withdraw` a record; the bench's answer. Raises as `enter` does."""
    body = {"id": uuid.uuid4().hex, **{key: value for key, value in body.items() if value}}
    held = holder(settings.bench.data)
    if held is None:
        return put_record_here(settings, kind, name, way, body)
    path = f"/api/{SHELF[kind].plural}"
    if way != "add":
        path += f"/{quote(name, safe='')}/{way}"
    return _Bench(settings, held).request(path, body)


def now(settings: Settings) -> Message | None:
    """What the running service says of the bench; None where none runs."""
    held = holder(settings.bench.data)
    return None if held is None else _Bench(settings, held).request("/api/now")


class LiveBench:
    """The running service, followed: its news, and the bench as it is."""

    def __init__(self, settings: Settings, silent_s: float) -> None:
        """Raises ServiceUnreachable where none runs; so does everything else here, and also where
        the service says nothing for `silent_s`.
        """
        held = holder(settings.bench.data)
        if held is None:
            raise ServiceUnreachable("no service runs on this bench; start it: wickbench run")
        self._bench = _Bench(settings, held, silent_s)

    def now(self) -> Message:
        """The bench as it is now."""
        return self._bench.request("/api/now")

    def events(self) -> Iterator[tuple[str, Message]]:
        """Each event of the stream with its name, until the service ends or falls silent."""
        kind = ""
        for line in self._bench.lines("/api/live"):
            field, _, content = line.partition(": ")
            if field == "event":
                kind = content
            elif field == "data":
                yield kind, json.loads(content)


def burn(settings: Settings, burn_id: str) -> BurnMessage:
    """A stored burn; raises as `enter` does."""
    held = holder(settings.bench.data)
    if held is None:
        return records.burn_message(settings.bench.data, burn_id)
    return cast("BurnMessage", _Bench(settings, held).request(f"/api/burns/{quote(burn_id)}"))


def settled(settings: Settings, within_s: float) -> Message:
    """What the running service says once every channel has a good estimate, or after `within_s`."""
    names = {channel.name for channel in settings.channels}
    until_s = time.monotonic() + within_s
    while True:
        bench = now(settings)
        if bench is None:
            raise ServiceUnreachable("the bench's service has just ended: ask again")
        estimates = {one["name"]: one["estimate"] for one in bench["channels"]}
        good = {name for name, one in estimates.items() if one and one["quality"] == "good"}
        if names <= good or time.monotonic() > until_s:
            return bench
        time.sleep(0.5)


def _path(bench: "_Bench", what: str, subject: str, last: str = "") -> str:
    kind = KINDS[what]
    if kind is bodies.LitBody:
        return "/api/burns"
    if issubclass(kind, bodies.AlarmBody):
        return f"/api/alarms/{quote(subject)}/{what}"
    if issubclass(kind, bodies.HandBody):
        return f"/api/readings/{quote(subject)}/{what}"
    if issubclass(kind, bodies.EntryBody):
        return f"/api/entries/{quote(subject)}/{what}"
    if issubclass(kind, ChannelBody):
        return f"/api/channels/{quote(subject)}/{what}"
    stations = {one["station"]: one for one in bench.request("/api/now")["stations"]}
    station = stations.get(subject)
    if station is None:
        raise Refused(f"no station {subject}; the bench has: {', '.join(stations)}")
    if station["burn"] is None:
        raise Refused(f"{subject} has no burn yet: record the lighting first")
    return f"/api/burns/{station['burn']}/{last or what}"


def _enter_here(settings: Settings, what: str, subject: str, body: Message) -> Message:
    now_s = RealClock().now_s()
    try:
        checked = KINDS[what].model_validate(body)
    except ValidationError as exc:
        raise refusal(exc) from None
    if isinstance(checked, bodies.LitBody):
        entry = checked.entry(now_s)
    else:
        entry = checked.entry(now_s, subject)
    return {**asyncio.run(enter_offline(settings, entry, sure=checked.sure)).message}


class _Bench:
    """The running service, spoken to as its owner: with the token of the data folder, if any."""

    def __init__(self, settings: Settings, held: Holder, patience_s: float = PATIENCE_S) -> None:
        self._held = held
        self._patience_s = patience_s
        self._headers: dict[str, str] = {}
        token = tokens.known(settings.bench.data)
        if token is not None:
            self._headers["authorization"] = f"Bearer {token.reveal()}"

    def request(self, path: str, body: Message | None = None) -> Message:
        """Its answer to JSON, or to a question; raises as `enter` does."""
        return self.send(path, None if body is None else json.dumps(body).encode())

    def send(self, path: str, data: bytes | None, kind: str = "application/json") -> Message:
        """Its answer to `data` of a content type; raises as `enter` does."""
        with self._answering(path, data, kind) as response:
            answer: Message = json.load(response)
            return answer

    def lines(self, path: str) -> Iterator[str]:
        """Its answer line by line, as they come. Raises ServiceUnreachable where it ends."""
        with self._answering(path) as response:
            for line in response:
                yield line.decode().rstrip("\n")
        raise ServiceUnreachable("the bench's service has ended")

    @contextmanager
    def _answering(
        self, path: str, data: bytes | None = None, kind: str = "application/json"
    ) -> Iterator[HTTPResponse]:
        held = self._held
        if held.address is None:
            raise ServiceUnreachable(f"the bench's service (process {held.pid}) is still starting")
        request = urllib.request.Request(  # noqa: S310 - http, to the address in our own lock file
            held.address + path,
            data=data,
            headers={**self._headers, "content-type": kind},
        )
        try:
            with _OPENER.open(request, timeout=self._patience_s) as response:
                yield response
        except urllib.error.HTTPError as exc:
            raise _problem(exc) from None
        except (OSError, ValueError, HTTPException) as exc:
            raise ServiceUnreachable(
                f"the bench's service (process {held.pid}, {held.address}) does not answer: {exc}; "
                "look at its log, or stop it and start it again"
            ) from exc


_OPENER = urllib.request.build_opener(urllib.request.ProxyHandler({}))
"""Past any proxy of the environment, which would be shown the token, and is refused anyway."""


def _problem(exc: urllib.error.HTTPError) -> Exception:
    try:
        found = json.load(exc)
        detail = str(found["detail"])
        if "question" in found:
            return Doubted(str(found["question"]))
    except (ValueError, KeyError, TypeError):
        detail = f"the service answered {exc.code}"
    kinds: dict[int, type[Exception]] = {
        401: ServiceUnreachable,
        403: ServiceUnreachable,
        409: Refused,
        503: StoreError,
    }
    return kinds.get(exc.code, DataError)(detail)
