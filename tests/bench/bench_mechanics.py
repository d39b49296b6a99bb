"""Speed and memory of wall and tube. Run: python tests/bench/bench_mechanics.py

Rates are per second of process time on one core (the best of a few runs, so that other work on
the machine hardly moves them); peers run in the same process: a plain loop over single designs, the
numpy nets of version 0.2.0, one tube by shell elements of a general-purpose library (pyfe3d) with
scipy's eigensolver. Peak memory and whole-process times are of fresh processes. With --quick,
1 million designs instead of 10 million.
"""

from __future__ import annotations

import os

# One core; before numpy is loaded.
os.environ["OMP_NUM_THREADS"] = "1"
os.environ["OPENBLAS_NUM_THREADS"] = "1"
os.environ["MKL_NUM_THREADS"] = "1"

import resource
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import net_0_2_0
import numpy as np

from gridshell.define.files.reading import read_design
from gridshell.define.tables.design import Case, Design, with_values
from gridshell.material.resolve import properties
from gridshell.study.batch import CHUNK, evaluate
from gridshell.tube.assess import assess_tube
from gridshell.tube.buckling.general import LOADS, buckling_loads
from gridshell.wall.assess import Wall, assess_wall
from gridshell.wall.stiffness.equivalent import neutral_bending

EXAMPLE = Path(__file__).parent.parent.parent / "examples" / "lake-probe.toml"
EVERY = Case(name="every load", compression=60.0, moment=2.0, shear=5.0, torque=1.0,
             pressure=1500.0, factor=1.5)


def many(count: int) -> Design:
    """Random designs about the example, with a case that asks for every check."""
    random = np.random.default_rng(0)
    design = with_values(read_design(EXAMPLE), {"case": (EVERY,)})
    return with_values(design, {
        "ribs.height": design.ribs.height * random.uniform(0.7, 1.4, count),
        "ribs.width": design.ribs.width * random.uniform(0.8, 1.2, count),
        "skin.thickness": design.skin.thickness * random.uniform(0.8, 1.5, count),
    })


def single(design: Design, index: int) -> Design:
    """One of many designs."""
    return with_values(design, {
        "ribs.height": float(design.ribs.height[index]),
        "ribs.width": float(design.ribs.width[index]),
        "skin.thickness": float(design.skin.thickness[index]),
    })


def rate(work: Callable[[], Any], count: int, runs: int) -> float:
    """Designs a second, best of some runs."""
    spent = []
    for _ in range(runs):
        start = time.process_time()
        work()
        spent.append(time.process_time() - start)
    return count / min(spent)


def rates() -> None:
    """Walls and full checks a second, in arrays and in a plain loop."""
    known = properties(read_design(EXAMPLE).material, EXAMPLE.parent)

    def stiffness(design: Design) -> dict[str, Any]:
        built = assess_wall(design, known)
        return {"A": built.A, "B": built.B, "D": built.D}

    def mass_too(design: Design) -> dict[str, Any]:
        built = assess_wall(design, known)
        return {"D": built.D, "mass": built.tube_mass}

    def full(design: Design) -> dict[str, Any]:
        return {"margin": assess_tube(design, known, needed=LOADS).margin}

    jobs = [
        ("wall stiffness, ribs of finite width", stiffness, "fat", 200_000, 300),
        ("wall stiffness A, B, D, thin ribs", stiffness, "thin", 200_000, 300),
        ("wall stiffness and mass of the tube", mass_too, "fat", 100_000, 200),
        ("full check, all four buckling loads", full, "fat", 20_000, 60),
    ]
    print(f"{'':38}{'in arrays':>14}{'plain loop':>14}{'ratio':>8}")
    for name, function, formula, count, few in jobs:
        designs = with_values(many(count), {"ribs.formula": formula})
        alone = [single(designs, index) for index in range(few)]
        fast = rate(lambda f=function, d=designs: evaluate(d, f, CHUNK), count, 3)
        slow = rate(lambda f=function, a=alone: [f(design) for design in a], few, 3)
        print(f"{name:38}{fast:12,.0f}/s{slow:12,.0f}/s{fast / slow:8.0f}")


