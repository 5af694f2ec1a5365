"""On which line of a TOML text each key stands: tomllib does not tell."""

import re
import tomllib
from bisect import bisect_left

KeyPath = tuple[str | int, ...]
"""Names of tables and keys, and the index of each element of an array: ("station", 0, "name")."""

_BLANK = re.compile(r"(?:\s|#[^\n]*)*")
_SPACES = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"""(?:"{0,2})|'
    r"'''.*?'''(?:'{0,2})|"
    r'"(?:[^"\\]|\\.)*"|'
    r"'[^']*'",
    re.DOTALL,
)
_PLAIN = re.compile(r"\d{4}-\d\d-\d\d \d\d:[^\s,\]}#]*|[^\s,\]}#]+")  # a date may hold one space

_SIGN = re.compile(rf"{_STRING.pattern}|#[^\n]*|[\[\]{{}}]", re.DOTALL)

LONGEST_LINE = 8192  # characters: a path at its longest, and as much again (our choice)
DEEPEST = 20  # brackets within brackets; a configuration needs three (our choice)


def too_much_for_a_line(text: str) -> int | None:
    """The first line that is so long or nests so deep that it is not a configuration's.

    Asked before tomllib reads it, which follows brackets by recursion and is slow on long keys.
    """
    long = re.search(rf"[^\n]{{{LONGEST_LINE + 1}}}", text)
    depth, deep = 0, None
    for sign in _SIGN.finditer(text):
        depth += (sign[0] in "[{") - (sign[0] in "]}")
        if depth > DEEPEST:
            deep = sign
            break
    begins = [found.start() for found in (long, deep) if found is not None]
    return text.count("\n", 0, min(begins)) + 1 if begins else None


def key_lines(text: str) -> dict[KeyPath, int]:
    """Line, from 1, of each table, key and element; of a table its first mention.

    `text` must be valid: tomllib has read it.
    """
    return _Scanner(text).scan()


class _Scanner:
    def __init__(self, text: str) -> None:
        self._text = text
        self._at = 0
        self._newlines = [match.start() for match in re.finditer("\n", text)]
        self._lines: dict[KeyPath, int] = {}
        self._counts: dict[KeyPath, int] = {}  # elements so far of each array of tables

    def scan(self) -> dict[KeyPath, int]:
        table: KeyPath = ()
        while self._next():
            if self._text[self._at] == "[":
                table = self._header()
            else:
                self._pair(table)
        return self._lines

    def _header(self) -> KeyPath:
        line = self._line()
        brackets = 2 if self._text.startswith("[[", self._at) else 1
        self._at += brackets
        names = self._key()
        self._at += brackets
        path: KeyPath = ()
        for depth, name in enumerate(names, start=1):
            path = (*path, name)
            self._lines.setdefault(path, line)
            if depth == len(names) and brackets == 2:
                self._counts[path] = self._counts.get(path, 0) + 1
            if path in self._counts:
                path = (*path, self._counts[path] - 1)
                self._lines.setdefault(path, line)
        return path

    def _pair(self, table: KeyPath) -> None:
        line = self._line()
        path = table
        for name in self._key():
            path = (*path, name)
            self._lines.setdefault(path, line)
        self._at += 1  # the equals sign
        self._skip(_SPACES)
        self._value(path)

    def _value(self, path: KeyPath) -> None:
        first = self._text[self._at]
        if first in "[{":
            closing = "]" if first == "[" else "}"
            self._at += 1
            index = 0
            while self._next() != closing:
                if first == "[":
                    element = (*path, index)
                    self._lines[element] = self._line()
                    self._value(element)
                    index += 1
                else:
                    self._pair(path)
                if self._next() == ",":
                    self._at += 1
            self._at += 1
        else:
            self._skip(_STRING if first in "\"'" else _PLAIN)

    def _key(self) -> list[str]:
        """Dotted names, and the blanks around them."""
        names: list[str] = []
        while True:
            self._skip(_SPACES)
            quoted = self._text[self._at] in "\"'"
            word = self._skip(_STRING if quoted else _BARE_KEY)
            names.append(tomllib.loads(f"key = {word}")["key"] if quoted else word)
            self._skip(_SPACES)
            if self._text[self._at] != ".":
                return names
            self._at += 1

    def _next(self) -> str:
        """The sign after blanks and comments; "" at the end."""
        self._skip(_BLANK)
        return self._text[self._at : self._at + 1]

    def _skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self._text, self._at)
        assert match is not None, "only valid TOML is scanned"
        self._at = match.end()
        return match[0]

    def _line(self) -> int:
        return bisect_left(self._newlines, self._at) + 1
