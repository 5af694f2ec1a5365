"""What a table kept by hand holds, row by row."""

from dataclasses import dataclass

from logger.burn.entries import Entry, Lit


@dataclass(frozen=True, slots=True, kw_only=True)
class TableBurn:
    """A row: its burn as entries in the order in which they happened."""

    line: int  # of the file
    station: str
    lit_s: float
    out_s: float
    entries: tuple[Entry, ...]

    @property
    def lit(self) -> Lit:
        """Its lighting."""
        first = self.entries[0]
        assert isinstance(first, Lit)
        return first


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """What a file holds; `faults` has a line for each cell that must be changed."""

    burns: tuple[TableBurn, ...]  # in order of lighting
    faults: tuple[str, ...]
    empty_rows: int
    not_taken: tuple[str, ...]  # columns that the map does not name
