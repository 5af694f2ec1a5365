"""What lies ahead of the bench: its plan, what new lots ask for, what the check candle tells."""

from itertools import groupby

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response
from starlette.routing import Route

from logger.planning.maker_plan import moments
from logger.reports.bench_check_messages import bench_check_lines, bench_check_message
from logger.reports.change_messages import PRACTICE, change_message
from logger.reports.ewma_chart import ewma_chart
from logger.reports.own_trials_chart import own_trials_chart
from logger.reports.own_trials_messages import own_trial_lines, own_trials_message
from logger.reports.plan_calendar import plan_calendar
from logger.reports.plan_messages import plan_message, supply_lines
from logger.reports.plan_sheet import plan_sheet
from logger.timestamps import clock, day_words
from logger.web.api import ALONE, bench_of
from logger.web.pages import HEADERS, SMALL, page
from logger.web.work import aside


async def plan(request: Request) -> Response:
    """GET /api/plan: who burns what, where and when."""
    return JSONResponse(plan_message(await aside(bench_of(request).plan)))


async def plan_page(request: Request) -> Response:
    """GET /plan: what is next, day by day, what slipped and what it costs."""
    bench = bench_of(request)
    found = await aside(bench.plan)
    by_day = groupby(moments(found.plan.burns), key=lambda one: day_words(one.at_s))
    return page(
        bench,
        "plan.html",
        found=found,
        told=plan_message(found),
        days=[(day, list(of_day)) for day, of_day in by_day],
        supplies=list(supply_lines(found, bench.settings.words)),
        clock=clock,
    )


async def sheet_page(request: Request) -> Response:
    """GET /plan/sheet: the same to print."""
    bench = bench_of(request)
    found = await aside(bench.plan)
    text = plan_sheet(found, bench.settings.bench.name, bench.settings.words)
    return HTMLResponse(text, headers=ALONE)


async def calendar(request: Request) -> Response:
    """GET /plan.ics: lightings, marks and outs for a calendar."""
    bench = bench_of(request)
    found = await aside(bench.plan)
    text = plan_calendar(
        found.plan,
        bench=bench.settings.bench.name,
        made_s=found.at_s,
        moment_s=bench.settings.plan.mark_takes_s,
    )
    return Response(text, media_type="text/calendar", headers=HEADERS)


async def change(request: Request) -> Response:
    """GET /api/change: every verdict with the lots that it rests on, and what has changed."""
    return JSONResponse(change_message(await aside(bench_of(request).judged_lots)))


async def change_page(request: Request) -> Response:
    """GET /change: what new lots ask to be burned again."""
    bench = bench_of(request)
    found = await aside(bench.judged_lots)
    return page(bench, "change.html", judged=change_message(found)["trials"], practice=PRACTICE)


async def bench_check(request: Request) -> Response:
    """GET /api/bench-check: whether bench, probe or room has drifted, by the check candle."""
    return JSONResponse(bench_check_message(await aside(bench_of(request).bench_check)))


async def bench_check_page(request: Request) -> Response:
    """GET /bench-check: the check candle's charts."""
    bench = bench_of(request)
    check = await aside(bench.bench_check)
    return page(
        bench,
        "bench_check.html",
        check=check,
        lines=list(bench_check_lines(check, bench.settings.words)),
        charts=[(one, Markup(ewma_chart(one, bench.settings.words))) for one in check.charts],  # noqa: S704 - our own SVG
    )


async def own_trials(request: Request) -> Response:
    """GET /api/own-trials: heat and consumption of all trials, by vessel, wick and formula."""
    return JSONResponse(own_trials_message(await aside(bench_of(request).own_trials)))


async def own_trials_page(request: Request) -> Response:
    """GET /own-trials: the same, drawn."""
    bench = bench_of(request)
    found, words = await aside(bench.own_trials), bench.settings.words
    return page(
        bench,
        "own_trials.html",
        lines=list(own_trial_lines(found, words)),
        drawing=Markup(own_trials_chart(found, words) if found else ""),  # noqa: S704 - our own SVG
    )


ROUTES = (
    Route("/api/own-trials", own_trials, middleware=[SMALL]),
    Route("/own-trials", own_trials_page, middleware=[SMALL]),
    Route("/api/change", change, middleware=[SMALL]),
    Route("/change", change_page, middleware=[SMALL]),
    Route("/api/bench-check", bench_check, middleware=[SMALL]),
    Route("/bench-check", bench_check_page, middleware=[SMALL]),
    Route("/api/plan", plan, middleware=[SMALL]),
    Route("/plan", plan_page, middleware=[SMALL]),
    Route("/plan/sheet", sheet_page, middleware=[SMALL]),
    Route("/plan.ics", calendar),
)
