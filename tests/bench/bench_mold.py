"""Time laying a core half against the kernel's boolean engine, and how time grows with pockets.

Run by hand: ``python tests/bench/bench_mold.py`` (a few minutes, most of them the boolean).
``--quick`` leaves the boolean at a tenth of the pockets. Prints a table, the exponents of time over
the number of pockets, and the ratio of the two ways of building in the same run.

Invented scenario: a 98 mm half shell with hoop isogrid inside; cell size sets the count.
"""

from __future__ import annotations

import argparse
import math
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.tables.design import Design, Material, Ribs, Skin, Tube
from gridshell.define.tables.mold import Mold
from gridshell.mold.files.alike import kinds_hold
from gridshell.mold.files.shape_records import records_of
from gridshell.mold.files.solids import is_closed, is_valid, mesh_solid, solid_volume
from gridshell.mold.files.step import write_by_kernel, write_step
from gridshell.mold.pieces.halves import relieved
from gridshell.mold.pieces.layout import core_profile, layout
from gridshell.mold.pieces.mold_set import MoldPiece
from gridshell.mold.pieces.solids.booleans import combined
from gridshell.mold.pieces.solids.joining import solid_of, with_sheet
from gridshell.mold.pieces.solids.plain import prism
from gridshell.mold.relief.faces import Island, lay_sheet
from gridshell.mold.relief.ribbing import islands, ribbing
from gridshell.wall.geometry.lattice import lattice

ASKED = (100, 300, 1200, 2500, 5000)


def design_of(pockets: int, fillet: bool) -> Design:
    """A half shell with about that many pockets."""
    length, radius = 0.3, 0.0484
    field = length * math.pi * radius * 0.9
    side = math.sqrt(field / pockets * 4 / math.sqrt(3))
    return Design(
        title="bench", material=Material(name="hot-melt-eva"),
        tube=Tube(outside_diameter=0.098, length=length, segments=2, seam_land=8e-3,
                  end_land=10e-3),
        skin=Skin(thickness=1.2e-3),
        ribs=Ribs(pattern="isogrid", height=5e-3, width=0.08 * side, draft=math.radians(2),
                  spacing=side, corner_radius=0.06 * side,
                  root_fillet=0.03 * side if fillet else 0.0),
    )


def core_of(design: Design) -> tuple[Any, Any, list[Island]]:
    """Plain block, layout and islands of the core half, without flange features."""
    mold = Mold()
    plan = layout(design, mold, 1e3)
    grid = lattice(design)
    laid = islands(design, grid, ribbing(design, grid), 1e3, through=False)
    return prism(core_profile(plan), plan.start, plan.end), plan, laid


def bosses(laid: list[Island], base: float) -> list[Any]:
    """Every pocket's boss as a solid of its own, sunk 1 mm into the block, for the boolean."""
    from OCP.BRep import BRep_Builder
    from OCP.TopLoc import TopLoc_Location
    from OCP.TopoDS import TopoDS_Face

    result = []
    builder = BRep_Builder()
    for island in laid:
        first = island.stations[0]
        sunk = type(first)(first.loops, first.radius - 1.0)
        free = Island((sunk, *island.stations), None)
        sheet = lay_sheet(base - 1.0, [free])
        count, m = first.loops.start.shape[:2]
        rows = (len(sheet.faces) - count) // (count * m)
        for index in range(count):
            faces = [sheet.faces[len(sheet.faces) - count + index]]
            for row in range(rows):
                at = row * count * m + index * m
                faces += sheet.faces[at:at + m]
            bottom = TopoDS_Face()
            builder.MakeFace(bottom, sheet.base, TopLoc_Location(), 1e-5)
            builder.Add(bottom, sheet.holes[index].Reversed())
            faces.append(bottom.Reversed())
            result.append(solid_of(faces))
    return result


def timed(work: Any) -> tuple[float, Any]:
    """Processor seconds (one thread, so other work on the machine does not count) and result."""
    begun = time.process_time()
    value = work()
    return time.process_time() - begun, value


def slope(counts: list[int], seconds: list[float]) -> float:
    """Exponent of time over count (least squares in logarithms)."""
    return float(np.polyfit(np.log(counts), np.log(seconds), 1)[0])


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--fillet", action="store_true", help="with root fillets")
    asked = parser.parse_args()
    core_of(design_of(20, asked.fillet))  # imports
    rows: dict[str, list[float]] = {
        "build": [], "check": [], "some of each kind": [], "mesh": [], "STEP": [],
        "STEP by the kernel": []}
    counts = []
    for wanted in ASKED:
        design = design_of(wanted, asked.fillet)

        def build(design: Design = design) -> Any:
            block, plan, laid = core_of(design)
            return relieved(block, plan, laid, Mold()), sum(
                len(i.stations[0].loops.start) for i in laid)

        seconds, (solid, count) = timed(build)
        counts.append(count)
        rows["build"].append(seconds)
        seconds, valid = timed(lambda solid=solid: is_valid(solid) and is_closed(solid))
        assert valid, f"{count} pockets: not a valid closed solid"
        rows["check"].append(seconds)
        seconds, (valid, closed) = timed(lambda solid=solid: kinds_hold(solid, records_of(solid)))
        assert valid and closed
        rows["some of each kind"].append(seconds)
        rows["mesh"].append(timed(lambda solid=solid: mesh_solid(solid, 0.05))[0])
        with tempfile.TemporaryDirectory() as folder:
            piece = MoldPiece("core", "core", solid, 1)
            rows["STEP"].append(timed(
                lambda piece=piece, folder=folder: write_step(piece, Path(folder) / "a.step")
            )[0])
            rows["STEP by the kernel"].append(timed(
                lambda piece=piece, folder=folder: write_by_kernel(piece, Path(folder) / "b.step")
            )[0])
            sizes = [(Path(folder) / name).stat().st_size for name in ("a.step", "b.step")]
            print(f"STEP {sizes[0] / 1e6:.1f} MB, by the kernel {sizes[1] / 1e6:.1f} MB, "
                  f"ratio {sizes[0] / sizes[1]:.2f}")
        print(f"{count:6d} pockets  " + "  ".join(
            f"{name} {times[-1]:7.2f} s" for name, times in rows.items()), flush=True)
    for name, times in rows.items():
        print(f"exponent of {name}: {slope(counts, times):.2f}")
    wanted = 120 if asked.quick else 1200
    design = design_of(wanted, False)
    ours, (solid, plan, laid) = timed(lambda: _laid(design))
    tools = bosses(laid, plan.base)
    block, _, _ = core_of(design)
    theirs, fused = timed(lambda: combined("fuse", block, tools))
    print(f"{len(tools)} pockets: laid {ours:.2f} s, one batched boolean {theirs:.2f} s, "
          f"ratio {theirs / ours:.0f}")
    print(f"volumes: laid {solid_volume(solid):.1f}, boolean {solid_volume(fused):.1f} mm3")


def _laid(design: Design) -> tuple[Any, Any, list[Island]]:
    block, plan, laid = core_of(design)
    return with_sheet(block, plan.base, plan.far, lay_sheet(plan.base, laid)), plan, laid


if __name__ == "__main__":
    main()
