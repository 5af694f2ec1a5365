"""Commands for what a person does and sees at the bench: `burn ...` and `alarm ...`."""

import json
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from logger.burn.safety import CHECKS, FIRST_WORDS, GET_OUT, emergency_advice
from logger.burn.stated import Circumstances, Ending
from logger.cli.calculations import ConfigOption, JsonOption, UnitOption, symbol, typed_unit
from logger.cli.completion import station_names, trial_names
from logger.cli.field_options import asking
from logger.cli.numbers import number_option
from logger.cli.printed import print_line
from logger.errors import UsageError, WickbenchError

if TYPE_CHECKING:
    from logger.reports.record_messages import BurnMessage

burn = typer.Typer(help="Record what you do and see at the candle.", no_args_is_help=True)
alarm = typer.Typer(help="List, acknowledge or shelve alarms.", no_args_is_help=True)

AtOption = Annotated[str, typer.Option("--at", help='when: "now", "25 min ago", "14:05"')]
ByOption = Annotated[str, typer.Option("--by", help="who records this")]
Station = Annotated[
    str,
    typer.Argument(metavar="STATION", help="as in the configuration", autocompletion=station_names),
]
WaxOption = Annotated[str, typer.Option(help='poured into a new candle, as "220 g"; once for each')]
YesOption = Annotated[bool, typer.Option("--yes", help="keep it, although the bench doubts it")]
AlarmName = Annotated[
    str, typer.Argument(metavar="ALARM", help="as `alarm list` names it: wall-limit/jar-a-wall-3")
]


def add_to(app: typer.Typer) -> None:
    """Register the groups."""
    app.add_typer(burn, name="burn")
    app.add_typer(alarm, name="alarm")


@burn.command()
@asking(Circumstances)
def lit(
    station: Station,
    trial: Annotated[
        str,
        typer.Option(
            help="the trial it belongs to; a new name makes one", autocompletion=trial_names
        ),
    ] = "",
    tester: Annotated[str, typer.Option(help="the code written on the vessel")] = "",
    watched_by: Annotated[str, typer.Option(help="who keeps the candle in sight")] = "",
    checked: Annotated[
        bool, typer.Option("--checked", help="all checks before lighting are confirmed")
    ] = False,
    mass: Annotated[str, typer.Option(help='of the candle, weighed before, as "532.4 g"')] = "",
    wax: WaxOption = "",
    new_trial: Annotated[
        bool, typer.Option("--new-trial", help="a new trial, despite a name much like another's")
    ] = False,
    reason: Annotated[
        str, typer.Option(help="why it is lit though its vessel is not cleared")
    ] = "",
    yes: YesOption = False,
    at: AtOption = "now",
    by: ByOption = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
    *,
    stated: dict[str, str],
) -> None:
    """Record that a candle was lit.

    Asks for what is to be checked before.
    """
    confirmed = list(CHECKS.values()) if checked else []
    if sys.stdin.isatty():
        if not tester:
            trial = trial or typer.prompt("Trial (a new name makes a new one)")
        if trial:
            trial, new_trial = _which_trial(config, trial, new_trial)
        watched_by = watched_by or typer.prompt("Who keeps it in sight until it is out")
        if not checked:
            confirmed = [check for check in CHECKS.values() if typer.confirm(f"{check}. Is it so?")]
    needed = {"--trial NAME": trial or tester, "--watched-by NAME": watched_by}
    missing = [option for option, given in needed.items() if not given]
    if missing:
        raise UsageError(f"a burn also needs {', '.join(missing)}")
    body = {
        "station": station,
        "trial": trial,
        "tester": tester,
        "watched_by": watched_by,
        "checks": confirmed,
        "mass": mass,
        "wax": wax,
        "new_trial": new_trial,
        "reason": reason,
        "at": at,
        "by": by,
        "sure": yes,
        **stated,
    }
    said = f". {watched_by} keeps it in sight; the tool does not"
    if left := len(CHECKS) - len(confirmed):
        said += f". Not confirmed: {left} of {len(CHECKS)} checks (--checked confirms them all)"
    enter(config, "lit", station, body, more=said, as_json=as_json)


@burn.command()
@asking(Ending)
def out(
    station: Station,
    at: AtOption = "now",
    by: ByOption = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
    *,
    stated: dict[str, str],
) -> None:
    """Record that a candle is out: you saw it."""
    more = ". The wax is hot: leave the vessel where it stands"
    body = {"at": at, "by": by, **stated}
    burn_id = enter(config, "out", station, body, more=more, as_json=as_json)
    if not as_json:
        _print_lines(config, burn_id, lambda found: [_proved(found)])


