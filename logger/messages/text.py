"""Lines and figures as every message writes them."""

from typing import overload

from logger.timestamps import rfc3339

LONGEST_LINE = 600  # characters for a phone: what to do in the worst emergency, in full (ours)


def one_line(text: str, longest: int | None = None) -> str:
    """`text` on one line of at most `longest` characters; nothing in it steers a terminal.

    What does not print is left out, and a space stands where lines or words were apart.
    """
    line = text
    if not text.isprintable():  # which few are: a drawing's paths come through here as well
        plain = "".join(char if char.isprintable() else "\n" for char in text)
        line = " ".join(part for part in plain.split("\n") if part)
    return line if longest is None or len(line) <= longest else f"{line[: longest - 1]}…"


def plain_lines(text: str) -> str:
    """`text` line by line as `one_line`: nothing in a page turns the words around it about."""
    return "\n".join(map(one_line, text.split("\n")))


@overload
def rounded(value: float) -> float: ...
@overload
def rounded(value: float | None) -> float | None: ...
def rounded(value: float | None) -> float | None:
    """To 0.001, so that the last digits of the arithmetic do not pass for knowledge."""
    return None if value is None else round(value, 3)


def time_or_none(at_s: float | None) -> str | None:
    """A time where there is one."""
    return None if at_s is None else rfc3339(at_s)
