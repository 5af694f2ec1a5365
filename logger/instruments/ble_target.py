"""Which Bluetooth device is meant."""

import re
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """The device meant: by its address, or by a name that is the only one of its kind.

    `name` may be written as the configuration writes names: "ember-3" is "Ember 3" too. `known` is
    the address under which the name was found before: some devices change theirs.
    """

    instrument: str
    address: str | None = None
    name: str | None = None
    known: str | None = None

    def is_meant(self, address: str, name: str | None) -> bool:
        """Whether the device is the one."""
        if self.address is not None:
            return address.upper() == self.address.upper()
        return name is not None and self.name in (name, _as_written(name))

    @property
    def said(self) -> str:
        """For a sentence."""
        return self.address or f'"{self.name}"'


def _as_written(name: str) -> str:
    return re.sub("[^a-z0-9]+", "-", name.lower()).strip("-")
