"""What a result belongs to: the job that `gridshell mesh` wrote, by the names of its files."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Case
from gridshell.define.types import Array
from gridshell.proof.decks.ends import across
from gridshell.proof.decks.results import Answer


@dataclass(frozen=True)
class Job:
    """What `gridshell mesh` kept of the decks a result belongs to.

    Attributes:
        record: the content of NAME.json.
        cases: names of the load cases of the deck, in order; none for modes.
        deck: static, stiffness, modes or buckling.
        deck_file: the deck beside the result, if it is still there.
        beam: of the tube as a beam.
    """

    record: dict[str, Any]
    cases: tuple[str, ...]
    deck: str
    deck_file: Path | None
    beam: bool = False

    @property
    def kind(self) -> str:
        """Of the mesh: wall, ribs, solid or beam."""
        return "beam" if self.beam else str(self.record["as"])

    @property
    def ends(self) -> str:
        """Kind of ends; beams are cantilevers."""
        return "spider" if self.beam else str(self.record["ends"])


def find_job(path: str | Path) -> Job:
    """The job that a result belongs to, by the names of the files.

    Args:
        path: of the result, NAME-static..., NAME-stiffness, NAME-modes or
            NAME-buckling-...

    Raises:
        InputError: no NAME.json lies beside it.
    """
    found = Path(path)
    tails = r"-(beam-)?(static|stiffness|modes|buckling)"
    for match in re.finditer(tails, found.stem, re.IGNORECASE):
        base, tail = found.stem[:match.start()], found.stem[match.start(2) - 1:].lower()
        record = found.with_name(base + ".json")
        if record.is_file():
            try:
                content = json.loads(record.read_text(encoding="utf-8"))
                cases = content["decks"][tail]
            except (ValueError, KeyError, TypeError):
                raise InputError(f"--read {path}: {record.name} knows no deck {tail!r}; write it "
                                 "anew with gridshell mesh --force") from None
            decks = [found.with_suffix(suffix) for suffix in (".bdf", ".inp")]
            return Job(content, tuple(cases), match[2].lower(),
                       next((deck for deck in decks if deck.is_file()), None), bool(match[1]))
    raise InputError(f"--read {path}: the file NAME.json that gridshell mesh wrote must lie beside "
                     "it, and the result keep the name of its deck")


def single_load(case: Case, ends: str) -> str | None:
    """The one load of a case in a deck with such ends, or None if it has several.

    Args:
        case: of the design.
        ends: of `gridshell.proof.decks.ends.ENDS`.
    """
    if any(across(case, ends)):
        return None
    pressure = "hydrostatic" if case.pressure_on_ends else "lateral"
    sizes = {"compression": case.compression, "bending": case.moment, "torsion": case.torque,
             pressure: case.pressure, "shear": case.shear}
    found = [name for name, size in sizes.items() if size]
    return found[0] if len(found) == 1 and found[0] != "shear" else None


def node_places(job: Job, answer: Answer) -> Array | None:
    """(nodes, 3) places of the nodes, m: from the result, or from the deck beside it; else None.

    Args:
        job: that the result belongs to.
        answer: the result.
    """
    if answer.points is not None:
        return answer.points
    if job.deck_file is None or job.deck_file.suffix != ".bdf":
        return None
    # Cards of `nastran.card`: large fields, the third coordinate on the line that follows.
    lines = job.deck_file.read_text(encoding="ascii").splitlines()
    return np.array([
        [float(first[40:56]), float(first[56:72]), float(second[8:24])]
        for first, second in pairwise(lines) if first.startswith("GRID*")])
