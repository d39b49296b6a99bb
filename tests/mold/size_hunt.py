"""Random sensible targets: does the mold of what is sized come out, and if not, was it said?

    python tests/mold/size_hunt.py --count 40 --start 0 [--build]

Each number is an invented tube under invented loads, with materials that are poured, printed and
milled molds, rigid, sliding and rubber cores, beds and cut lengths. It is sized as the command does
it, written, read again and put to the checks of its mold; ``--build`` makes solids and meshes too.
Prints a line for each, and the counts at the end: `holds` (no check fails), `said` (what fails
stands in the first lines of the sizing), `conflict` (no wall meets the loads at all), `silent` (a
check fails that the sizing did not name: a fault of the program).
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
from gridshell.define.files.reading import design_from_table, read_design
from gridshell.define.tables.design import Design, Material
from gridshell.material.resolve import properties
from gridshell.mold.checks.failures import making_of, mold_failures
from gridshell.study.size.run import SizeResult, size_tube, write_sized

POURED = ("hot-melt-eva", "hot-melt-polyamide", "polyurethane-casting", "epoxy-casting",
          "paraffin-microcrystalline", "polycaprolactone")


def random_target(number: int) -> dict[str, Any]:
    """The definition of an invented tube to be sized, by its number."""
    rng = np.random.default_rng(10_000 + number)

    def mm(low: float, high: float) -> float:
        """Evenly over the logarithm."""
        return round(float(low * (high / low) ** rng.random()), 1)

    def one(*of: Any, p: tuple[float, ...] | None = None) -> Any:
        return of[int(rng.choice(len(of), p=p))]

    material = one(*POURED)
    diameter = mm(60, 300)
    section = mm(80, 300)
    sections = one(1, 1, 2, 3)
    segments = one(2, 2, 3, 4, 6, 8)
    side = one("inside", "inside", "outside")
    core = one("rigid", "rigid", "rubber", "sliding") if side == "inside" else one(
        "rigid", "rubber")
    mold: dict[str, Any] = {"process": one("print", "print", "mill"), "core": core}
    if rng.random() < 0.5:
        # A bed that the section goes onto, not much larger.
        mold["bed"] = [f"{max(220, math.ceil(diameter + 90))} mm"] * 3
    radius = round(float(rng.uniform(0.3, 2.0)), 1)
    # A load that a plain wall of this share of the diameter carries by a third of the classical.
    modulus = float(properties(Material(material)).modulus)
    plain = diameter * 1e-3 * float(rng.uniform(0.01, 0.025))
    load = 0.3 * 2 * math.pi * 0.6 * modulus * plain**2
    cases = [{"name": "stacked", "compression": f"{load:.3g} N", "factor": 1.5}]
    if rng.random() < 0.5:
        arm = 0.25 * diameter * 1e-3
        cases.append({"name": "carried", "moment": f"{load * arm * 0.6:.3g} N m", "factor": 1.5})
    if rng.random() < 0.3:
        cases.append({"name": "under water", "factor": 1.5,
                      "pressure": f"{0.2 * modulus * (2 * plain / diameter / 1e-3)**2.5:.3g} Pa"})
    return {
        "title": f"Invented scenario: target {number}",
        "material": {"name": material},
        "tube": {
            "outside_diameter": f"{diameter} mm", "length": f"{round(section * sections, 1)} mm",
            "sections": sections, "segments": segments, "seam_land": f"{mm(3, 8)} mm",
            "end_land": f"{mm(4, 12)} mm",
        },
        "skin": {"thickness": "1.5 mm"},
        "ribs": {
            "pattern": "isogrid", "side": side, "height": "4 mm", "width": "1.8 mm",
            "draft": f"{one(1, 3, 5, 8, 12)} deg", "spacing": f"{round(diameter * 0.18, 1)} mm",
            "corner_radius": f"{radius} mm",
            "root_fillet": f"{round(radius * float(rng.choice([0, 0.4])), 2)} mm",
        },
        "mold": mold, "case": cases,
        "target": {"margin": round(float(rng.choice([0.0, 0.1, 0.2])), 1)},
    }


def sized(design: Design) -> SizeResult:
    """As `gridshell size` does it."""
    making, margins, remaking = making_of(design)
    return size_tube(design, making=making, margins=margins, remaking=remaking)


def judge(design: Design, build: bool = False) -> tuple[str, str]:
    """What came of sizing a design, in a word and in a line."""
    found = sized(design)
    if found.best is None:
        return "conflict", "no wall meets every limit"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sized.toml"
        write_sized(found, path)
        written = read_design(path)
    failing = {one.name: one.advice for one in mold_failures(written)}
    named = {one.name for one in found.best.unmet} | (
        {"pieces on the bed"} if found.bed is not None else set())
    about = f"{found.best.label}, {float(found.best.rounded.tube.mass) * 1e3:.0f} g"
    missed = {name: advice for name, advice in failing.items() if name not in named}
    if missed:
        return "silent", f"{about}; " + "; ".join(f"{n}: {a}" for n, a in missed.items())
    if failing:
        return "said", f"{about}; " + "; ".join(f"{n}: {a}" for n, a in failing.items())
    if named:
        return "said", f"{about}; said but not found: {', '.join(sorted(named))}"
    if build:
        from mold_hunt import faults_of

        faults = faults_of(written)
        if faults:
            return "silent", f"{about}; " + "; ".join(faults)
    return "holds", about


def main() -> int:
    """Run the hunt; see the module's head."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--walls", nargs="+", help="only these walls, quicker, such as "
                        "isogrid-hoop")
    parser.add_argument("--build", action="store_true", help="solids and meshes of what holds")
    options = parser.parse_args()
    counts = dict.fromkeys(("holds", "said", "conflict", "silent", "refused"), 0)
    for number in range(options.start, options.start + options.count):
        began = time.process_time()
        try:
            table = random_target(number)
            if options.walls:
                table["target"]["walls"] = options.walls
            word, line = judge(design_from_table(table), options.build)
        except (DefinitionError, InputError) as error:
            word, line = "refused", str(error).splitlines()[-1]
        counts[word] += 1
        print(f"{number} {word} ({time.process_time() - began:.0f} s): {line}", flush=True)
    print(", ".join(f"{count} {word}" for word, count in counts.items()))
    return int(counts["silent"] > 0)


if __name__ == "__main__":
    sys.exit(main())
