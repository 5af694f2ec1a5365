"""Lines of several devices on one port, each beginning with the name of its device."""

from collections.abc import Mapping, Sequence
from typing import Protocol

from logger.instruments.decoders.lines import Line, LineSplitter, Rejected, excerpt


class LineSource(Protocol):
    """What makes numbers of bytes: a decoder of lines, or several behind a name."""

    def feed(self, data: bytes) -> list[Line | Rejected]:
        """What `data` completes, in the order it came."""
        ...


class TaggedLines:
    """Hands each line to the decoder of the device that stands in its first column.

    `devices`: by name, a decoder of whole lines (`drop_head=False`) and, for each of its fields,
    the place of the channel in the configuration.
    """

    def __init__(
        self,
        devices: Mapping[str, tuple[LineSource, Sequence[int]]],
        *,
        separator: str,
        drop_head: bool = True,
    ) -> None:
        self._devices = {name.encode(): device for name, device in devices.items()}
        self._separator = separator.encode()
        self._splitter = LineSplitter(drop_head=drop_head)

    def feed(self, data: bytes) -> list[Line | Rejected]:
        """What `data` completes, its fields numbered as the configuration numbers channels."""
        out: list[Line | Rejected] = []
        for line in self._splitter.feed(data):
            if isinstance(line, Rejected):
                out.append(line)
                continue
            name = line.split(self._separator, 1)[0].strip().strip(b'"')
            device = self._devices.get(name)
            if device is not None:
                decoder, places = device
                out += (_renumbered(found, places) for found in decoder.feed(line + b"\n"))
            elif not line.lstrip().startswith(b"#"):
                known = ", ".join(other.decode() for other in self._devices)
                reason = f"the first column names none of the devices {known}"
                out.append(Rejected(reason=reason, excerpt=excerpt(line)))
        return out


def _renumbered(found: Line | Rejected, places: Sequence[int]) -> Line | Rejected:
    if isinstance(found, Line):
        values = (value._replace(field=places[value.field]) for value in found.values)
        return Line(values=tuple(sorted(values)))
    if found.field is None:
        return found
    return Rejected(reason=found.reason, excerpt=found.excerpt, field=places[found.field])
