"""The command that answers the maker's question: `judge`."""

import json
from collections.abc import Iterator
from typing import TYPE_CHECKING

import typer

from logger.cli.calculations import ConfigOption, JsonOption
from logger.cli.printed import FOUND_FAULTS, print_line
from logger.cli.report_commands import TrialArgument

if TYPE_CHECKING:
    from logger.reports.verdict_messages import NextStepMessage, TrialMessage


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command()(judge)


def judge(trial: TrialArgument, config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Judge a trial: verdict, reasons, what to try next.

    Pass, fail or undecided, or for a shared pour "worth making"; what is missing, the smallest next
    burn that would decide it, and whose limit each is. Exit code 4 if the trial fails.
    """
    from logger import settings
    from logger.decision.criteria import Outcome
    from logger.service.trial_verdict import Judging

    found = Judging(settings.load(settings.find(config)).bench.data).message(trial)
    if as_json:
        print(json.dumps(found))
    else:
        for line in _lines(found):
            print_line(line)
    raise typer.Exit(FOUND_FAULTS if found["outcome"] == Outcome.FAIL else 0)


def _lines(found: "TrialMessage") -> Iterator[str]:
    burns = len(found["burns"])
    yield f"{found['trial']}: {found['outcome'].upper()}, by {burns} burn{'s' * (burns != 1)}"
    if found["in_warmest_room"]:
        yield f"  {found['in_warmest_room']}"
    for one in sorted(found["criteria"], key=lambda one: one["outcome"] != found["outcome"]):
        of_burn = f" (burn {one['burn']})" if one["burn"] else ""
        yield f"  {one['outcome']}: {one['title']}{of_burn}"
        if one["reason"]:
            yield f"    {one['reason']}"
        if one["asks"]:
            yield f"    limit {one['asks']}, {one['origin']}"
    for gap in found["missing"]:
        if gap["decides"]:
            of_burn = f", burn {gap['number']}" if gap["number"] else ""
            yield f"  missing{of_burn}: {gap['text']}"
    if found["smallest_next_burn"]:
        yield "  the smallest next burn that would decide it:"
        yield from (f"    {step}" for step in found["smallest_next_burn"]["steps"])
    yield from _next(found["next_step"])
    if found["starting_sizes"]:
        sizes = found["starting_sizes"]
        yield f"  begin with: {', '.join(sizes['wicks']) or 'not known'}. {sizes['reason']}"
    if found["burns"]:
        yield f"  to be expected: {found['outlook']}"
    for label, texts in (
        ("weaker evidence", found["weaker"]),
        ("not judged", found["not_judged"]),
        ("holds for", found["lots"]),
        ("does not hold for a new lot (see wickbench change)", found["not_for"]),
        ("worth knowing", [gap["text"] for gap in found["missing"] if not gap["decides"]]),
    ):
        for text in dict.fromkeys(texts):
            yield f"  {label}: {text}"


def _next(found: "NextStepMessage | None") -> Iterator[str]:
    if found is None:
        return
    wick = f" ({found['wick']})" if found["wick"] else ""
    yield f"  next: {found['step']}{wick}. {found['reason'][0].upper()}{found['reason'][1:]}"
    for one in found["signs"]:
        side = "too large" if one["hot"] else "too small"
        burn = f", burn {one['burn']}" if one["burn"] else ""
        yield f"    speaks for {side} a wick: {one['text']}{burn}"
    if found["expected"]:
        yield f"    {found['expected']}"
