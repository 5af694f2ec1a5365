"""Errors as the terminal shows them."""

from logger.errors import Doubted, SettingsError, WickbenchError


def error_lines(exc: WickbenchError) -> str:
    """One line an error; a configuration has one for each of its faults."""
    lines = exc.problems if isinstance(exc, SettingsError) else (str(exc),)
    if isinstance(exc, Doubted):
        lines = (f"not recorded: {exc} Add --yes to keep it",)
    from logger.messages import one_line

    return "".join(f"{one_line(line)}\n" for line in lines)
