"""The command line: parse, call one function, print, exit code."""

import sys
from functools import cache
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperArgument, TyperCommand, TyperGroup
from typer.main import get_group

from logger.cli.error_lines import error_lines
from logger.errors import WickbenchError

COMMANDS = {
    "bench_commands": {
        "run": "Watch the bench until stopped with Ctrl-C.",
        "check": "Try each instrument, the broker and the page.",
        "watch": "Show the running bench in a terminal, live.",
        "find": "Find serial ports, 1-Wire and Bluetooth sensors.",
        "init": "Write a first bench.toml from what is in reach.",
        "demo": "Watch a simulated candle, in about a minute.",
    },
    "calculations": {
        "average": "Average readings of one place taken by hand.",
        "emissivity": "Find a surface's emissivity from a patch on it.",
        "replay": "Judge recorded readings as if they were live.",
    },
    "calibration_commands": {"calibrate": "Record or list how far a channel is off."},
    "data_commands": {
        "backup": "Copy all that is recorded, also while it runs.",
        "verify": "Check that all that is recorded is intact.",
        "export": "Write readings as CSV, or all as a data package.",
        "import": "Import readings, burns kept by hand, or a package.",
    },
    "report_commands": {
        "report": "Write the record of a trial, or of a series.",
        "care-card": "Write the card for the candle's buyer.",
    },
    "judge_commands": {"judge": "Judge a trial: verdict, reasons, what to try next."},
    "compare_commands": {
        "compare": "Compare trials in the same room, the best first.",
        "costs": "Show what the candles of trials cost.",
    },
    "plan_commands": {
        "plan": "Plan the burns that open trials still need.",
        "change": "Say what to burn again since lots changed.",
        "bench-check": "Say whether bench, probe or room has drifted.",
        "own-trials": "List what every trial showed, by vessel.",
    },
    "manual_commands": {"docs": "Read the manual: how to set up, use and keep it."},
    "burn_group": {
        "burn": "Record what you do and see at the candle.",
        "alarm": "List, acknowledge or shelve alarms.",
    },
    "shelf_commands": {
        "vessel": "One make of vessel, of one lot.",
        "formula": "Wax, fragrance and dye, melted together.",
        "pour": "One batch, poured in one go.",
        "wick": "One size of one series.",
        "wicking": "A wick, how many of it, and how far apart.",
        "tester": "One candle under test.",
        "trial": "One wicking in one formula and vessel.",
        "thermometer": "A thermometer that is held in the hand.",
        "round": "Places of a vessel that are read by hand, in turn.",
    },
}
"""Each command's module, and the first line of its help: the list is shown without importing it."""

_PLAIN = {"<str>": "TEXT", "<int>": "NUMBER"}
_MODULES = {name: module for module, names in COMMANDS.items() for name in names}


@cache
def made(module: str) -> dict[str, Any]:
    """The commands of a module, by name."""
    part = typer.Typer(rich_markup_mode=None)
    import_module(f"{__name__}.{module}").add_to(part)
    commands = {**get_group(part).commands}
    for command in commands.values():
        _name_no_types(command)
    return commands


def _name_no_types(command: Any) -> None:
    """Help calls what is to be typed TEXT or NUMBER, where Python's type would say <str>."""
    for one in getattr(command, "commands", {}).values():
        _name_no_types(one)
    for param in command.params:
        kind = param.display_type(None) if param.metavar is None else ""
        if isinstance(param, TyperArgument):
            param.display_type_rich = lambda ctx: None  # type: ignore[method-assign]  # <str> beside NAME
        elif kind in _PLAIN and not param.is_flag:
            param.metavar = _PLAIN[kind]


class _Program(TyperGroup):
    """Only the command that is typed is made: all of them cost a start half of its time."""

    def __init__(self, **more: Any) -> None:
        listed = {
            name: TyperCommand(name, help=summary)
            for names in COMMANDS.values()
            for name, summary in names.items()
        }
        super().__init__(**{**more, "commands": listed})

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """The command that begins with `args`."""
        if args and args[0] in _MODULES:
            self.commands[args[0]] = made(_MODULES[args[0]])[args[0]]
        return super().resolve_command(ctx, args)


app = typer.Typer(
    name="wickbench",
    cls=_Program,
    help="Watches the glass while a candle burns. Keep the burning candle in sight all the same.",
    no_args_is_help=True,
    callback=lambda: None,  # without a command of its own it needs one to be a group
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

USAGE = 2


def main() -> None:
    """Entry point: one line on stderr for what a person can fix, a traceback for our faults."""
    try:
        code = app(prog_name="wickbench", standalone_mode=False)
    except WickbenchError as exc:
        sys.stderr.write(error_lines(exc))
        sys.exit(exc.exit_code)
    except typer.Abort:
        sys.stderr.write("stopped; nothing was recorded\n")
        sys.exit(1)
    except typer.TyperException as exc:
        said = exc.format_message()
        typed = getattr(exc, "ctx", None)  # where the words went wrong
        path = typed.command_path if typed else "wickbench"
        hint = "" if "\n" in said else f"; see: {path} --help"  # without words it is the help
        sys.stderr.write(f"{said.rstrip('.')}{hint}\n")
        sys.exit(USAGE)
    except BrokenPipeError:  # the reader of a pipe has left
        sys.stderr.close()
        sys.exit(0)
    sys.exit(code if isinstance(code, int) else 0)