@burn.command(context_settings={"ignore_unknown_options": True})
def read(
    station: Station,
    values: Annotated[list[str], typer.Argument(metavar="VALUE", help="read in one go")],
    unit: UnitOption = "",
    place: Annotated[str, typer.Option(help="wall, rim, base, melt-pool, support, room")] = "wall",
    height: Annotated[str, typer.Option(help='above the outside base, as "60 mm"')] = "",
    clock: Annotated[
        int, typer.Option(help="1 to 12, from the mark on the vessel", show_default=False)
    ] = 0,
    emissivity: Annotated[
        float, number_option("infrared: of the surface", show_default=False)
    ] = 0.0,
    emissivity_set: Annotated[
        float, number_option("infrared: the setting of the instrument", show_default=False)
    ] = 0.0,
    reflected: Annotated[
        str, typer.Option(help='infrared: reflected temperature, mostly the room, as "22 degC"')
    ] = "",
    yes: YesOption = False,
    at: AtOption = "now",
    by: ByOption = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Record readings of one place taken by hand.

    Flame hits are set aside and shown. What is improbable is asked about once.
    """
    from logger.units import parse_number

    body = {
        "values": [parse_number(value) for value in values],
        "unit": typed_unit(unit, config),
        "place": place,
        "height": height,
        "clock": clock,
        "emissivity": emissivity,
        "emissivity_set": emissivity_set,
        "reflected": reflected,
        "at": at,
        "by": by,
        "sure": yes,
    }
    answer = _entered(config, "readings", station, body | {"where": "terminal"})
    if as_json:
        print(json.dumps(answer))
        return
    for line in _what_was_read(station, answer):
        print_line(line)


@burn.command()
def move(
    reading: Annotated[
        str, typer.Argument(metavar="READING_ID", help="as `burn entries` shows it")
    ],
    station: Annotated[
        str,
        typer.Argument(
            metavar="STATION", help="the station it belongs to", autocompletion=station_names
        ),
    ],
    by: ByOption = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Move a reading that was typed at the wrong jar."""
    body = {"station": station, "by": by}
    enter(config, "move", reading, body, as_json=as_json)


@burn.command()
def weigh(
    station: Station,
    mass: Annotated[str, typer.Argument(metavar="MASS", help='of the whole candle, as "511.0 g"')],
    wax: WaxOption = "",
    yes: YesOption = False,
    at: AtOption = "now",
    by: ByOption = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Record what the candle weighs, cold.

    Once it is out, or with --at before it was lit. Where the wax poured is known, so is the share
    that each burn used, and after three burns the peak predicted for the last quarter of the wax.
    """
    body = {"mass": mass, "wax": wax, "at": at, "by": by, "sure": yes}
    burn_id = enter(config, "weigh-ins", station, body, as_json=as_json)
    if not as_json:
        _print_lines(config, burn_id, lambda found: [*found["weighed"]["words"], _proved(found)])


@burn.command()
def note(
    station: Station,
    text: Annotated[str, typer.Argument(metavar="TEXT", help="what you see")],
    at: AtOption = "now",
    by: ByOption = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Record a note."""
    body = {"text": text, "at": at, "by": by}
    enter(config, "observations", station, body, as_json=as_json)


_ACT = "\n\n".join(f"{what}: {'. '.join(do)}." for what, do in FIRST_WORDS.items())


@burn.command(help=f"Record an emergency; act first.\n\n{_ACT}\n\n{GET_OUT}.")
def emergency(
    station: Station,
    what: Annotated[
        str,
        typer.Argument(
            metavar="WHAT", help="flame-too-high, flame-on-wall, flash-over, crack or other"
        ),
    ],
    text: Annotated[str, typer.Option(help="in your words")] = "",
    by: ByOption = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Record an emergency, and print what to do in this one."""
    from logger.burn.entries import Danger

    known = Danger(what) if what in list(Danger) else Danger.OTHER  # a wrong one is refused below
    body = {"emergency": what, "text": text, "by": by}
    more = f". {'. '.join(emergency_advice(known))}"
    enter(config, "observations", station, body, more=more, as_json=as_json)


@burn.command("in-sight")
def in_sight(
    station: Station, by: ByOption = "", config: ConfigOption = None, as_json: JsonOption = False
) -> None:
    """Say who has the candle in sight."""
    enter(config, "in-sight", station, {"by": by}, as_json=as_json)


@alarm.command("list")
def list_alarms(config: ConfigOption = None, as_json: JsonOption = False) -> None:
    """List the alarms that stand.

    As the running service has them: name, signal word, state, what to do.
    """
    from logger import settings
    from logger.errors import ServiceUnreachable
    from logger.service import client

    bench = client.now(settings.load(settings.find(config)))
    if bench is None:
        raise ServiceUnreachable("no service runs for this bench: nothing is being watched")
    if as_json:
        print(json.dumps(bench["alarms"]))
        return
    for one in bench["alarms"]:
        by = f" by {one['acknowledged_by']}" if one["acknowledged_by"] else ""
        state = f"{one['state']}{by}"
        print_line(f"{one['alarm']}  {one['priority']}  {state}  {one['text']}")
    if not bench["alarms"]:
        print("no alarm stands")


@alarm.command()
def acknowledge(
    name: AlarmName, by: ByOption = "", config: ConfigOption = None, as_json: JsonOption = False
) -> None:
    """Say that you have seen an alarm.

    It means that you are at the candle, and changes nothing there.

    What was announced in the same line, as of one pulled plug, is acknowledged with it.
    A warning that nobody acknowledges is repeated after 2 min, then every 5; a wall still over
    the limit 10 min after it was acknowledged is raised again.
    """
    body = {"by": by, "where": "terminal", "together": True}
    enter(config, "acknowledge", name, body, as_json=as_json)


@alarm.command()
def shelve(
    name: AlarmName,
    lasts: Annotated[str, typer.Option("--for", help='how long, as "30 min"')],
    by: ByOption = "",
    config: ConfigOption = None,
    as_json: JsonOption = False,
) -> None:
    """Set a notice or caution aside for a while.

    At most 24 h; never a warning or danger.
    No reminders meanwhile, unless it becomes a warning: that is raised at once.
    """
    body = {"by": by, "lasts": lasts}
    enter(config, "shelve", name, body, more=f" for {lasts}", as_json=as_json)


def _which_trial(config: Path | None, trial: str, new: bool) -> tuple[str, bool]:
    """The trial that is meant, and whether it is a new one, where a known one is nearly so."""
    from logger import settings
    from logger.burn.trials import nearly
    from logger.service import records

    data = settings.load(settings.find(config)).bench.data
    alike = None if new else nearly(trial, records.trial_names(data))
    if alike is None:
        return trial, new
    if typer.confirm(f"There is a trial {alike}. Is this a burn of it?", default=True):
        return alike, False
    return trial, True


def enter(
    config: Path | None,
    what: str,
    subject: str,
    body: dict[str, Any],
    *,
    more: str = "",
    as_json: bool,
) -> str:
    """Record it and print what came of it, with `more` that a person should know; its burn."""
    answer = _entered(config, what, subject, body)
    if what == "lit" and answer["number"] is not None:
        more = f", burn {answer['number']}{more}"
    print_line(json.dumps(answer) if as_json else f"{answer['text']}{more}")
    return answer["burn"] or ""


def _print_lines(
    config: Path | None, burn_id: str, lines: "Callable[[BurnMessage], Iterable[str]]"
) -> None:
    """Print what is stored of a burn; nothing where it cannot be read or is not saved yet."""
    from logger import settings
    from logger.service import client

    with suppress(WickbenchError):
        found = client.burn(settings.load(settings.find(config)), burn_id)
        if found["out"] is not None:
            for line in lines(found):
                print_line(line)


def _proved(found: "BurnMessage") -> str:
    return f"What it proves: {'; '.join(one['text'] for one in found['proves'])}"


def _entered(config: Path | None, what: str, subject: str, body: dict[str, Any]) -> dict[str, Any]:
    from logger import settings
    from logger.service import client

    return client.enter(settings.load(settings.find(config)), what, subject, body)


def _what_was_read(station: str, answer: dict[str, Any]) -> Iterator[str]:
    from logger.burn.ledger import SHOWN_ID

    spread = 2.0 * answer["standard_uncertainty"]  # expanded, k = 2 (GUM 6.2.1)
    doubt = "" if answer["quality"] == "good" else f", {answer['quality']}: read more of them"
    unit = symbol(answer["unit"])
    yield f"{station}: recorded {answer['value']:.1f} ± {spread:.1f} {unit}{doubt}"
    if answer["set_aside"]:
        hits = " ".join(f"{value:g}" for value in answer["set_aside"])
        yield f"set aside, far above the rest (the flame?): {hits}"
    yield f"wrong? wickbench burn correct {answer['id'][:SHOWN_ID]} --help"
