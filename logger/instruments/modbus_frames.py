"""Which registers are read together, and the frames of Modbus RTU; no I/O.

pymodbus builds and reads the frames.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from pymodbus.exceptions import ModbusException
from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU, ModbusPDU, ReadHoldingRegistersRequest
from pymodbus.pdu.register_message import ReadInputRegistersRequest

from logger.errors import DataError
from logger.instruments.decoders.modbus_registers import RegisterNumber
from logger.quantities import Channel

_MOST_REGISTERS = 125  # one read (Modbus application protocol V1.1b3, 6.3)
_ERROR_FLAG = 0x80  # set in the function code of an exception (same, 7)

_EXCEPTIONS = {
    1: "illegal function: check table",
    2: "illegal data address: check address",
    3: "illegal data value: check address and type",
    4: "device failure",
    5: "still working on it",
    6: "device busy",
    8: "memory parity error",
    10: "gateway path unavailable",
    11: "device behind the gateway does not answer",
}  # (same, 7)


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """Where a channel's number is."""

    device: int  # 1 to 247
    function: int  # 3: holding registers, 4: input registers
    address: int  # from 0, as it goes over the line
    number: RegisterNumber

    @property
    def end(self) -> int:
        """The address after its last register."""
        return self.address + self.number.registers


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """Neighbouring registers of one device, read in one go."""

    device: int
    function: int
    address: int
    count: int
    channels: tuple[tuple[Channel, Register], ...]  # in order of configuration


def blocks(channels: Sequence[Channel], registers: Sequence[Register]) -> tuple[Block, ...]:
    """What to read for `channels`, to which `registers` is parallel.

    Registers that nobody asked for are not read: some devices refuse a whole read for them.
    """
    order = {channel.name: index for index, channel in enumerate(channels)}
    runs: list[list[tuple[Channel, Register]]] = []
    for item in sorted(
        zip(channels, registers, strict=True),
        key=lambda item: (item[1].device, item[1].function, item[1].address),
    ):
        if runs and _follows(runs[-1], item[1]):
            runs[-1].append(item)
        else:
            runs.append([item])
    found = [
        Block(
            device=run[0][1].device,
            function=run[0][1].function,
            address=run[0][1].address,
            count=max(register.end for _, register in run) - run[0][1].address,
            channels=tuple(sorted(run, key=lambda item: order[item[0].name])),
        )
        for run in runs
    ]
    return tuple(sorted(found, key=lambda block: order[block.channels[0][0].name]))


def _follows(run: Sequence[tuple[Channel, Register]], register: Register) -> bool:
    first = run[0][1]
    end = max(one.end for _, one in run)
    return (
        (register.device, register.function) == (first.device, first.function)
        and register.address <= end
        and register.end - first.address <= _MOST_REGISTERS
    )


_FRAMER = FramerRTU(DecodePDU(False))


def question(block: Block) -> bytes:
    """The frame that asks for `block`."""
    request = ReadHoldingRegistersRequest if block.function == 3 else ReadInputRegistersRequest
    return _FRAMER.buildFrame(
        request(dev_id=block.device, address=block.address, count=block.count)
    )


def _starts(came: bytes, block: Block) -> list[int]:
    """Where an answer of `block` may begin."""
    codes = {block.function, block.function | _ERROR_FLAG}
    return [at for at in range(len(came) - 1) if came[at] == block.device and came[at + 1] in codes]


def answer_in(came: bytes, block: Block) -> Sequence[int] | None:
    """The words of the answer in `came`, which may begin with noise; None: no whole one yet.

    Raises `DataError` when the device says why it does not answer, or sends another count.
    """
    # Tried from each start: behind noise that looks like a frame, the framer would throw away
    # the good one as well.
    for start in _starts(came, block):
        try:
            _, answer = _FRAMER.handleFrame(came[start:], block.device, 0)
        except (ModbusException, IndexError):
            continue
        if answer is not None:
            return _words(answer, block)
    return None


def _words(answer: ModbusPDU, block: Block) -> Sequence[int]:
    if answer.function_code & _ERROR_FLAG:
        code = answer.exception_code
        meaning = _EXCEPTIONS.get(code, "no known meaning")
        raise DataError(f"device {block.device} answers exception {code}, {meaning}")
    if len(answer.registers) != block.count:
        raise DataError(
            f"device {block.device}: {len(answer.registers)} registers instead of {block.count}"
        )
    return answer.registers


def what_is_wrong(came: bytes, block: Block) -> str:
    """Why `came` holds no answer, and what to look at."""
    if not came:
        return "no answer: check its address, baud rate, parity and wiring"
    if not _starts(came, block):
        return "noise instead of an answer: check baud rate, parity and wiring"
    if len(came) - _starts(came, block)[0] < _size(came, block):
        return "half an answer"
    return "wrong CRC: check wiring and terminators"


def _size(came: bytes, block: Block) -> int:
    """Bytes that the answer in `came` should have, its address and CRC included."""
    start = _starts(came, block)[0]
    return 5 if came[start + 1] & _ERROR_FLAG else 5 + 2 * block.count
