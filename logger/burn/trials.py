"""Names that people write: which are one, and which may have been meant to be."""

import re
from collections.abc import Iterable
from itertools import takewhile

LEAST_LETTERS = 4  # of a word in which one wrong letter is a slip: shorter ones are codes (choice)


def name_key(name: str) -> str:
    """The same for names that differ by capitals, or by spaces around them, alone."""
    return name.strip().casefold()


def nearly(name: str, known: Iterable[str]) -> str | None:
    """The known trial that `name`, itself unknown, is nearly written like; None where none is.

    Capitals, spaces and signs make no difference; a longer word may have one slip of the keys.
    A number that differs is another trial.
    """
    names = sorted(known)
    if name in names:
        return None
    words = _words(name)
    same = [one for one in names if "".join(_words(one)) == "".join(words)]
    close = [one for one in names if _one_slip(_words(one), words)]
    return next(iter(same + close), None)


def _words(name: str) -> list[str]:
    return re.findall(r"[^\W\d_]+|\d+", name.casefold())


def _one_slip(one: list[str], other: list[str]) -> bool:
    if len(one) != len(other):
        return False
    unlike = [pair for pair in zip(one, other, strict=True) if pair[0] != pair[1]]
    return len(unlike) == 1 and _is_slip(*unlike[0])


def _is_slip(one: str, other: str) -> bool:
    """Whether a letter was left out, doubled, mistyped or exchanged with the next."""
    short, long = sorted((one, other), key=len)
    if len(long) < LEAST_LETTERS or long.isdigit() or len(long) - len(short) > 1:
        return False
    alike = takewhile(lambda pair: pair[0] == pair[1], zip(short, long, strict=False))
    at = len(list(alike))
    if len(short) < len(long):
        return short[at:] == long[at + 1 :]
    exchanged = short[at : at + 2] == long[at : at + 2][::-1] and short[at + 2 :] == long[at + 2 :]
    return exchanged or short[at + 1 :] == long[at + 1 :]
