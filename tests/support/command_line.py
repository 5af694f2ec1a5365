"""`wickbench` as a person types it, without a start of Python for each command."""

import io
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from unittest.mock import patch

from typer.main import get_command

from logger import cli


def program():
    """The program with every command made, as typer has it."""
    found = get_command(cli.app)
    for module in cli.COMMANDS:
        found.commands.update(cli.made(module))
    return found


def typed(*words: str) -> subprocess.CompletedProcess[str]:
    """What the entry point does with `words`, by a script: nobody is there to be asked."""
    out, err = (
        io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True) for _ in range(2)
    )
    code: object = 0
    with (
        redirect_stdout(out),
        redirect_stderr(err),
        patch.object(sys, "argv", ["wickbench", *words]),
        patch.object(sys, "stdin", io.StringIO()),
    ):
        try:
            cli.main()
        except SystemExit as exc:
            code = exc.code
    said, wrong = (one.buffer.getvalue().decode() for one in (out, err))
    return subprocess.CompletedProcess(words, int(code or 0), said, wrong)
