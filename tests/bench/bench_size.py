"""How fast sizing, sweep and scatter are. Run: python tests/bench/bench_size.py [example ...]

Prints the best of a few runs: process time (unmoved by other work on the machine) and wall time.
Designs a second are set against the wall alone, the ceiling that buckling and checks are under.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from gridshell.define.files.reading import read_design
from gridshell.define.tables.design import with_values
from gridshell.material.resolve import properties
from gridshell.study.scatter.run import scatter_designs
from gridshell.study.size.run import size_tube
from gridshell.study.sweep.run import sweep_designs
from gridshell.tube.assess import assess_tube
from gridshell.wall.assess import assess_wall

EXAMPLES = Path(__file__).parent.parent.parent / "examples"
MANY = 50_000


def best(work, runs: int = 3):
    """Least process time and least wall time, s, and the last result."""
    spent, taken, result = [], [], None
    for _ in range(runs):
        start, clock = time.process_time(), time.perf_counter()
        result = work()
        spent.append(time.process_time() - start)
        taken.append(time.perf_counter() - clock)
    return min(spent), min(taken), result


def whole_process(path: Path) -> float:
    """Wall time of a fresh process that sizes one file and prints the report, s."""
    code = (
        "import sys; from gridshell.define.files.reading import read_design; "
        "from gridshell.study.size.run import size_tube; "
        "from gridshell.report.text.study.size import size_text; "
        "print(size_text(size_tube(read_design(sys.argv[1]))))"
    )
    clock = time.perf_counter()
    subprocess.run([sys.executable, "-c", code, str(path)], check=True, capture_output=True)
    return time.perf_counter() - clock


def main(paths: list[Path]) -> None:
    for path in paths:
        design = read_design(path)
        known = properties(design.material, design.folder)
        rng = np.random.default_rng(0)
        many = with_values(design, {
            "ribs.height": float(design.ribs.height) * rng.uniform(0.7, 1.4, MANY),
            "ribs.width": float(design.ribs.width) * rng.uniform(0.8, 1.2, MANY),
            "skin.thickness": float(design.skin.thickness) * rng.uniform(0.8, 1.4, MANY),
        })
        ceiling, _, _ = best(lambda m=many, k=known: assess_wall(m, k).areal_mass)
        checked, _, _ = best(lambda m=many, k=known: assess_tube(m, k), runs=2)
        spent, taken, found = best(lambda d=design: size_tube(d))
        fresh = min(whole_process(path) for _ in range(3))
        print(f"{path.stem}")
        print(f"  wall alone        {MANY / ceiling:12,.0f} designs/s")
        print(f"  every check       {MANY / checked:12,.0f} designs/s "
              f"({100 * ceiling / checked:.1f} % of the wall alone)")
        print(f"  sizing            {found.evaluations / spent:12,.0f} designs/s; "
              f"{found.evaluations:,} designs, {spent:.2f} s of processor, {taken:.2f} s")
        print(f"  whole process     {fresh:12.2f} s")
        if design.scatter is not None:
            spent, taken, _ = best(
                lambda d=design: scatter_designs(d, samples=200_000, workers=1), runs=1
            )
            print(f"  scatter           {200_000 / spent:12,.0f} tubes/s on one core")
            _, taken, _ = best(lambda d=design: scatter_designs(d, samples=1_000_000), runs=1)
            print(f"  a million draws   {taken:12.1f} s on every core")
    with tempfile.TemporaryDirectory() as folder:
        vary = ["ribs.height=2mm:8mm:50", "ribs.spacing=15mm:45mm:40", "skin.thickness=1mm:2mm:20"]
        spent, taken, done = best(lambda: sweep_designs(
            read_design(EXAMPLES / "size-lake-probe.toml"), vary, Path(folder) / "out.npz",
            workers=1, force=True), runs=1)
        print(f"sweep to NPZ        {done.rows / spent:12,.0f} designs/s on one core")


if __name__ == "__main__":
    main([Path(p) for p in sys.argv[1:]] or [
        EXAMPLES / "size-lake-probe.toml", EXAMPLES / "size-housing-inch.toml"])
