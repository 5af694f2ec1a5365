"""The keys that instruments of every driver have, and what is seen of an instrument outside."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, ClassVar, TypeVar, get_args

from pydantic import AfterValidator, Field

from logger.quantities import BY_HAND, Averaging, Channel
from logger.settings import forms
from logger.settings.averaging_keys import AveragingKeys
from logger.settings.channels import ChannelKeys
from logger.settings.forms import seen
from logger.settings.keys import Keys, WrongValue, key
from logger.settings.problems import Mistake
from logger.settings.raw import Table, tables


def _not_by_hand(name: str) -> str:
    if name == BY_HAND:
        raise WrongValue(f'"{BY_HAND}" is where manual readings come from; write another name')
    return name


C = TypeVar("C", bound=ChannelKeys)


def _at_least_one(channels: tuple[C, ...]) -> tuple[C, ...]:
    if not channels:
        raise WrongValue("missing; write at least one [[instrument.channel]] below")
    return channels


Channels = Annotated[
    tuple[C, ...],
    AfterValidator(_at_least_one),
    Field(default=(), description="what it delivers"),
]


class InstrumentKeys(Keys):
    """[[instrument]]: a driver adds its own keys, and its own class of channels."""

    place: ClassVar[tuple[str, ...]] = ()
    """The keys of a channel that say where it is in what comes, the most telling first."""

    name: Annotated[str, forms.name('"probes-a"'), AfterValidator(_not_by_hand)] = key(
        "of the instrument"
    )
    driver: str = key("how it is read: see the drivers below", example='"serial-lines"')
    silent_after_s: forms.Seconds | None = key(
        "say so when nothing came for this long; left out: the longer of 15 s and three of its "
        "own intervals",
        None,
    )
    averaging: AveragingKeys = key("over the bench's [averaging]", {})
    channel: Channels[ChannelKeys]

    @classmethod
    def variant(cls, raw: Table) -> "type[InstrumentKeys]":
        """The class itself, or the one of its kinds that fits an instrument as it is written."""
        return cls

    @classmethod
    def disagreements(cls, raw: Table) -> Iterator[Mistake]:
        """What is wrong between channels of one instrument: two may not be at one place."""
        fields = get_args(cls.model_fields["channel"].annotation)[0].model_fields
        readers: dict[str, object] = {}
        for path, channel in tables(raw, "channel"):
            stated = [name for name in cls.place if name in channel]
            at = repr([channel.get(name, fields[name].default) for name in cls.place])
            if stated and at in readers:
                what = f"{stated[0]} {seen(channel[stated[0]])}" if len(stated) == 1 else "the same"
                yield (*path, cls.place[0]), f"{readers[at]} reads {what} already; write another"
            readers.setdefault(at, seen(channel.get("name")))

    def settings(self, averaging: Averaging) -> "InstrumentSettings":
        """With its channels as the core uses them; `averaging` is the bench's."""
        averaging = self.averaging.over(averaging)
        return InstrumentSettings(
            name=self.name,
            driver=self.driver,
            keys=self,
            channels=tuple(
                one.as_core(self.name, self.silent_after_s, averaging) for one in self.channel
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class InstrumentSettings:
    """One instrument and the channels that it delivers."""

    name: str
    driver: str
    keys: InstrumentKeys  # of its driver's class; `channel` in there is parallel to `channels`
    channels: tuple[Channel, ...]
