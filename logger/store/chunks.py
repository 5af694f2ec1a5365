"""Columns of sealed rows as compressed bytes, and back bit for bit. Knows no database.

Stamps are integers already; numbers that came as decimals are kept as integers of their last
digit. With stamps that jitter by 5 ms and noise of 1 K a reading then takes 3.1 bytes (measured).
Integers are differences from a straight line, which may be one through their noise, from the one
before, or differences of those, whichever costs least; their bytes are sorted by significance,
since the high ones hardly change, and deflated.
"""

import struct
import zlib
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Integers = NDArray[np.int64]
    Floats = NDArray[np.float64]

_MOST_DECIMALS = 9  # more digits are those of a computed value
_EXACT = 2.0**53  # integers below it are doubles
_BITS = 255  # in place of a number of decimals: the double itself
_LEVEL = 6  # of zlib
_SIZE = struct.Struct("<I")
_SLOPED = 3  # in place of how often differenced: plus the shift of a slope that has a fraction
_FRACTION = 16  # bits of it: of a thousand rows the last is right to a hundredth of a step
_HEAD = struct.Struct("<BqqB")  # how often differenced, first, step, bytes that are not all zero


def pack(columns: Sequence[Sequence[Any]], kinds: str) -> bytes:
    """Columns of one length, which is not 0, each of its kind.

    `i` are integers, `f` numbers or None, `t` texts; `r` are numbers or None that may be the root
    of the sum of the column before squared and a constant, as a combined uncertainty is. Raises
    ValueError, TypeError or OverflowError for what such a column cannot hold.
    """
    parts = [_SIZE.pack(len(columns[0]))]
    before: Sequence[Any] = ()
    for kind, column in zip(kinds, columns, strict=True):
        packed = _pack(kind, column, before)
        parts += (_SIZE.pack(len(packed)), packed)
        before = column
    return b"".join(parts)


def unpack(body: bytes, kinds: str) -> list[Any]:
    """The first columns, of these kinds, as arrays; None is NaN there.

    Of a body that is not as it was packed anything may come, or any error: check its sum first.
    """
    (rows,) = _SIZE.unpack_from(body)
    at = _SIZE.size
    found: list[Any] = []
    for kind in kinds:
        (length,) = _SIZE.unpack_from(body, at)
        at += _SIZE.size
        found.append(_unpack(kind, body[at : at + length], rows, found))
        at += length
    return found


def same(unpacked: Sequence[Any], columns: Sequence[Sequence[Any]]) -> bool:
    """Whether these are the columns, to the last bit."""
    return all(map(_same, unpacked, columns))


def _same(unpacked: Any, column: Sequence[Any]) -> bool:
    import numpy as np

    if unpacked.dtype != np.float64:
        return bool(unpacked.tolist() == list(column))
    expected = np.array([np.nan if value is None else value for value in column])
    return np.array_equal(unpacked.view(np.int64), expected.view(np.int64))


def _pack(kind: str, column: Sequence[Any], before: Sequence[Any]) -> bytes:
    if kind == "i":
        return _pack_integers(column)
    if kind == "t":
        return _pack_texts(column)
    plain = b"\0" + _pack_floats(column)
    if kind == "f" or None in column or None in before:
        return plain
    rooted = b"\1" + _pack_rooted(column, before)
    return min(plain, rooted, key=len)


def _unpack(kind: str, packed: bytes, rows: int, found: Sequence[Any]) -> Any:
    if kind == "i":
        return _unpack_integers(packed, rows)
    if kind == "t":
        return _unpack_texts(packed, rows)
    if packed[0]:
        return _unpack_rooted(packed[1:], rows, found[-1])
    return _unpack_floats(packed[1:], rows)


# integers


def _pack_integers(column: Sequence[int]) -> bytes:
    import numpy as np

    if not all(type(value) is int for value in column):
        raise TypeError("not an integer")
    return _differenced(np.array(column, dtype=np.int64))


