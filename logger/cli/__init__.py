"""The command line: parse, call one function, print, exit code."""

import sys

import typer

from logger.cli.bench_commands import add_to as add_bench
from logger.cli.burn_commands import add_to as add_burns
from logger.cli.burn_commands import burn
from logger.cli.burn_list_commands import add_to as add_burn_lists
from logger.cli.calculations import add_to as add_calculations
from logger.cli.calibration_commands import add_to as add_calibrations
from logger.cli.compare_commands import add_to as add_comparison
from logger.cli.correction_commands import add_to as add_corrections
from logger.cli.data_commands import add_to as add_data
from logger.cli.error_lines import error_lines
from logger.cli.judge_commands import add_to as add_judge
from logger.cli.look_commands import add_to as add_looks
from logger.cli.manual_commands import add_to as add_manual
from logger.cli.plan_commands import add_to as add_plan
from logger.cli.report_commands import add_to as add_reports
from logger.cli.shelf_commands import add_to as add_shelf
from logger.errors import WickbenchError

app = typer.Typer(
    name="wickbench",
    help="Watches the glass while a candle burns. Keep the burning candle in sight all the same.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
add_bench(app)
add_burns(app)
add_corrections(burn)
add_burn_lists(burn)
add_looks(burn)
add_calculations(app)
add_calibrations(app)
add_data(app)
add_reports(app)
add_shelf(app)
add_judge(app)
add_comparison(app)
add_plan(app)
add_manual(app)

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
        sys.stderr.write(f"{exc.format_message()}; see: wickbench --help\n")
        sys.exit(USAGE)
    except BrokenPipeError:  # the reader of a pipe has left
        sys.stderr.close()
        sys.exit(0)
    sys.exit(code if isinstance(code, int) else 0)
