"""A balance or microcontroller that prints a line when it is asked for one."""

from collections.abc import Mapping
from pathlib import Path

from simulators.answering import Answering


class PolledLines(Answering):
    """`lines`: by question, the line to answer with, both without their ends (CR LF)."""

    def __init__(self, link: Path, lines: Mapping[str, str]) -> None:
        super().__init__(link)
        self.lines = dict(lines)
        self.commands: list[str] = []  # everything that came
        self._heard = b""

    def answers(self, data: bytes) -> bytes:
        """Answers of the whole questions in `data`."""
        self._heard += data
        *questions, self._heard = self._heard.split(b"\r\n")
        out = b""
        for question in questions:
            self.commands.append(question.decode("latin-1"))
            if self.commands[-1] in self.lines:
                self.questions += 1
                out += self.lines[self.commands[-1]].encode() + b"\r\n"
        return out
