"""Readings a second of each decoder on one core, against the least that could be done.

The baseline of each is named in the table: the standard library's own call, without any check.
Run: python -m tests.benchmarks.bench_decoders
"""

import json
import struct
import sys
import time
from collections.abc import Callable

from logger.instruments.decoders.lines import Format, Line, LineDecoder
from logger.instruments.decoders.modbus_registers import RegisterNumber, RegisterType
from logger.instruments.decoders.one_wire_files import from_slave_file
from logger.instruments.decoders.scpi_answers import measured

CHANNELS = 8
CHUNK = 256  # bytes a read of the serial driver brings at most
ROWS = 2000
VALUES = [41.2 + 0.1 * n for n in range(CHANNELS)]
NAMES = [f"t{n}" for n in range(CHANNELS)]

CSV = ("\n" + (",".join(f"{v:.1f}" for v in VALUES) + "\r\n") * ROWS).encode()
PAIRS = (
    "\n" + (" ".join(f"{n}={v:.1f}C" for n, v in zip(NAMES, VALUES, strict=True)) + "\n") * ROWS
).encode()
JSON = ("\n" + (json.dumps(dict(zip(NAMES, VALUES, strict=True))) + "\n") * ROWS).encode()
SCPI = (",".join(f"{v:+.8E}" for v in VALUES) + "\n").encode()
WORDS = [word for v in VALUES for word in struct.unpack(">2H", struct.pack(">f", v))]
SLAVE = (
    b"4d 01 4b 46 7f ff 03 10 d8 : crc=d8 YES\n4d 01 4b 46 7f ff 03 10 d8 t=20812\n"  # a real one
)


def of_lines(format: Format, fields: list[int] | list[str], data: bytes) -> int:
    """Readings taken from `data`, fed as the driver feeds it."""
    decoder = LineDecoder(format, fields)
    taken = 0
    for start in range(0, len(data), CHUNK):
        for found in decoder.feed(data[start : start + CHUNK]):
            if not isinstance(found, Line):
                raise RuntimeError(f"refused: {found.reason}")
            taken += len(found.values)
    return taken


def of_scpi() -> int:
    """Readings of as many answers."""
    return sum(len(measured(SCPI, CHANNELS)) for _ in range(ROWS))


def of_modbus() -> int:
    """Readings of as many polls."""
    number = RegisterNumber(type=RegisterType.FLOAT32)
    taken = 0
    for _ in range(ROWS):
        taken += len([number.value(WORDS[i : i + 2]) for i in range(0, len(WORDS), 2)])
    return taken


def of_one_wire() -> int:
    """Readings of as many files."""
    return len([from_slave_file(SLAVE) for _ in range(ROWS)])


def split_and_float(data: bytes, separator: bytes) -> int:
    """Bytes split at line ends and separators, each piece to float."""
    return sum(len([float(x) for x in row.split(separator)]) for row in data.split())


def pairs_to_float() -> int:
    """Pairs split at blanks and at the sign, the unit cut off."""
    return len([float(piece.split(b"=")[1][:-1]) for piece in PAIRS.split()])


def json_loads() -> int:
    """json.loads of each line."""
    return sum(len(json.loads(row)) for row in JSON.splitlines() if row)


def scpi_to_float() -> int:
    """Answers split at commas, each piece to float."""
    return sum(len([float(x) for x in SCPI.split(b",")]) for _ in range(ROWS))


def struct_unpack() -> int:
    """One struct.unpack for all registers of a poll."""
    packed = struct.pack(f">{len(WORDS)}H", *WORDS)
    return sum(len(struct.unpack(f">{CHANNELS}f", packed)) for _ in range(ROWS))


def after_t() -> int:
    """The kernel's t= to int, CRC not looked at."""
    return len([int(SLAVE.rpartition(b"t=")[2]) / 1000 for _ in range(ROWS)])


CASES: list[tuple[str, Callable[[], int], str, Callable[[], int]]] = [
    (
        "lines csv",
        lambda: of_lines(Format.CSV, list(range(CHANNELS)), CSV),
        "bytes.split + float",
        lambda: split_and_float(CSV, b","),
    ),
    (
        "lines pairs",
        lambda: of_lines(Format.PAIRS, NAMES, PAIRS),
        "bytes.split + float",
        pairs_to_float,
    ),
    ("lines json", lambda: of_lines(Format.JSON, NAMES, JSON), "json.loads", json_loads),
    ("scpi", of_scpi, "bytes.split + float", scpi_to_float),
    ("modbus float32", of_modbus, "struct.unpack", struct_unpack),
    ("1-wire", of_one_wire, "int after t=", after_t),
]


def readings_per_s(run: Callable[[], int], repeats: int = 5) -> float:
    """Best of some runs: the others measure the machine's other work."""
    best = 0.0
    for _ in range(repeats):
        start_s = time.perf_counter()
        taken = run()
        best = max(best, taken / (time.perf_counter() - start_s))
    return best


def main() -> None:
    """Print the table."""
    head = f"{'decoder':16}{'readings/s':>12}{'us each':>9}{'ratio':>7}  baseline (readings/s)"
    rows = [head]
    for name, run, baseline_name, baseline in CASES:
        ours, theirs = readings_per_s(run), readings_per_s(baseline)
        rows.append(
            f"{name:16}{ours:12,.0f}{1e6 / ours:9.2f}{ours / theirs:7.3f}"
            f"  {baseline_name} ({theirs:,.0f})"
        )
    sys.stdout.write("\n".join([*rows, ""]))


if __name__ == "__main__":
    main()
