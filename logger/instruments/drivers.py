"""The table of drivers: settings to instruments.

A driver is imported when a bench has it: its library costs start-up time and memory.
"""

from collections.abc import Callable, Mapping

from logger.errors import DataError, InstrumentRefused
from logger.instruments.instrument import Instrument
from logger.settings.model import InstrumentSettings

Now = Callable[[], float]


def build(settings: InstrumentSettings, now: Now) -> Instrument:
    """The instrument of `settings`, not opened; `now` gives bench time.

    Raises `InstrumentRefused` for settings that contradict each other or an unknown driver.
    """
    factory = _DRIVERS.get(settings.driver)
    if factory is None:
        known = ", ".join(_DRIVERS)
        reason = f'driver "{settings.driver}" is not known: write one of {known}'
        raise InstrumentRefused(settings.name, reason)
    try:
        return factory(settings, now)
    except DataError as error:
        raise InstrumentRefused(settings.name, str(error)) from error


def _serial_lines(settings: InstrumentSettings, now: Now) -> Instrument:
    from logger.instruments.decoders.lines import Format, LineDecoder
    from logger.instruments.serial_lines import SerialLines
    from logger.instruments.serial_link import SerialOptions

    def decoder() -> LineDecoder:
        return LineDecoder(
            Format(settings.format),
            settings.fields,
            separator=settings.separator,
            decimal=settings.decimal,
            columns=settings.columns,
        )

    decoder()  # to refuse now what it would refuse at each opening
    return SerialLines(
        settings.name,
        options=SerialOptions(port=settings.port, baud=settings.baud),
        channels=settings.channels,
        decoder=decoder,
        now=now,
    )


_DRIVERS: Mapping[str, Callable[[InstrumentSettings, Now], Instrument]] = {
    "serial-lines": _serial_lines,
}
