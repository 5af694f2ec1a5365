"""Inputs that nobody means: values, documents and texts near those that are meant."""

import json
import os
from random import Random

EXAMPLES = 500 if os.environ.get("WICKBENCH_LONG") == "1" else 150  # of a property (our choice)

WORDS = (
    "", " ", "now", "25 min ago", "14:05", "2031-05-04T09:00:00Z", "1e400 h", "60 mm", "2e7 mm",
    "-1 mm", "22 degC", "1e155 degC", "degF", "nan", "1,5 g", "jar-a", "tin-b", "room", "-", "+",
    "#", "$SYS/x", "a/b", "..", "../../etc/passwd", "%00", "\x00", "\x1b[2J", "\u202e", "é", "🕯",
    "\ud800", "<b>x</b>", "{{7*7}}", "'; --", "wall-limit/jar-a-wall-3", "nautical_mile", "°C",
    "0.92", "true", "null", "9" * 101, "1 h " * 50, "a" * 5000, "[" * 300,
)  # fmt: skip
NUMBERS = (
    0, -1, 1, 12, 13, 50.5, -0.0, 1e-320, 1e155, -1e155, 1e308, 2**31, 2**63, -(2**64), 10**400,
)  # fmt: skip


def value(chance: Random, depth: int = 0) -> object:
    """Something that JSON can hold."""
    match chance.randrange(8 if depth < 3 else 6):
        case 0 | 1 | 2:
            return chance.choice(WORDS)
        case 3 | 4:
            return chance.choice(NUMBERS)
        case 5:
            return chance.choice((None, True, False))
        case 6:
            return [value(chance, depth + 1) for _ in range(chance.randrange(4))]
        case _:
            return {chance.choice(WORDS): value(chance, depth + 1) for _ in range(3)}


def document(chance: Random, like: dict[str, object]) -> bytes:
    """JSON near `like`; now and then no JSON at all."""
    found = dict(like)
    for _ in range(chance.choice((0, 1, 1, 2, 3))):
        key = chance.choice([*like, *WORDS[:4]])
        if chance.random() < 0.15:
            found.pop(key, None)
        else:
            found[key] = value(chance)
    if "id" in found and found["id"] == like.get("id"):
        found["id"] = f"fuzz-{chance.getrandbits(60):x}"
    raw = json.dumps(found).encode()
    return damaged(chance, raw) if chance.random() < 0.2 else raw


def damaged(chance: Random, raw: bytes) -> bytes:
    """`raw` cut, doubled, or with some bytes changed."""
    match chance.randrange(5):
        case 0:
            return raw[: chance.randrange(len(raw) + 1)]
        case 1:
            return raw + raw
        case 2:
            return chance.randbytes(chance.randrange(200))
        case 3:
            return b"[" * chance.choice((10, 1000, 60_000))
        case _:
            changed = bytearray(raw)
            for _ in range(chance.randrange(1, 5)):
                if changed:
                    changed[chance.randrange(len(changed))] = chance.randrange(256)
            return bytes(changed)


def text(chance: Random, like: str) -> bytes:
    """A text file near `like`: lines moved, dropped and doubled, what stands in them changed."""
    lines = like.splitlines()
    for _ in range(chance.choice((1, 1, 2, 4))):
        at = chance.randrange(len(lines))
        match chance.randrange(6):
            case 0:
                lines.insert(chance.randrange(len(lines)), lines[at])
            case 1:
                del lines[at]
            case 2 | 3:
                key, sign, _ = lines[at].partition("=" if "=" in lines[at] else ",")
                said = json.dumps(value(chance))
                lines[at] = f"{key}{sign}{said}"
            case 4:
                lines[at] = lines[at] + chance.choice(WORDS)
            case _:
                lines[at] = chance.choice(("[a.", "[[x]]", "x = {", "=", '"', "'''", "\t"))
        if not lines:
            break
    raw = "\n".join(lines).encode("utf-8", "surrogatepass")
    return damaged(chance, raw) if chance.random() < 0.1 else raw
