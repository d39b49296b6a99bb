"""The worker: one heavy job in a process of its own, so that a crash ends only the job.

Reads one JSON order, a line of standard input, and ends when that is closed; tells its progress as
JSON lines on standard output.
"""

from __future__ import annotations

import json
import os
import re
import signal
import sys
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from gridshell.define.errors import InputError
from gridshell.define.files.reading import read_design
from gridshell.define.files.replacing import replacing
from gridshell.define.tables.design import Design

SHOWN_TOLERANCE = 0.08  # mm, of the triangles that are only looked at
SHOWN_ANGLE = 0.35  # rad
FORMATS = ("step", "stl", "3mf")  # pictures of the pieces are what the page is for
_ROLES = ("part", "core", "cavity")


class Teller:
    """Writes progress where the server listens; what libraries print goes elsewhere."""

    def __init__(self) -> None:
        self._out = os.fdopen(os.dup(1), "w", encoding="utf-8")
        os.dup2(2, 1)
        self._steps = 0

    def tell(self, **content: Any) -> None:
        """One line."""
        self._out.write(json.dumps(content) + "\n")
        self._out.flush()

    def step(self, line: str) -> None:
        """A step of the mold's code; where it does not count its steps the share creeps."""
        self._steps += 1
        counted = re.search(r"(\d+) of (\d+)$", line)
        share = 0.4 * (1 - 0.75**self._steps)
        if counted:
            share = 0.4 + 0.6 * int(counted[1]) / max(int(counted[2]), 1)
        self.tell(share=share, doing=line)


def build_solids(design: Design, scratch: Path, teller: Teller) -> dict[str, Any]:
    """Exact solids as triangles, packed into the scratch folder."""
    from gridshell.explore.scene.triangles import triangles_of
    from gridshell.explore.serve.packing import packed
    from gridshell.mold.pieces.build import build_molds

    found = build_molds(design, progress=teller.step)
    pieces = [piece for piece in found.pieces if piece.role in _ROLES and not piece.casting]
    bodies, notes = {}, list(found.notes)
    for index, piece in enumerate(pieces):
        teller.step(f"triangles of {piece.name}, {index} of {len(pieces)}")
        bodies[piece.name], missing = triangles_of(
            piece.solid, SHOWN_TOLERANCE, SHOWN_ANGLE, design,
            1.0 if piece.role == "part" else found.factor, piece.role,
        )
        if missing:
            notes.append(f"{piece.name}: {missing} faces could not be drawn")
    roles = {piece.name: piece.role for piece in pieces}
    with replacing(scratch / "mesh.bin") as file:
        file.write_bytes(packed(bodies, {"roles": roles, "notes": notes}))
    return {"pieces": [piece.name for piece in pieces], "notes": notes}


def make_files(design: Design, order: Mapping[str, Any], teller: Teller) -> dict[str, Any]:
    """What `gridshell mold` makes, by the same function; faulty solids are refused there."""
    from gridshell.report.jobs.mold import make_molds

    job = make_molds(design, order["folder"], bool(order["force"]), FORMATS, teller.step)
    return {
        "folder": job.folder.name, "files": list(job.files), "notes": list(job.molds.notes),
        "checks": [{"name": check.name, "verdict": check.verdict} for check in job.checks.checks],
    }


def find_goal(design: Design, order: Mapping[str, Any], teller: Teller) -> dict[str, Any]:
    """The lightest design that meets the goal; what is found on the way is told at once."""
    from gridshell.explore.controls import controls_of
    from gridshell.explore.goal import find

    return find(
        design, controls_of(design), with_mold=bool(order["with_mold"]),
        every_wall=bool(order["every_wall"]), progress=teller.step,
        so_far=lambda found: teller.tell(so_far=found),
    )


def make_report(design: Design, scratch: Path, teller: Teller) -> dict[str, Any]:
    """The page of `gridshell report`, of the state of the page."""
    from gridshell.define.files.replacing import write_text
    from gridshell.define.files.writing import definition_text
    from gridshell.report.page.page import report_page

    page, verdict = report_page(design, definition_text(design), teller.step)
    write_text(scratch / "report.html", page, True)
    return {"report": True, "said": verdict.line}


def run(order: Mapping[str, Any], teller: Teller) -> int:
    """Do one order; 0, or 2 for a design that can't be made."""
    try:
        design = read_design(order["path"])
        if order["kind"] == "solids":
            result = build_solids(design, Path(order["scratch"]), teller)
        elif order["kind"] == "goal":
            result = find_goal(design, order, teller)
        elif order["kind"] == "report":
            result = make_report(design, Path(order["scratch"]), teller)
        else:
            result = make_files(design, order, teller)
    except InputError as error:
        teller.tell(refused=str(error))
        return 2
    teller.tell(result=result)
    return 0


def _follow_server() -> None:
    """Stop like an interrupt when the server is gone, so that nothing half-written is left."""
    while os.read(0, 4096):  # not through the buffer, whose lock would outlive the interpreter
        pass
    os.kill(os.getpid(), signal.SIGTERM)


def main() -> int:
    """Entry of the process."""
    # The server asks with SIGTERM; as an interrupt it lets `finally` blocks remove half-written
    # files. An interrupt of the terminal goes to the server, which then asks.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    teller = Teller()
    try:
        order = json.loads(sys.stdin.buffer.readline())
        threading.Thread(target=_follow_server, daemon=True).start()
        return run(order, teller)
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())
