"""Random damage to a text or a binary file, of the kinds that people, disks and editors make."""

from __future__ import annotations

import random
import re

NUMBER = re.compile(r"(?<![\w.])(-?\d+\.?\d*(?:[eE][-+]?\d+)?)(?= ?[a-zA-Z%\"',\n\]])")
VALUES = (
    '"0 mm"', '"-3 mm"', '"nan mm"', "nan", "inf", "-inf", "0", "-1", "1e400", "1e308", '"3 kg"',
    "true", "[]", "{}", '""', '"x"', "2.5", '"99 km"', "24", "1000", '"90 %"', "9" * 30,
    '"1e300 mm"', '"1e-300 m"', '"5e-324 Pa"', "[1, 2, 3]", '["1 mm"]', '"湖 12 mm"', '"\\u0000"',
)
CELLS = ("", "nan", "inf", "-1", "0", "1e300", "1e-300", "1e400", "x", "1,5", "-0.0", "9" * 40)
SCALES = (0.0, -1.0, 0.1, 0.5, 0.7, 1.3, 2, 10, 1e-3, 1e3, 1e-6, 1e6, 1e-12, 1e12, 1e-300, 1e100)


def _bytes(data: bytes, chance: random.Random) -> bytes:
    changed = bytearray(data)
    for _ in range(chance.randrange(1, 4)):
        changed[chance.randrange(len(changed))] ^= 1 << chance.randrange(8)
    return bytes(changed)


def _values(line: str, chance: random.Random) -> str:
    """One value of a line replaced: behind "=" in TOML, between commas in CSV."""
    if "=" in line and not line.startswith("#"):
        return f"{line.split('=', 1)[0]}= {chance.choice(VALUES)}"
    cells = line.split(",")
    cells[chance.randrange(len(cells))] = chance.choice(CELLS)
    return ",".join(cells)


def mutate(data: bytes, chance: random.Random) -> bytes:
    """One random change of a file.

    Args:
        data: its content.
        chance: source of randomness.
    """
    kind = chance.randrange(9)
    try:
        text = data.decode()
    except UnicodeDecodeError:
        kind = chance.choice((0, 8))
    if kind == 0 or not data:
        return _bytes(data, chance) if data else b"x"
    if kind == 8:  # cut off, as by a full disk
        return data[: chance.randrange(len(data))]
    lines = text.split("\n")
    at = chance.randrange(len(lines))
    if kind == 1:
        del lines[at]
    elif kind == 2:
        lines.insert(at, chance.choice(lines))
    elif kind == 3:
        other = chance.randrange(len(lines))
        lines[at], lines[other] = lines[other], lines[at]
    elif kind == 4:
        lines[at] = _values(lines[at], chance)
    else:  # scale a number, sometimes beyond all reason
        found = [i for i, line in enumerate(lines) if NUMBER.search(line + "\n")]
        if found:
            at = chance.choice(found)
            factor = chance.choice(SCALES)
            hits = list(NUMBER.finditer(lines[at] + "\n"))
            hit = chance.choice(hits)
            try:
                new = repr(float(hit[1]) * factor)
            except OverflowError:
                new = "1e999"
            lines[at] = lines[at][: hit.start()] + new + lines[at][hit.end():]
    return "\n".join(lines).encode(errors="replace")


def mutated(data: bytes, chance: random.Random) -> bytes:
    """One to three random changes."""
    for _ in range(chance.choice((1, 1, 2, 3))):
        data = mutate(data, chance)
    return data