def _differenced(values: "Integers") -> bytes:
    import numpy as np

    first = values[0]
    step = np.int64(np.median(np.diff(values)) if len(values) > 1 else 0)
    line = values - first - step * np.arange(len(values))  # what overflows comes back likewise
    once = np.diff(line, prepend=0)
    shift, slope = _slope(values)
    sloped = values - _line(slope, len(values), shift)
    level = np.sort(sloped)[len(values) // 2]  # the median, exactly
    ways = (line, once, np.diff(once, prepend=0), sloped - level)
    folded = [(way << 1) ^ (way >> 63) for way in ways]  # small ones of either sign are small
    costs = [np.log2(one.view(np.uint64) + 1.0).sum() for one in folded]
    order = best = int(np.argmin(costs))
    if best == len(ways) - 1:
        order, first, step = _SLOPED + shift, level, slope
    planes = folded[best].view(np.uint8).reshape(-1, 8)
    kept = 8
    while kept and not planes[:, kept - 1].any():
        kept -= 1
    parts = [_deflated(planes[:, place].tobytes()) for place in range(kept)]
    lengths = struct.pack(f"<{kept}I", *map(len, parts))
    return b"".join((_HEAD.pack(order, first, step, kept), lengths, *parts))


def _slope(values: "Integers") -> "tuple[int, np.int64]":
    """Of noisy values, whose single steps tell little: a shift, and the slope times 2 ** shift."""
    import numpy as np

    away = (values - values[0]).astype(np.float64)
    half = len(values) // 2
    slope = 2.0 * (away[half:].mean() - away[:half].mean()) / len(values) if half else 0.0
    slope = slope if abs(slope) < 2.0**62 else 0.0
    shift = _FRACTION if abs(slope) < 2.0**30 else 0
    return shift, np.int64(slope * 2.0**shift)


def _line(slope: "np.int64", rows: int, shift: int) -> "Integers":
    import numpy as np

    line: Integers = slope * np.arange(rows) >> shift
    return line


def _deflated(plain: bytes) -> bytes:
    # noise repeats nothing: there the bytes' frequencies alone make less of it
    ways = [plain]  # first: what is as long as the plain bytes is taken for them
    for strategy in (zlib.Z_DEFAULT_STRATEGY, zlib.Z_HUFFMAN_ONLY):
        deflate = zlib.compressobj(_LEVEL, wbits=-15, memLevel=9, strategy=strategy)
        ways.append(deflate.compress(plain) + deflate.flush())
    return min(ways, key=len)


def _unpack_integers(packed: bytes, rows: int) -> "Integers":
    import numpy as np

    order, first, step, kept = _HEAD.unpack_from(packed)
    shift = max(0, order - _SLOPED)
    steps: Integers = np.int64(first) + _line(np.int64(step), rows, shift)
    if not kept:
        return steps
    lengths = struct.unpack_from(f"<{kept}I", packed, _HEAD.size)
    at = _HEAD.size + 4 * kept
    parts = []
    for length in lengths:
        part = packed[at : at + length]
        parts.append(part if length == rows else zlib.decompress(part, wbits=-15))
        at += length
    planes = np.zeros((rows, 8), dtype=np.uint8)
    planes[:, :kept] = np.frombuffer(b"".join(parts), dtype=np.uint8).reshape(kept, rows).T
    folded = planes.view(np.uint64).reshape(-1)
    line = (folded >> np.uint64(1)).view(np.int64) ^ -(folded & np.uint64(1)).view(np.int64)
    for _ in range(order if order < _SLOPED else 0):
        line = np.cumsum(line)
    steps += line
    return steps


# numbers, of which some may be missing


def _pack_floats(column: Sequence[float | None]) -> bytes:
    import numpy as np

    missing = np.array([value is None for value in column])
    present = _finite([value for value in column if value is not None])
    mask = np.packbits(missing).tobytes() if missing.any() else b""
    decimals, whole = _scaled(present)
    return bytes((decimals, bool(mask))) + mask + (_differenced(whole) if len(whole) else b"")


def _finite(column: Sequence[float]) -> "Floats":
    import numpy as np

    if not all(type(value) is float for value in column):
        raise TypeError("not a number")
    values = np.array(column, dtype=np.float64)
    if not np.isfinite(values).all():
        raise ValueError("not a finite number")
    return values


def _scaled(values: "Floats") -> "tuple[int, Integers]":
    """The fewest decimals that give every value back, and the values as integers of the last."""
    import numpy as np

    bits = values.view(np.int64)
    largest = np.abs(values).max(initial=0.0)
    for decimals in range(_MOST_DECIMALS + 1):
        power = 10.0**decimals
        if largest * power >= _EXACT:
            break
        whole = np.rint(values * power)
        if np.array_equal((whole.astype(np.int64) / power).view(np.int64), bits):
            return decimals, whole.astype(np.int64)
    return _BITS, bits


def _unpack_floats(packed: bytes, rows: int) -> "Floats":
    import numpy as np

    decimals, masked, rest = packed[0], packed[1], packed[2:]
    if not masked:
        return _unscaled(_unpack_integers(rest, rows), decimals)
    size = -(-rows // 8)
    bits = np.frombuffer(rest[:size], dtype=np.uint8)
    present = ~np.unpackbits(bits, count=rows).view(np.bool_)
    values = np.full(rows, np.nan)
    if present.any():
        whole = _unpack_integers(rest[size:], int(present.sum()))
        values[present] = _unscaled(whole, decimals)
    return values


def _unscaled(whole: "Integers", decimals: int) -> "Floats":
    import numpy as np

    values: Floats = whole.view(np.float64) if decimals == _BITS else whole / 10.0**decimals
    return values


# a column that follows from the one before it, but for the last bits


def _pack_rooted(column: Sequence[float], before: Sequence[float]) -> bytes:
    import numpy as np

    values, random = _finite(column), _finite(before)
    with np.errstate(over="ignore", invalid="ignore"):
        constant = np.float64(np.median(values * values - random * random))
        rest = values.view(np.int64) - _rooted(random, constant)
    return struct.pack("<d", constant) + _differenced(rest)


def _unpack_rooted(packed: bytes, rows: int, before: "Floats") -> "Floats":
    import numpy as np

    (constant,) = struct.unpack_from("<d", packed)
    with np.errstate(over="ignore", invalid="ignore"):
        root = _rooted(before, np.float64(constant))
    return (_unpack_integers(packed[8:], rows) + root).view(np.float64)


def _rooted(random: "Floats", constant: "np.float64") -> "Integers":
    """Bits of the root of the sum of squares: IEEE 754 rounds it alike on every machine."""
    import numpy as np

    root = np.sqrt(np.maximum(random * random + constant, 0.0))
    return np.nan_to_num(root, nan=0.0, posinf=0.0).view(np.int64)


# texts, few of which differ


def _pack_texts(column: Sequence[str]) -> bytes:
    import numpy as np

    if not all(type(value) is str for value in column):
        raise TypeError("not a text")
    different = sorted(set(column))
    if "\0" in "".join(different):
        raise ValueError("a text with the character 0")
    places = {text: place for place, text in enumerate(different)}
    names = "\0".join(different).encode()
    codes = _differenced(np.array([places[text] for text in column], dtype=np.int64))
    return _SIZE.pack(len(names)) + names + codes


def _unpack_texts(packed: bytes, rows: int) -> Any:
    import numpy as np

    at = _SIZE.size + _SIZE.unpack_from(packed)[0]
    different = np.array(packed[_SIZE.size : at].decode().split("\0"))
    return different[_unpack_integers(packed[at:], rows)]
