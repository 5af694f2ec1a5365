"""The table of drivers: settings to instruments.

A driver is imported when a bench has it: its library costs start-up time and memory.
"""

from collections.abc import AsyncIterator, Awaitable, Callable, Mapping, Sequence
from contextlib import AbstractAsyncContextManager
from typing import TYPE_CHECKING

from logger.errors import DataError, InstrumentRefused
from logger.instruments.instrument import Instrument
from logger.instruments.link import Link
from logger.quantities import Reading
from logger.settings.model import AnswerField, DeviceField, InstrumentSettings, RegisterField

if TYPE_CHECKING:
    from logger.instruments.decoders.lines import LineDecoder
    from logger.instruments.serial_link import SerialOptions
    from logger.instruments.tagged_lines import LineSource

Now = Callable[[], float]
SleepUntil = Callable[[float], Awaitable[None]]


def build(
    settings: InstrumentSettings, now: Now, sleep_until: SleepUntil | None = None
) -> Instrument:
    """The instrument of `settings`, not opened.

    `now` gives bench time and `sleep_until` waits for it: instruments that must be asked are
    asked in bench time; without it, in real time. From settings that contradict each other comes
    an instrument that refuses to open, and says why: the others of the bench are read all the same.
    """
    factory = _FACTORIES.get(settings.driver)
    if factory is None:
        known = ", ".join(_FACTORIES)
        reason = f'driver "{settings.driver}" is not known: write one of {known}'
        return Misconfigured(settings.name, reason, now)
    try:
        return factory(settings, now, sleep_until)
    except DataError as error:
        return Misconfigured(settings.name, str(error), now)


class Misconfigured:
    """Takes the place of an instrument that cannot be made."""

    def __init__(self, name: str, reason: str, now: Now) -> None:
        self.name = name
        self.link = Link(name, now)
        self._reason = reason

    def open(self) -> AbstractAsyncContextManager[AsyncIterator[Reading]]:
        """Raises `InstrumentRefused`."""
        raise InstrumentRefused(self.name, self._reason)


def _serial_lines(
    settings: InstrumentSettings, now: Now, sleep_until: SleepUntil | None
) -> Instrument:
    from logger.instruments.serial_lines import SerialLines, Talk

    _lines(settings)  # to refuse now what it would refuse at each opening
    return SerialLines(
        settings.name,
        options=_port(settings),
        channels=settings.channels,
        decoder=lambda: _lines(settings),
        now=now,
        talk=Talk(
            start=settings.start,
            poll=settings.poll,
            end=settings.command_end,
            every_s=settings.every_s,
            within_s=settings.answer_within_s,
        ),
        sleep_until=sleep_until,
    )


def _lines(settings: InstrumentSettings) -> "LineSource":
    """A fresh decoder of the instrument's lines, or one for each of its devices."""
    from logger.instruments.tagged_lines import TaggedLines

    devices: dict[str, list[tuple[int, int | str]]] = {}
    for place, field in enumerate(settings.fields):
        if isinstance(field, DeviceField):
            devices.setdefault(field.device, []).append((place, field.field))
    drop_head = not settings.poll
    if not devices:
        plain = [field for field in settings.fields if isinstance(field, int | str)]
        return _decoder(settings, plain, drop_head=drop_head)
    if sum(map(len, devices.values())) < len(settings.fields):
        raise DataError("either each channel names its device, or none does")
    return TaggedLines(
        {
            device: (
                _decoder(settings, [field for _, field in fields], drop_head=False),
                [place for place, _ in fields],
            )
            for device, fields in devices.items()
        },
        separator=settings.separator or ",",
        drop_head=drop_head,
    )


def _decoder(
    settings: InstrumentSettings, fields: Sequence[int | str], *, drop_head: bool
) -> "LineDecoder":
    from logger.instruments.decoders.lines import Format, LineDecoder

    return LineDecoder(
        Format(settings.format),
        fields,
        separator=settings.separator,
        decimal=settings.decimal,
        columns=settings.columns,
        drop_head=drop_head,
    )


def _scpi(settings: InstrumentSettings, now: Now, sleep_until: SleepUntil | None) -> Instrument:
    from logger.instruments.scpi import Scpi, queries

    asked = [field for field in settings.fields if isinstance(field, AnswerField)]
    return Scpi(
        settings.name,
        options=_port(settings),
        queries=queries(
            [field.query for field in asked], [field.field for field in asked], settings.channels
        ),
        now=now,
        start=settings.start,
        every_s=settings.every_s,
        within_s=settings.answer_within_s,
        sleep_until=sleep_until,
    )


def _modbus_rtu(
    settings: InstrumentSettings, now: Now, sleep_until: SleepUntil | None
) -> Instrument:
    from logger.instruments.decoders.modbus_registers import RegisterNumber, RegisterType, WordOrder
    from logger.instruments.modbus_frames import Register, blocks
    from logger.instruments.modbus_rtu import ModbusRtu

    registers = [
        Register(
            device=field.device,
            function={"holding": 3, "input": 4}[field.table],
            address=field.address,
            number=RegisterNumber(
                type=RegisterType(field.type),
                word_order=WordOrder(field.word_order),
                scale=field.scale,
            ),
        )
        for field in settings.fields
        if isinstance(field, RegisterField)
    ]
    return ModbusRtu(
        settings.name,
        options=_port(settings),
        blocks=blocks(settings.channels, registers),
        now=now,
        every_s=settings.every_s,
        within_s=settings.answer_within_s,
        sleep_until=sleep_until,
    )


def _one_wire(settings: InstrumentSettings, now: Now, sleep_until: SleepUntil | None) -> Instrument:
    from logger.instruments.one_wire import KERNEL_FOLDER, OneWire

    return OneWire(
        settings.name,
        sensors=[field for field in settings.fields if isinstance(field, str)],
        channels=settings.channels,
        now=now,
        folder=settings.folder or KERNEL_FOLDER,
        every_s=settings.every_s,
        within_s=settings.answer_within_s,
        sleep_until=sleep_until,
    )


def _port(settings: InstrumentSettings) -> "SerialOptions":
    from logger.instruments.serial_link import SerialOptions

    return SerialOptions(
        port=settings.port,
        baud=settings.baud,
        parity={"none": "N", "even": "E", "odd": "O"}[settings.parity],
        stop_bits=settings.stop_bits,
        dtr=settings.dtr,
        rts=settings.rts,
    )


_Factory = Callable[[InstrumentSettings, Now, SleepUntil | None], Instrument]
_FACTORIES: Mapping[str, _Factory] = {
    "serial-lines": _serial_lines,
    "scpi": _scpi,
    "modbus-rtu": _modbus_rtu,
    "one-wire": _one_wire,
}