def old_loads(wall: Wall) -> dict[str, Any]:
    """All four loads by the numpy search over nets of version 0.2.0."""
    A, B, D = wall.curved
    skin, known, radius = wall.design.skin.thickness, wall.properties, wall.grid.radius
    length = wall.design.tube.length
    law = net_0_2_0.wave_stiffness(
        A, B, D, radius, net_0_2_0.LINE_ELEMENT, wall.transverse_shear, wall.bowing.hoop_loss,
        known.modulus * skin / (1 - known.poisson**2), known.poisson, wall.grid.node_area)
    limits = net_0_2_0.wave_range(A, neutral_bending(A, B, D), radius, length)

    def pressure(on_ends: float) -> Any:
        return net_0_2_0.lowest_load(
            lambda law, x, y: net_0_2_0.pressure_load(law, x, y, on_ends), law, limits, length,
            first_round=2, net_along=net_0_2_0.NET_ALONG_PRESSURE)

    return {
        "compression": net_0_2_0.lowest_load(net_0_2_0.compression_load, law, limits, length).load,
        "lateral": pressure(0.0).load, "hydrostatic": pressure(1.0).load,
        "torsion": net_0_2_0.between_ends(
            law, net_0_2_0.lowest_torsion(law, limits, length), length).load,
    }


def peers() -> None:
    """The search over every wave beside the nets of version 0.2.0, in one run."""
    known = properties(read_design(EXAMPLE).material, EXAMPLE.parent)
    count = 8192
    designs = many(count)
    built = assess_wall(designs, known)
    new = buckling_loads(built)  # also compiles, or loads what was compiled
    old = old_loads(built)
    fast = rate(lambda: buckling_loads(assess_wall(designs, known)), count, 5)
    slow = rate(lambda: old_loads(assess_wall(designs, known)), count, 5)
    walls = rate(lambda: assess_wall(designs, known).curved, count, 5)
    fast, slow = 1 / (1 / fast - 1 / walls), 1 / (1 / slow - 1 / walls)
    print(f"{'four buckling loads, walls not counted':38}{fast:12,.0f}/s  nets of 0.2.0 "
          f"{slow:,.0f}/s, ratio {fast / slow:.1f}")
    full = rate(lambda: assess_tube(designs, known, needed=LOADS), count, 5)
    rest = rate(lambda: assess_tube(designs, known, buckling=new), count, 5)
    before = 1 / (1 / rest + 1 / slow)
    print(f"{'full check':38}{full:12,.0f}/s  with the nets {before:,.0f}/s, "
          f"ratio {full / before:.1f}")
    for load, loads in old.items():
        above = loads / getattr(new, load).load - 1
        print(f"  {load}: nets above every wave by {above.max():.1e} at most")


def roof() -> None:
    """How far the search is from the time that its waves alone would take at the best rate."""
    from gridshell.tube.buckling import wave_laws
    from gridshell.tube.buckling.general import wave_law

    known = properties(read_design(EXAMPLE).material, EXAMPLE.parent)
    count = 8192
    designs = many(count)
    built = assess_wall(designs, known)
    law = wave_law(built)
    spans = np.full(count, float(designs.tube.length))
    looked = 0
    along, helices = wave_laws.loads_along, wave_laws.helices_along

    def counted(*args: Any) -> Any:
        nonlocal looked
        looked += len(args[-1])
        return (along if len(args) == 7 and isinstance(args[1], int) else helices)(*args)

    few, found = 100, np.empty((3, 100))
    table = law.table((count,))[:few]
    wave_laws.loads_along = wave_laws.helices_along = counted
    try:
        for kind in range(3):
            wave_laws.lowest_of_many(table, kind, spans[:few], 512, found)
        wave_laws.torsion_of_many(table, spans[:few], found)
    finally:
        wave_laws.loads_along, wave_laws.helices_along = along, helices
    waves = looked / few
    speed = rate(lambda: buckling_loads(built), count, 5)
    print(f"  {waves:.0f} waves looked at a design, {1e9 / speed / waves:.1f} ns each with all "
          f"that belongs to it; some 150 operations a wave: {150 * waves * speed / 1e9:.1f} "
          "billion operations a second (a core of four numbers at once and 2.5 GHz: 10 to 20)")


