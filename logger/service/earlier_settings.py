"""Whether a channel is still what it was when its readings were stored."""

from collections.abc import Collection
from dataclasses import replace

from logger.errors import SettingsError
from logger.quantities import Averaging
from logger.settings import Settings
from logger.settings.config_file import parse


def changed_since(settings: Settings, earlier_text: str) -> Collection[str]:
    """Channels of `settings` that the text of an earlier run lacks or meant otherwise.

    Where a program of today cannot read that text, all of them.
    """
    if earlier_text == settings.text:
        return ()
    now = _meanings(settings)
    try:
        earlier = _meanings(parse(earlier_text, settings.path))
    except SettingsError:
        return tuple(now)
    return tuple(name for name, meaning in now.items() if earlier.get(name) != meaning)


def _meanings(settings: Settings) -> dict[str, object]:
    """What decides where a channel's numbers come from and what they mean, by its name."""
    found: dict[str, object] = {}
    for instrument in settings.instruments:
        link = instrument.keys.model_dump(exclude={"channel", "averaging", "silent_after_s"})
        for channel, keys in zip(instrument.channels, instrument.keys.channel, strict=True):
            core = replace(channel, averaging=Averaging(), silent_after_s=None)
            found[channel.name] = link, keys.model_dump(exclude={"averaging"}), core
    return found
