"""Lighting known candles from a list, at several stations with one look at the checks."""

import asyncio
import logging
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, cast
from urllib.parse import parse_qsl, urlencode

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from logger.burn import safety
from logger.burn.model import Burn, BurnPhase
from logger.burn.shared_pour import next_wick, wicks_in_order
from logger.burn.trials import name_key
from logger.errors import DataError, Doubted, Refused, WickbenchError
from logger.intake.bodies import LitBody
from logger.intake.shelf_bodies import record_of
from logger.shelf.candles import TesterRecord, TrialRecord
from logger.shelf.wicks import WickingRecord
from logger.store.queries import open_read
from logger.web import form_bodies, posted, station
from logger.web.api import bench_of
from logger.web.bench_service import BenchService
from logger.web.pages import HEADERS, checked, page, path_of, problem_page
from logger.web.work import aside

log = logging.getLogger(__name__)

PATIENCE_S = 1.0  # for the list; a candle can be recorded lit on its own page without (our choice)
RECENT = 60  # burns that are looked through for what was lit last (our choice)
MOST = 40  # candles on the list (our choice)
IN_SIGHT = 5  # of these before "more": what a thumb reaches without scrolling (our choice)


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownCandle:
    """A trial, and the code of its tester where it has one."""

    trial: str
    tester: str = ""
    lit_s: float | None = None  # last
    next_wick: str = ""  # of a shared pour: the wick whose turn it is

    @property
    def value(self) -> str:
        """As its form sends it."""
        return urlencode({"trial": self.trial, "tester": self.tester})

    @property
    def words(self) -> str:
        """As a person calls it."""
        return f"{self.trial}, {self.tester}" if self.tester else self.trial


async def light_page(request: Request) -> Response:
    """GET /light."""
    bench = bench_of(request)
    candles: Sequence[KnownCandle] = ()
    try:
        candles = await asyncio.wait_for(aside(_known, bench), PATIENCE_S)
    except (WickbenchError, TimeoutError) as exc:
        log.warning("the candles that were lit before cannot be listed: %s", exc or "no answer")
    statuses = station.statuses(bench)
    return page(
        bench,
        "light.html",
        free=[one for one in statuses if one.phase is not BurnPhase.LIT],
        candles=candles[:IN_SIGHT],
        more=candles[IN_SIGHT:],
        stations=statuses,
    )


async def light(request: Request) -> Response:
    """POST /light: every station for which a candle is named, each an entry of its own."""
    bench = bench_of(request)
    typed = b""
    try:
        typed = await posted.raw(request)
        found = form_bodies.fields(typed)
        now_s = bench.now_s()
        tapped_s = form_bodies.tapped_s(found, now_s)
        chosen = {
            name: candle
            for name in bench.hub.statuses
            if (candle := str(found.get(f"candle-{name}", "")))
        }
        if not chosen:
            raise DataError("choose the candle that is lit")
        bodies = [_body(name, candle, found) for name, candle in chosen.items()]
        lit = [replace(body.entry(tapped_s), entered_s=now_s) for body in bodies]
        answers = await asyncio.gather(
            *(bench.enter(entry, sure=body.sure) for entry, body in zip(lit, bodies, strict=True)),
            return_exceptions=True,
        )
        _raise_what_failed(dict(zip(chosen, answers, strict=True)))
    except Doubted as exc:
        return problem_page(bench, exc, again="/light", asked=form_bodies.pairs(typed))
    except WickbenchError as exc:
        return problem_page(bench, exc)
    where = path_of(bench, next(iter(chosen)) if len(chosen) == 1 else "")
    return RedirectResponse(where, status_code=303, headers=HEADERS)


def _body(name: str, candle: str, found: Mapping[str, Any]) -> LitBody:
    what = {key: value for key, value in parse_qsl(candle) if key in ("trial", "tester")}
    shared = {key: found[key] for key in ("at", "watched_by", "reason", "sure") if key in found}
    return cast(
        "LitBody",
        checked(
            LitBody,
            {
                **shared,
                **what,
                "id": f"{found.get('id', '')}-{name}"[-64:],
                "station": name,
                "checks": [*safety.CHECKS] if found.get("all_checked") else [],
            },
        ),
    )


def _raise_what_failed(answers: Mapping[str, object]) -> None:
    """In a line for all: those that are recorded burn, and are not to be entered again."""
    failed = {name: one for name, one in answers.items() if isinstance(one, BaseException)}
    if not failed:
        return
    for one in failed.values():
        if not isinstance(one, WickbenchError):
            raise one
    said = [f"{name}: {one}" for name, one in failed.items()]
    recorded = [f"{name} is recorded lit" for name in answers if name not in failed]
    text = ". ".join([*recorded, *said])
    raise (
        Doubted(text)
        if all(isinstance(one, Doubted) for one in failed.values())
        else (Refused(text))
    )


def _known(bench: BenchService) -> list[KnownCandle]:
    """What can be lit again, the last used first; then what is on the shelf and never was lit."""
    with open_read(bench.data) as reader:
        burns = reader.latest_burns(RECENT)
        trials, testers = reader.shelf("trial"), reader.shelf("tester")
        wickings = {one.name: record_of(one) for one in reader.shelf("wicking")}
    of_wick: dict[str, str] = {}  # the trial of each wick
    for version in trials:
        trial_record = cast("TrialRecord", record_of(version))
        wicking = cast("WickingRecord | None", wickings.get(trial_record.wicking))
        if wicking is not None and wicking.wick and not version.withdrawn:
            of_wick.setdefault(wicking.wick, version.name)
    gone = {one.name for one in (*trials, *testers) if one.withdrawn}
    found: dict[tuple[str, str], KnownCandle] = {}
    for burn in burns:
        if not (burn.withdrawn or {burn.trial, burn.tester} & gone):
            found.setdefault(burn.candle if burn.tester else (burn.trial, ""), _as_lit(burn))
    for record in (record_of(version) for version in testers if not version.withdrawn):
        one = cast("TesterRecord", record)
        if one.shared_pour == "yes" and _turn(one, burns, of_wick, found):
            continue
        trial = one.trial
        if trial and trial not in gone:
            key = trial, name_key(one.name)
            found.setdefault(key, KnownCandle(trial=trial, tester=one.name))
    with_one = {candle.trial for candle in found.values()}
    for version in trials:
        if not version.withdrawn and version.name not in with_one:
            found[version.name, ""] = KnownCandle(trial=version.name)
    return [*found.values()][:MOST]


def _turn(
    tester: TesterRecord,
    burns: Sequence[Burn],
    of_wick: Mapping[str, str],
    found: dict[tuple[str, str], KnownCandle],
) -> bool:
    """Put the next wick of a shared pour where the one before it stands; False: there is none."""
    code = name_key(tester.name)
    mine = [one for one in burns if not one.withdrawn and name_key(one.tester) == code]
    turn = next_wick(wicks_in_order(tester.wick_order), mine, of_wick)
    if turn is None:
        return False
    key = "", code  # as burns of a shared pour name their candle
    lit_s = max((one.lit_s for one in mine), default=None)
    found[key] = KnownCandle(trial=turn.trial, tester=tester.name, lit_s=lit_s, next_wick=turn.wick)
    return True


def _as_lit(burn: Burn) -> KnownCandle:
    return KnownCandle(trial=burn.trial, tester=burn.tester, lit_s=burn.lit_s)


ROUTES = (
    Route("/light", light_page),
    Route("/light", light, methods=["POST"]),
)
