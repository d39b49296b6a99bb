"""A general-purpose slicer loads every piece to print of two examples and slices it on its bed.

Slic3r (Debian's package of that name) knows nothing of ours: it reads the 3MF and the STL, cuts
them into layers and writes the tool's path, which is looked at here.
"""

from __future__ import annotations

import dataclasses
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest

from gridshell.define.files.reading import read_design
from gridshell.define.tables.mold import mold_of
from gridshell.mold.files.write import write_piece
from gridshell.mold.pieces.build import build_molds
from gridshell.mold.pieces.mold_set import MoldSet

SLICER = shutil.which("slic3r")
LAYER = 0.6  # mm, coarse: geometry is tested, not a print
SETTINGS = [
    "--no-gui", "--dont-arrange", "--nozzle-diameter", "0.8", "--layer-height", str(LAYER),
    "--first-layer-height", str(LAYER), "--perimeters", "1", "--fill-density", "0",
    "--top-solid-layers", "0", "--bottom-solid-layers", "1", "--skirts", "0", "-j", "1",
]
pytestmark = pytest.mark.skipif(SLICER is None, reason="needs Debian's slic3r")


@pytest.fixture(scope="module", params=["collar", "lake-probe"])
def molds(request: pytest.FixtureRequest) -> MoldSet:
    design = read_design(f"examples/{request.param}.toml")
    # Engraved text has more faces than the rest and does not change what fits a bed.
    return build_molds(design, dataclasses.replace(mold_of(design), engraving=0.0))


def path_of(file: Path, out: Path) -> np.ndarray:
    """Points (n, 3) at which the slicer lays material down, mm."""
    done = subprocess.run(
        [str(SLICER), *SETTINGS, "-o", str(out), str(file)], capture_output=True, text=True,
        check=False)
    assert done.returncode == 0 and "Done." in done.stdout, done.stdout + done.stderr
    x = y = z = 0.0
    points = []
    for line in out.read_text().splitlines():
        if not line.startswith("G1 "):
            continue
        moved = {key: float(value) for key, value in re.findall(r"([XYZE])(-?[\d.]+)", line)}
        before = (x, y)
        x, y, z = moved.get("X", x), moved.get("Y", y), moved.get("Z", z)
        if "E" in moved and ("X" in moved or "Y" in moved):
            points += [(*before, z), (x, y, z)]
    return np.array(points)


def test_a_slicer_slices_every_piece_inside_the_stated_bed(molds: MoldSet, tmp_path: Path) -> None:
    assert molds.mold.bed is not None
    bed = np.array(molds.mold.bed) * 1e3
    printed = [piece for piece in molds.pieces if piece.role != "part"]
    assert {piece.role for piece in printed} == {"core", "cavity", "mandrel", "ring"}
    for piece in printed:
        check = write_piece(molds, piece, tmp_path, ("stl", "3mf"))
        # Both kinds of file are the same mesh; the slicer reads one of each kind.
        ending = "stl" if piece.role in ("core", "ring") else "3mf"
        points = path_of(tmp_path / f"{piece.name}.{ending}", tmp_path / "path.gcode")
        low, high = points.min(axis=0), points.max(axis=0)
        assert np.all(low[:2] > 0) and np.all(high < bed), piece.name
        # As high as the piece in the orientation to print it, to a layer.
        size = np.diff(check.bounds, axis=0)[0] * 1e3
        stands = size[0] if piece.role in ("mandrel", "ring") else size[2]
        assert high[2] == pytest.approx(stands, abs=LAYER), piece.name
        # The path's middle runs half a line inside the piece.
        across = np.sort(size[1:] if piece.role in ("mandrel", "ring") else size[:2])
        assert np.sort(np.ptp(points[:, :2], axis=0)) == pytest.approx(across, abs=1.5), piece.name
        assert low[:2] + high[:2] == pytest.approx(bed[:2], abs=0.5), piece.name
