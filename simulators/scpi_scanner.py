"""A scanner that answers SCPI questions, written by hand: no decoder's code is used here."""

import re
from collections.abc import Mapping
from pathlib import Path

from simulators.answering import Answering

_OVERLOAD = "9.90000000E+37"  # SCPI-99 infinity


class ScpiScanner(Answering):
    """`values` by channel number, None for an open sensor; answered in NR3.

    Knows `*IDN?`, `*CLS`, `SYST:ERR?` and `MEAS:TEMP? (@101,102)` in long, short and small forms.
    """

    def __init__(self, link: Path, values: Mapping[int, float | None]) -> None:
        super().__init__(link)
        self.values = dict(values)
        self.identity = "Harbour Instruments,Scanner 8,SN0042,1.07"
        self.errors: list[tuple[int, str]] = []
        self.has_error_queue = True
        self.commands: list[str] = []  # everything that came
        self.slow = ""  # the question whose next answer comes only with the one after it
        self._heard = b""
        self._late = b""

    def answers(self, data: bytes) -> bytes:
        """Answers of the whole lines in `data`."""
        self._heard += data
        *lines, self._heard = self._heard.split(b"\n")
        return b"".join(self._in_time(line.decode("latin-1").strip()) for line in lines)

    def _in_time(self, command: str) -> bytes:
        answer = self._answer(command)
        if command == self.slow:
            self.slow, self._late = "", answer
            return b""
        late, self._late = self._late, b""
        return late + answer

    def _answer(self, command: str) -> bytes:
        self.commands.append(command)
        head, _, rest = command.partition(" ")
        word = head.upper().lstrip(":")
        if word.endswith("?"):
            self.questions += 1
        if word == "*IDN?":
            return self.identity.encode() + b"\n"
        if word == "*CLS":
            self.errors.clear()
            return b""
        if word in {"SYST:ERR?", "SYSTEM:ERROR?"}:
            if not self.has_error_queue:
                return b""
            code, text = self.errors.pop(0) if self.errors else (0, "No error")
            return f'{code:+d},"{text}"\n'.encode()
        if word in {"MEAS:TEMP?", "MEASURE:TEMPERATURE?"}:
            return self._measure(rest)
        self.errors.append((-113, "Undefined header"))
        return b""

    def _measure(self, channel_list: str) -> bytes:
        match = re.fullmatch(r"\(@([0-9,]+)\)", channel_list.strip())
        numbers = [int(number) for number in match[1].split(",")] if match else []
        if not numbers or any(number not in self.values for number in numbers):
            self.errors.append((-222, "Data out of range"))
            return b""
        values = (self.values[number] for number in numbers)
        return (",".join(map(_nr3, values)) + "\n").encode()


def _nr3(value: float | None) -> str:
    return "+" + _OVERLOAD if value is None else f"{value:+.8E}"
