"""Devices on an RS-485 line that answer Modbus RTU, written by hand from the specification.

No frame or CRC of the logger or of its library is used here.
"""

import struct
from collections.abc import Mapping
from pathlib import Path

from simulators.answering import Answering

_QUESTION = 8  # bytes of a read: address, function, first register, count, CRC


class ModbusLine(Answering):
    """`devices`: by address, then by function (3 holding, 4 input), the registers as 16-bit words.

    Faults: `silent` addresses do not answer; `spoil` changes the bytes of the next answers.
    """

    def __init__(self, link: Path, devices: Mapping[int, Mapping[int, Mapping[int, int]]]) -> None:
        super().__init__(link)
        self.devices = {
            address: {function: dict(words) for function, words in tables.items()}
            for address, tables in devices.items()
        }
        self.silent: set[int] = set()
        self.asked: list[tuple[int, int, int, int]] = []  # address, function, register, count
        self.spoilt: list[str] = []  # of the next answers: "crc", "half", "noise", "" for none
        self.echo = False  # as adapters do whose receiver stays on
        self._heard = b""

    def answers(self, data: bytes) -> bytes:
        """Answers of the whole questions in `data`; after a wrong CRC nothing of it is heard."""
        self._heard += data
        out = b""
        while len(self._heard) >= _QUESTION:
            question, self._heard = self._heard[:_QUESTION], self._heard[_QUESTION:]
            if crc16(question) != 0:
                self._heard = b""
                break
            out += (question if self.echo else b"") + self._answer(question)
        return out

    def put(self, device: int, function: int, register: int, words: bytes) -> None:
        """Write big-endian `words` to registers from `register` on."""
        table = self.devices[device][function]
        for index in range(0, len(words), 2):
            table[register + index // 2] = words[index] << 8 | words[index + 1]

    def _answer(self, question: bytes) -> bytes:
        address, function, register, count = struct.unpack(">BBHH", question[:6])
        self.questions += 1
        self.asked.append((address, function, register, count))
        if address not in self.devices or address in self.silent:
            return b""
        body = self._body(self.devices[address], function, register, count)
        frame = bytes([address]) + body
        checked = frame + crc16(frame).to_bytes(2, "little")
        return self._spoil(checked, self.spoilt.pop(0) if self.spoilt else "")

    def _body(
        self, tables: Mapping[int, Mapping[int, int]], function: int, register: int, count: int
    ) -> bytes:
        if function not in tables:
            return bytes([function | 0x80, 1])
        wanted = range(register, register + count)
        if any(number not in tables[function] for number in wanted):
            return bytes([function | 0x80, 2])
        words = [tables[function][number] for number in wanted]
        return struct.pack(f">BB{count}H", function, 2 * count, *words)

    def _spoil(self, frame: bytes, how: str) -> bytes:
        if how == "crc":
            return frame[:-1] + bytes([frame[-1] ^ 0x5A])
        if how == "half":
            return frame[: len(frame) // 2]
        if how == "noise":  # of which two bytes look like the beginning of an answer
            return b"\x00\xff" + frame[:2] + b"\x55" + frame
        return frame


def crc16(data: bytes) -> int:
    """CRC-16/MODBUS, bit by bit: polynomial 0xA001 reflected, from 0xFFFF; low byte goes first."""
    register = 0xFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            carry = register & 1
            register >>= 1
            if carry:
                register ^= 0xA001
    return register