def solver() -> None:
    """One tube in compression by shell elements, beside one full check."""
    try:
        from gridshell.proof.shells.sample import shell_wall
        from gridshell.proof.shells.tube import ShellTube
    except ImportError:
        print("pyfe3d is not installed: no solver to compare with")
        return
    design = single(many(2), 0)
    known = properties(read_design(EXAMPLE).material, EXAMPLE.parent)
    tube = assess_tube(design, known, needed=LOADS)
    wave = tube.buckling.compression
    shell = ShellTube(shell_wall(tube.wall), float(tube.wall.grid.radius),
                      float(design.tube.length), along=8 * int(wave.m) + 40)
    waves = [int(wave.n) - 1, int(wave.n), int(wave.n) + 1]
    start = time.process_time()
    solved = shell.lowest("compression", [n for n in waves if n != 1])
    spent = time.process_time() - start
    one = 1 / rate(lambda: assess_tube(design, known, needed=LOADS), 1, 5)
    ours = float(wave.load) * 2 * np.pi * float(tube.wall.grid.radius)
    print(f"one tube: full check {one * 1e3:.0f} ms; shell elements, one load and three waves "
          f"round {spent * 1e3:.0f} ms (load {solved.load / ours:.3f} times ours)")


def _checks(seed: int) -> float:
    """Full checks in one process: wall time, s."""
    known = properties(read_design(EXAMPLE).material, EXAMPLE.parent)
    designs = many(8192)
    assess_tube(designs, known, needed=LOADS)
    start = time.perf_counter()
    for _ in range(20):
        assess_tube(designs, known, needed=LOADS)
    return time.perf_counter() - start


def two_cores() -> None:
    """The same work in one process, and in two at once."""
    import multiprocessing

    with multiprocessing.get_context("spawn").Pool(2) as pool:
        alone = pool.apply(_checks, (0,))
        both = max(pool.map(_checks, (1, 2), chunksize=1))
    print(f"two processes at once: {2 * alone / both:.2f} times one (wall time, so on a quiet "
          "machine only)")


def memory(count: int) -> None:
    """In a fresh process: full checks of many designs, and their peak memory."""
    known = properties(read_design(EXAMPLE).material, EXAMPLE.parent)

    def work(design: Design) -> dict[str, Any]:
        tube = assess_tube(design, known, needed=LOADS)
        return {"mass": tube.mass, "margin": tube.margin}

    start = time.perf_counter()
    found = evaluate(many(count), work)
    assert found["mass"].shape == (count,)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2  # KiB on Linux
    print(f"{count:,} full checks in chunks of {CHUNK:,}: peak memory {peak:.2f} GiB, "
          f"{time.perf_counter() - start:.0f} s")


def processes() -> None:
    """Wall time of whole processes, best of five."""
    size = EXAMPLE.parent / "size-lake-probe.toml"
    command = ["-m", "gridshell.cli"]
    for name, arguments in (
        ("import gridshell", ["-c", "import gridshell"]),
        ("gridshell --help", [*command, "--help"]),
        ("gridshell tube", [*command, "tube", str(EXAMPLE)]),
        ("gridshell size", [*command, "size", str(size)]),
    ):
        taken, spent = [], []
        for _ in range(5):
            start = time.perf_counter()
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            taken.append(time.perf_counter() - start)
            spent.append(after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime)
        print(f"{name}: {min(taken):.2f} s, of processor {min(spent):.2f} s")


def main(arguments: list[str]) -> None:
    if "--memory" in arguments:
        memory(int(arguments[arguments.index("--memory") + 1]))
        return
    peers()
    roof()
    rates()
    solver()
    two_cores()
    count = 1_000_000 if "--quick" in arguments else 10_000_000
    subprocess.run([sys.executable, __file__, "--memory", str(count)], check=True)
    processes()


if __name__ == "__main__":
    main(sys.argv[1:])
