"""A record as it was entered each time: nothing is deleted, the newest version counts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

Written = str | int | float
"""What a person wrote into a field, a quantity with its unit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfVersion:
    """One version of a record, with every field that has something in it."""

    id: str  # made by whoever sends it: the same sent twice counts once
    kind: str
    name: str
    version: int
    at_s: float
    by: str
    why: str = ""
    withdrawn: bool = False
    fields: Mapping[str, Written] = field(default_factory=dict)


def unchanged_since(versions: Sequence[ShelfVersion], key: str) -> ShelfVersion:
    """The version in which a field got what it has in the last of `versions`, oldest first."""
    found = versions[-1]
    for one in reversed(versions):
        if one.fields.get(key) != found.fields.get(key):
            break
        found = one
    return found
