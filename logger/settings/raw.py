"""Tables of a configuration as they are written, before anything is known to be right."""

from collections.abc import Iterator, Mapping
from typing import Any

from logger.settings.toml_lines import KeyPath

Table = Mapping[str, Any]


def tables(raw: Any, key: str, path: KeyPath = ()) -> Iterator[tuple[KeyPath, Table]]:
    """The tables of the array `key` in `raw`, which stands at `path`; what is none is left out."""
    elements = raw.get(key) if isinstance(raw, Mapping) else None
    for index, element in enumerate(elements if isinstance(elements, list) else ()):
        if isinstance(element, Mapping):
            yield (*path, key, index), element
