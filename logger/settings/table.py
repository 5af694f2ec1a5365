"""Reading tables of a configuration so that each fault is noted and none hides another."""

import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from logger.errors import DataError, SettingsError
from logger.settings.lines import KeyPath

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)
D = TypeVar("D")


@dataclass(frozen=True, slots=True, kw_only=True)
class Form(Generic[T_co]):
    """A form that values have: how it is read from TOML's, and an example as it is written."""

    read: Callable[[object], T_co]  # raises DataError: what is wrong; what to write
    example: str


class Report:
    """The faults of one file."""

    def __init__(self, file: str, lines: Mapping[KeyPath, int]) -> None:
        self._file = file
        self._lines = lines
        self._found: list[tuple[int, str]] = []

    def states(self, path: KeyPath) -> bool:
        """Whether the file says anything there."""
        return path in self._lines

    def line(self, path: KeyPath) -> int:
        """Where `path` stands, or else the table that should hold it."""
        while path and path not in self._lines:
            path = path[:-1]
        return self._lines.get(path, 1)

    def add(self, path: KeyPath, what: str) -> None:
        """Note a fault; `what` says what is wrong and, after a semicolon, what to write."""
        line = self.line(path)
        names = (name for name in path if isinstance(name, str))
        key = ".".join(name if name.isprintable() else ascii(name) for name in names)
        self._found.append((line, f"{self._file}:{line}: {key}: {what}"))

    def raise_if_any(self) -> None:
        """Raise SettingsError with all faults in the order of their lines."""
        if self._found:
            raise SettingsError([text for _, text in sorted(self._found, key=lambda f: f[0])])


class Table:
    """One table of the file. Keys that nobody asked for are unknown: `done` reports them."""

    def __init__(self, report: Report, path: KeyPath, values: Mapping[str, Any]) -> None:
        self._report = report
        self._path = path
        self._values = values
        self._asked: list[str] = []

    def has(self, key: str) -> bool:
        """Whether the file itself, not a default beneath it, says anything under `key`."""
        return self._report.states((*self._path, key))

    def need(self, key: str, form: Form[T], *, instead: T) -> T:
        """The value of a key that must be there; `instead`, with the fault noted, if it fails."""
        if key not in self._values:
            self._asked.append(key)
            self.fault(key, f"missing; write {key} = {form.example}")
            return instead
        return self.take(key, form, instead)

    def take(self, key: str, form: Form[T], default: D) -> T | D:
        """The value of a key that may be left out."""
        self._asked.append(key)
        if key not in self._values:
            return default
        try:
            return form.read(self._values[key])
        except DataError as exc:
            self.fault(key, str(exc))
            return default

    def table(self, key: str, *, beneath: Mapping[str, Any] | None = None) -> "Table":
        """The table under `key`, empty where there is none; `beneath` holds its defaults."""
        self._asked.append(key)
        values = self._values.get(key, {})
        if not isinstance(values, Mapping):
            self.fault(key, f"must be a table; write [{self._dotted(key)}] and its keys below")
            # What is below would only be missing: its faults go into a report that nobody reads.
            return Table(Report("", {}), (*self._path, key), beneath or {})
        return Table(self._report, (*self._path, key), _merged(beneath or {}, values))

    def optional_table(self, key: str) -> "Table | None":
        """The table under `key` if the file has it, even empty."""
        table = self.table(key)
        return table if self.has(key) else None

    def tables(self, key: str) -> list["Table"]:
        """The tables of an array of tables, none where it is left out."""
        self._asked.append(key)
        elements = self._values.get(key, [])
        if not isinstance(elements, list) or not all(isinstance(e, Mapping) for e in elements):
            self.fault(
                key, f"may come several times; write [[{self._dotted(key)}]] in two brackets"
            )
            return []
        return [
            Table(self._report, (*self._path, key, index), values)
            for index, values in enumerate(elements)
        ]

    def never(self, key: str, what: str) -> None:
        """Note the fault `what` if the file has `key`, which has no place there."""
        if key in self._values:
            self._asked.append(key)
            self.fault(key, what)

    def done(self) -> None:
        """Report the keys that were not asked for."""
        for key in self._values:
            if key not in self._asked:
                self.fault(key, f"unknown key; {nearest(key, self._asked)}")

    def fault(self, key: str, what: str) -> None:
        """Note a fault of `key`: what is wrong; what to write."""
        self._report.add((*self._path, key), what)

    def line(self, key: str) -> int:
        """The line that `key` stands on."""
        return self._report.line((*self._path, key))

    def _dotted(self, key: str) -> str:
        return ".".join(name for name in (*self._path, key) if isinstance(name, str))


def nearest(word: str, known: Iterable[str]) -> str:
    """What to write instead of `word`: the one most like it, or else all."""
    known = list(dict.fromkeys(known))
    close = difflib.get_close_matches(word, known, n=1)
    if close:
        return f'did you mean "{close[0]}"?'
    return "write one of " + ", ".join(f'"{each}"' for each in known)


def _merged(beneath: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    merged = dict(beneath)
    for key, value in above.items():
        under = beneath.get(key)
        both = isinstance(under, Mapping) and isinstance(value, Mapping)
        merged[key] = _merged(under, value) if both and under is not None else value
    return merged
