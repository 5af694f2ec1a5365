"""Commands that put trials side by side: `compare`, `costs`."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from logger.cli.calculations import ConfigOption, JsonOption
from logger.cli.completion import trial_names
from logger.cli.printed import print_line

if TYPE_CHECKING:
    from logger.reports.comparison_messages import ComparedTrialMessage, ComparisonMessage
    from logger.reports.cost_messages import SeriesCostsMessage, SpentMessage
    from logger.words import Words

TrialsArgument = Annotated[
    list[str], typer.Argument(metavar="TRIAL", autocompletion=trial_names, help="as it is called")
]


def add_to(app: typer.Typer) -> None:
    """Register the commands."""
    app.command()(compare)
    app.command()(costs)


def compare(
    trials: TrialsArgument,
    client: Annotated[
        Path | None, typer.Option(metavar="FILE", help="write the page for a client: FILE.html")
    ] = None,
    units: Annotated[str, typer.Option(help="of that page: metric or us; else yours")] = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Compare trials in the same room, the best first.

    Differences count where they are larger than their uncertainty. The page /compare has the curves
    in one drawing.
    """
    from logger import settings
    from logger.reports.comparison_messages import comparison
    from logger.reports.write import write
    from logger.service import comparing
    from logger.service.trial_verdict import Judging

    loaded = settings.load(settings.find(config))
    judging = Judging(loaded.bench.data)
    if client is not None:
        write(client, comparing.client_page(judging, trials, units, loaded.bench))
    found = comparison(comparing.compared(judging, trials, loaded.words), loaded.words)
    if as_json:
        print(json.dumps(found))
        return
    for line in _compared(found):
        print_line(line)
    if client is not None:
        print_line(f"for a client: {client}")


def costs(trials: TrialsArgument, config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """Show what the candles of trials cost.

    By the prices on the shelf; a shared pour counts once. A price that is not there is named.
    """
    from logger import settings
    from logger.reports.cost_messages import series_costs
    from logger.service import comparing
    from logger.service.trial_verdict import Judging

    loaded = settings.load(settings.find(config))
    found = series_costs(comparing.costs_of(Judging(loaded.bench.data), trials))
    if as_json:
        print(json.dumps(found))
        return
    for line in _costs(found, loaded.words):
        print_line(line)


def _compared(found: "ComparisonMessage") -> Iterator[str]:
    from logger.reports.trial_pairs import pairs

    yield found["sentence"]
    for one in found["trials"]:
        yield from _trial(one)
    for pair in pairs(found):
        yield f"{pair.one} beside {pair.other}"
        for line in pair.lines:
            yield f"  {line.text}"
    for remark in found["remarks"]:
        yield f"{remark}."


def _trial(one: "ComparedTrialMessage") -> Iterator[str]:
    from logger.words import duration

    place = "-" if one["rank"] is None else str(one["rank"])
    yield f"{place}  {one['trial']}: {one['reason']}"
    for figure in one["figures"]:
        yield f"     {figure['title']}: {figure['text']}"
    if one["warmest_room"]:
        yield f"     At most in the warmest room: {one['warmest_room']}"
    for judged in one["criteria"]:
        why = f" ({judged['reason']})" if judged["reason"] else ""
        yield f"     {judged['outcome']}: {judged['title']}{why}"
    if one["burns"]:
        where = "; compared on the shared pour" if one["shared_pour"] else ""
        burns = "1 burn" if one["burns"] == 1 else f"{one['burns']} burns"
        yield f"     {duration(one['hours'] * 3600.0)} in {burns}{where}"


def _costs(found: "SeriesCostsMessage", words: "Words") -> Iterator[str]:
    from logger.words import duration

    for one in found["trials"]:
        hours = duration(one["hours"] * 3600.0)
        yield f"{one['trial']}: {one['text']}, {_candles(one)} of its own, {hours} burned"
        yield from _lines(one, words)
    pours = found["shared_pours"]
    if pours["candles"]:
        yield f"shared pour, for all its wicks: {pours['text']}, {_candles(pours)}"
        yield from _lines(pours, words)
    total, separate = found["total"], found["separate"]
    wax = words.mass(total["wax_g"])
    yield (
        f"together: {total['text']} in your currency, {_candles(total)}, {wax} of wax, fragrance "
        f"and dye, {duration(found['hours'] * 3600.0)} burned"
    )
    if pours["candles"]:
        yield (
            f"each wick in a candle of its own: {separate['text']}, {_candles(separate)}, "
            f"{words.mass(separate['wax_g'])}"
        )
    for gap in total["missing"]:
        yield f"not counted: {gap}"


def _lines(spent: "SpentMessage", words: "Words") -> Iterator[str]:
    for line in spent["lines"]:
        used = words.mass(line["used"]) if line["unit"] else f"{line['used']:g}"
        yield f"  {line['what']}: {used}, {line['text']}"


def _candles(spent: "SpentMessage") -> str:
    return f"{spent['candles']} candle{'' if spent['candles'] == 1 else 's'}"
