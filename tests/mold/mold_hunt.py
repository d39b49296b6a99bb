"""Random sensible molds, all the way to checked meshes: does any fail, and is any refused?

    python tests/mold/mold_hunt.py --count 500 --start 0

Every pattern, both sides, one to six segments, cut-outs anywhere, beds, both processes. Prints one
line for each design that is refused or has a faulty piece, and the counts at the end. The designs
are invented and drawn by number, so that a line can be run again with ``--count 1 --start N``.
"""

from __future__ import annotations

import argparse
import math
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.files.reading import design_from_table
from gridshell.define.tables.design import Design
from gridshell.mold.files.write import write_piece
from gridshell.mold.pieces.build import build_molds


def random_table(number: int) -> dict[str, Any]:
    """The definition of an invented tube, by its number."""
    rng = np.random.default_rng(number)

    def mm(low: float, high: float) -> float:
        """Evenly over the logarithm."""
        return round(float(low * (high / low) ** rng.random()), 2)

    diameter = mm(40, 300)
    segments = int(rng.choice([2, 2, 2, 3, 4, 6]))
    height = round(diameter * rng.uniform(0.02, 0.06) + 1, 1)
    width = round(height * rng.uniform(0.4, 0.9), 1)
    spacing = round(max(width * rng.uniform(6, 14), diameter * math.pi / 40), 1)
    spacing = min(spacing, round(diameter * math.pi / segments / 2, 1))
    pattern = str(rng.choice(["isogrid", "isogrid", "orthogrid", "diagonal", "plain"]))
    length = round(spacing * rng.uniform(3, 7) + 20, 1)
    sections = int(rng.choice([1, 1, 2]))
    ribs: dict[str, Any] = {"pattern": pattern}
    if pattern != "plain":
        ribs |= {
            "side": str(rng.choice(["inside", "outside"])), "height": f"{height} mm",
            "width": f"{width} mm", "draft": f"{rng.choice([0, 1, 3, 5])} deg",
            "spacing": f"{spacing} mm",
            "corner_radius": f"{round(width * rng.uniform(0.2, 1.0), 2)} mm",
            "root_fillet": f"{round(width * float(rng.choice([0, 0.2, 0.4])), 2)} mm",
        }
        if pattern == "isogrid":
            ribs["orientation"] = str(rng.choice(["hoop", "axial"]))
        if pattern == "orthogrid":
            ribs["hoop_spacing"] = f"{round(spacing * rng.uniform(0.7, 1.4), 1)} mm"
        if pattern == "diagonal":
            ribs["angle"] = f"{rng.integers(30, 60)} deg"
    mold: dict[str, Any] = {"process": str(rng.choice(["print", "mill"]))}
    if rng.random() < 0.35:
        side = max(1.4 * diameter + 70, 180)
        mold["bed"] = [f"{round(side * f)} mm" for f in (1.0, 1.0, 0.9)]
    if rng.random() < 0.3:
        mold["engraving"] = "0 mm"
    cutouts = []
    if rng.random() < 0.5:
        arc = math.pi * diameter / segments
        number_of_them = int(rng.integers(1, 3))
        for index in range(number_of_them):
            # One after the other along a section, so that they never run into each other.
            share = (index + rng.uniform(0.35, 0.65)) / number_of_them
            size = min(spacing, 0.3 * arc, 0.3 * length / number_of_them) * rng.uniform(0.3, 1.0)
            section, segment = rng.integers(sections), rng.integers(segments)
            entry = {
                "shape": str(rng.choice(["round", "rectangle"])),
                "position": f"{round((section + share) * length, 2)} mm",
                "angle": f"{round((segment + rng.uniform(0.35, 0.65)) * 360 / segments, 2)} deg",
                "land": f"{round(width * rng.uniform(0.0, 2.0), 2)} mm",
                "snap": bool(rng.random() < 0.3),
            }
            if entry["shape"] == "round":
                entry["diameter"] = f"{round(size, 2)} mm"
            else:
                entry["width"] = f"{round(size, 2)} mm"
                entry["length"] = f"{round(size * rng.uniform(0.5, 1.0), 2)} mm"
                entry["corner_radius"] = f"{round(size * 0.1, 2)} mm"
            cutouts.append(entry)
        mold["cutout"] = cutouts
    return {
        "title": f"Invented scenario: tube {number}",
        "material": {"name": str(rng.choice(["hot-melt-eva", "polyurethane-casting"]))},
        "tube": {
            "outside_diameter": f"{diameter} mm", "length": f"{length * sections} mm",
            "sections": sections, "segments": segments,
            "seam_land": f"{round(width * rng.uniform(1, 3), 1)} mm",
            "end_land": f"{round(width * rng.uniform(1, 3), 1)} mm",
        },
        "skin": {"thickness": f"{round(height * rng.uniform(0.25, 0.6), 2)} mm"},
        "ribs": ribs, "mold": mold,
    }


def faults_of(design: Design) -> list[str]:
    """What is wrong with the pieces of a design; empty when all of them are good."""
    molds = build_molds(design)
    found = [f"{name}: {fault}" for name, fault in molds.failed.items()]
    with tempfile.TemporaryDirectory() as folder:
        for piece in molds.pieces:
            check = write_piece(molds, piece, Path(folder), ("stl",))
            found += [f"{piece.name}: {fault}" for fault in check.faults]
    return found


def main() -> int:
    """Run the hunt; see the module's head."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--minutes", type=float, default=math.inf, help="stop after so many")
    options = parser.parse_args()
    ends = time.monotonic() + 60 * options.minutes
    counts = {"good": 0, "faulty": 0, "refused": 0, "not a design": 0}
    for number in range(options.start, options.start + options.count):
        if time.monotonic() > ends:
            print("stopped before number", number)
            break
        began = time.process_time()
        try:
            design = design_from_table(random_table(number))
        except DefinitionError as error:
            counts["not a design"] += 1
            print(number, "not a design:", str(error).splitlines()[-1], flush=True)
            continue
        try:
            faults = faults_of(design)
        except InputError as error:
            counts["refused"] += 1
            print(number, "refused:", error, flush=True)
            continue
        except Exception as error:
            faults = [f"{type(error).__name__}: {error}"]
        counts["faulty" if faults else "good"] += 1
        if faults:
            print(number, "faulty:", "; ".join(faults), flush=True)
        elif options.count < 20:
            print(number, f"good, {time.process_time() - began:.1f} s", flush=True)
    print(", ".join(f"{count} {name}" for name, count in counts.items()))
    return int(counts["faulty"] > 0)


if __name__ == "__main__":
    sys.exit(main())
