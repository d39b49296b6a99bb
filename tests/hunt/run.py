"""The hunt: random designs held to laws. ``python -m tests.hunt.run --designs 100000``."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from gridshell.define.files.writing import definition_text
from gridshell.define.tables.design import Design
from gridshell.define.types import Array

from .draw import draw, single, some
from .laws import LAWS as WALL_AND_TUBE
from .laws import Lot, Outcome, wall_is_fine
from .use_laws import USE_LAWS

LAWS = WALL_AND_TUBE + USE_LAWS
LOT = 50  # designs at once
NO_ANSWER = "an answer, not a traceback"


@dataclass
class Tally:
    """One law over all lots.

    Attributes:
        designs: held to it.
        broken: of these.
        worst: largest value.
        limit: of the law.
        alone: broken though the wall is definite and within its bounds.
        found: the worst few: value, note, definition.
    """

    designs: int = 0
    broken: int = 0
    worst: float = -np.inf
    limit: float = 0.0
    alone: int = 0
    found: list[tuple[float, str, str]] = field(default_factory=list)

    def add(self, outcome: Outcome, design: Design, keep: int, fine: Array) -> None:
        """Count one lot."""
        value = np.asarray(outcome.value, float)
        known = ~np.isnan(value)
        limit = np.broadcast_to(np.asarray(outcome.limit, float), value.shape)
        bad = known & (value > limit)
        self.designs += int(known.sum())
        self.broken += int(bad.sum())
        self.alone += int((bad & fine).sum())
        self.limit = float(limit.max(initial=self.limit if self.limit else -np.inf))
        self.worst = max(self.worst, float(value[known].max(initial=-np.inf)))
        # Those that are no sequel of a faulty wall first.
        rank = np.where(fine, 1e300, 0.0) + np.minimum(value, 1e200)
        order = np.flatnonzero(bad)[np.argsort(-rank[bad])][:keep]
        for number in order:
            note = outcome.note if isinstance(outcome.note, str) else str(outcome.note[number])
            note += "" if fine[number] else " (faulty wall)"
            self.found.append((float(value[number]), note,
                               definition_text(single(design, int(number)))))
        self.found = sorted(self.found, key=lambda one: ("faulty" in one[1], -one[0]))[:keep]


def _held(law: Callable[[Lot], list[Outcome]], lot: Lot, tallies: dict[str, Tally], keep: int
          ) -> None:
    """One law on one lot; where it raises, on each half, down to the design that does it."""
    try:
        outcomes = law(lot)
    except Exception as error:
        if lot.count == 1:
            tally = tallies.setdefault(NO_ANSWER, Tally())
            tally.designs += 1
            tally.broken += 1
            tally.worst = np.inf
            if len(tally.found) < 5 * keep:
                tally.found.append((np.inf, f"{law.__name__}: {type(error).__name__}: {error}",
                                    definition_text(single(lot.design, 0))))
            return
        half = lot.count // 2
        for part in (np.arange(half), np.arange(half, lot.count)):
            _held(law, Lot(some(lot.design, part), lot.generator), tallies, keep)
        return
    try:
        fine = wall_is_fine(lot)
    except Exception:
        fine = np.zeros(lot.count, bool)
    for outcome in outcomes:
        tallies.setdefault(outcome.law, Tally()).add(outcome, lot.design, keep, fine)


def lots(designs: int, seed: int, size: int = LOT, **asked: Any) -> Iterator[Lot]:
    """Lots of designs; the same seed gives the same lots."""
    for number in range(-(-designs // size)):
        generator = np.random.default_rng((seed, number))
        count = min(size, designs - number * size)
        yield Lot(draw(generator, count, **asked), generator)


def hunt(designs: int, seed: int = 1, size: int = LOT, keep: int = 3, progress: bool = False,
         laws: tuple[Callable[[Lot], list[Outcome]], ...] = LAWS,
         seconds: float = np.inf, **asked: Any) -> dict[str, Tally]:
    """Hold random designs to every law.

    Args:
        designs: drawn.
        seed: of the drawing.
        size: designs at once.
        keep: worst designs kept for each law.
        progress: say on the error stream how far it is.
        laws: which.
        seconds: after which no further lot is begun.
        asked: passed to `draw`.
    """
    tallies: dict[str, Tally] = {}
    done, start = 0, time.monotonic()
    for lot in lots(designs, seed, size, **asked):
        for law in laws:
            _held(law, lot, tallies, keep)
        done += lot.count
        if progress:
            broken = sum(tally.broken for tally in tallies.values())
            sys.stderr.write(f"\r{done:,} designs, laws broken {broken} times ")
            sys.stderr.flush()
        if time.monotonic() - start > seconds:
            break
    return tallies


def table(tallies: dict[str, Tally]) -> str:
    """The result as a Markdown table."""
    lines = ["| law | designs | broken | wall fine | largest | limit |",
             "|---|---|---|---|---|---|"]
    for law, tally in sorted(tallies.items()):
        lines.append(f"| {law} | {tally.designs:,} | {tally.broken:,} | "
                     f"{tally.alone:,} | {tally.worst:.3g} | "
                     f"{tally.limit:.3g} |")
    return "\n".join(lines)


def main() -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--designs", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--lot", type=int, default=LOT, help="designs at once")
    parser.add_argument("--show", type=int, default=0, help="definitions shown of each broken law")
    parser.add_argument("--law", default="", help="only laws whose function name holds this")
    parser.add_argument("--minutes", type=float, default=np.inf, help="stop after so long")
    options = parser.parse_args()
    start = time.perf_counter()
    laws = tuple(law for law in LAWS if options.law in law.__name__)
    found = hunt(options.designs, options.seed, options.lot, max(options.show, 1), True, laws,
                 60 * options.minutes)
    done = max(tally.designs for tally in found.values())
    print(f"\n{done:,} designs, seed {options.seed}, "
          f"{time.perf_counter() - start:.0f} s\n\n{table(found)}")
    if options.show:
        for law, tally in found.items():
            for value, note, text in tally.found[:options.show]:
                print(f"\n## {law}: {value:.4g} {note}\n\n{text}")
    return 1 if any(tally.broken for tally in found.values()) else 0


if __name__ == "__main__":
    raise SystemExit(main())
