"""Every `burn ...` and `alarm ...` command, whichever module it is in."""

import typer

from logger.cli import burn_commands
from logger.cli.burn_list_commands import add_to as add_burn_lists
from logger.cli.correction_commands import add_to as add_corrections
from logger.cli.look_commands import add_to as add_looks

add_corrections(burn_commands.burn)
add_burn_lists(burn_commands.burn)
add_looks(burn_commands.burn)


def add_to(app: typer.Typer) -> None:
    """Register the groups."""
    burn_commands.add_to(app)
