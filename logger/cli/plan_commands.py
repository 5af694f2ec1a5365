"""Commands about the bench as a whole: `plan`, `change`, `bench-check`, `own-trials`."""

import json
from pathlib import Path
from typing import Annotated

import typer

from logger.cli.calculations import ConfigOption, JsonOption
from logger.cli.printed import print_line


def add_to(app: typer.Typer) -> None:
    """Register the commands."""
    app.command()(plan)
    app.command()(change)
    app.command("bench-check")(bench_check)
    app.command("own-trials")(own_trials)


def plan(
    calendar: Annotated[
        Path | None, typer.Option(metavar="FILE", help="write a calendar file (iCalendar)")
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option(metavar="FILE", help="write a sheet to print (HTML)")
    ] = None,
    soon: Annotated[bool, typer.Option("--soon", help="only the next 30 min")] = False,
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Plan the burns that open trials still need.

    Which candle on which station, when to light it, when to look; so that one person can do it
    within the hours under [plan]. It follows what really happened.
    """
    from logger import settings
    from logger.clock import RealClock
    from logger.reports import plan_messages
    from logger.reports.plan_calendar import plan_calendar
    from logger.reports.plan_sheet import plan_sheet
    from logger.reports.write import write
    from logger.service.bench_plans import maker_plan
    from logger.service.trial_verdict import Judging

    loaded = settings.load(settings.find(config))
    found = maker_plan(loaded, Judging(loaded.bench.data), RealClock().now_s())
    name, words = loaded.bench.name, loaded.words
    if calendar is not None:
        takes_s = loaded.plan.mark_takes_s
        text = plan_calendar(found.plan, bench=name, made_s=found.at_s, moment_s=takes_s)
        write(calendar, text)
    if sheet is not None:
        write(sheet, plan_sheet(found, name, words))
    if as_json:
        print(json.dumps(plan_messages.plan_message(found)))
        return
    all_lines = plan_messages.plan_lines(found, words)
    for line in plan_messages.next_lines(found) if soon else all_lines:
        print_line(line)


def change(
    lot: Annotated[
        str, typer.Option(metavar="LOT", help="only verdicts that rest on this lot")
    ] = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say what to burn again since lots changed.

    A verdict holds for the lots that were burned, of wax, fragrance, dye, wick and vessel, and for
    their suppliers. Enter a new lot with `formula change`, `wick change` or `vessel change`.
    """
    from logger import settings
    from logger.reports.change_messages import change_lines, change_message
    from logger.service.lot_changes import judged_lots
    from logger.service.trial_verdict import Judging

    loaded = settings.load(settings.find(config))
    found = judged_lots(loaded, Judging(loaded.bench.data))
    if lot:
        found = [one for one in found if one.hangs_on(lot)]
    if as_json:
        print(json.dumps(change_message(found)))
        return
    if lot:
        resting = ", ".join(f"{one.trial} ({one.outcome})" for one in found) or "no verdict"
        print_line(f"rests on lot {lot}: {resting}")
    for line in change_lines(found):
        print_line(line)


def bench_check(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Say whether bench, probe or room has drifted.

    By the check candle: one kept recipe, burned now and then on each station, whose trial is marked
    with `trial change NAME --check-candle yes`.
    """
    from logger import settings
    from logger.reports.bench_check_messages import bench_check_lines, bench_check_message
    from logger.service.bench_checks import checked_bench
    from logger.service.trial_verdict import Judging

    loaded = settings.load(settings.find(config))
    found = checked_bench(Judging(loaded.bench.data), loaded.words)
    if as_json:
        print(json.dumps(bench_check_message(found)))
        return
    for line in bench_check_lines(found, loaded.words):
        print_line(line)


def own_trials(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """List what every trial showed, by vessel.

    The rise above the room and the wax used in an hour, with their uncertainty: what a new vessel
    or wick is begun from. The page /own-trials draws it.
    """
    from logger import settings
    from logger.reports.own_trials_messages import own_trial_lines, own_trials_message
    from logger.service.all_trials import all_own_trials
    from logger.service.trial_verdict import Judging

    loaded = settings.load(settings.find(config))
    found = all_own_trials(Judging(loaded.bench.data))
    if as_json:
        print(json.dumps(own_trials_message(found)))
        return
    for line in own_trial_lines(found, loaded.words):
        print_line(line)
