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


def prepared(designs: Design, known: Any) -> Wall:
    """Fresh walls with all that a search over waves starts from."""
    built = assess_wall(designs, known)
    _ = built.curved, built.transverse_shear, built.bowing
    return built


def in_turn(works: dict[str, Callable[[], float]], runs: int) -> dict[str, float]:
    """Least process time of each work, all of them in turn so that a slow moment meets all.

    Args:
        works: by name, each returns what it took, s.
        runs: of each.
    """
    taken: dict[str, list[float]] = {name: [] for name in works}
    for _ in range(runs):
        for name, work in works.items():
            taken[name].append(work())
    return {name: min(times) for name, times in taken.items()}


def timed(work: Callable[[Any], Any], before: Callable[[], Any] = lambda: None) -> float:
    """Process time of a work, s, without that of what it needs before."""
    given = before()
    start = time.process_time()
    work(given)
    return time.process_time() - start


def peers() -> None:
    """One table: this search, plain Python, the nets of 0.2.0, and a solver, in one run."""
    known = properties(read_design(EXAMPLE).material, EXAMPLE.parent)
    count, few = CHUNK, 60
    designs = many(count)
    alone = [single(designs, index) for index in range(few)]
    built = prepared(designs, known)
    new = buckling_loads(built)  # also compiles, or loads what was compiled
    old = old_loads(built)
    shell, waves, load = shell_tube(known, single(designs, 0))
    spent = in_turn({
        "search": lambda: timed(buckling_loads, lambda: prepared(designs, known)) / count,
        "nets": lambda: timed(old_loads, lambda: prepared(designs, known)) / count,
        "full": lambda: timed(lambda _: assess_tube(designs, known, needed=LOADS)) / count,
        "rest": lambda: timed(lambda _: assess_tube(designs, known, buckling=new)) / count,
        "loop": lambda: timed(lambda _: [
            assess_tube(design, known, needed=LOADS) for design in alone]) / few,
    }, 7)
    if shell is not None:
        spent.update(in_turn({"shell": lambda: timed(
            lambda _: shell.lowest("compression", waves))}, 2))
    rows = [
        ("four buckling loads, every whole wave", spent["search"], spent["search"]),
        ("  nets of version 0.2.0", spent["nets"], spent["search"]),
        ("full check of every load", spent["full"], spent["full"]),
        ("  with the nets of version 0.2.0", spent["rest"] + spent["nets"], spent["full"]),
        ("  plain loop over single designs", spent["loop"], spent["full"]),
    ]
    if shell is not None:
        rows.append(("  one load of one tube by shell elements", spent["shell"], spent["full"]))
    print(f"{'':44}{'designs/s':>12}{'time each':>14}{'times':>9}")
    for name, each, ours in rows:
        print(f"{name:44}{1 / each:12,.0f}{each * 1e6:11,.1f} us{each / ours:9,.1f}")
    for name, loads in old.items():
        above = loads / getattr(new, name).load - 1
        print(f"  {name}: nets above every wave by {above.max():.1e} at most")
    if shell is not None:
        solved = shell.lowest("compression", waves).load
        print(f"  shell elements: {solved / load:.3f} times our load of that tube")


def roof() -> None:
    """How far the search is from the time that its waves alone would take at the best rate."""
    from numba import njit

    from gridshell.tube.buckling import compiled, wave_laws
    from gridshell.tube.buckling.general import wave_law

    known = properties(read_design(EXAMPLE).material, EXAMPLE.parent)
    count = 4096
    designs = many(count)
    built = prepared(designs, known)
    law = wave_law(built)
    spans = np.full(count, float(designs.tube.length))
    looked = [0, 0]
    along, helices = wave_laws.loads_along, wave_laws.helices_along

    def counted(*args: Any) -> Any:
        straight = len(args) == 7 and isinstance(args[1], int)
        looked[not straight] += len(args[-1])
        return (along if straight else helices)(*args)

    few, found = 100, np.empty((3, 100))
    table = law.table((count,))[:few]
    wave_laws.loads_along = wave_laws.helices_along = counted
    try:
        for kind in range(3):
            wave_laws.lowest_of_many(
                table, kind, spans[:few], found, wave_laws.scratch_of_loads())
        wave_laws.torsion_of_many(
            table, spans[:few], found, wave_laws.scratch_of_torsion())
    finally:
        wave_laws.loads_along, wave_laws.helices_along = along, helices
    compiled.register()

    @njit(error_model="numpy")
    def straight(table: Any, out: Any, more: Any) -> None:
        w = wave_laws.design_of(table, 0)
        for turn in range(400):
            wave_laws.loads_along(w, 0, 3.0, 4e3 + turn, 1.0, 1.0, out)

    @njit(error_model="numpy")
    def helical(table: Any, out: Any, more: Any) -> None:
        w = wave_laws.design_of(table, 0)
        for turn in range(400):
            wave_laws.helices_along(w, 3.0, 4e3 + turn, 1.0, 1.0, out, more)

    out, more = np.empty(512), np.empty(512)
    for loop in (straight, helical):
        loop(table, out, more)
    spent = in_turn({
        "search": lambda: timed(buckling_loads, lambda: prepared(designs, known)) / count,
        "straight": lambda: timed(lambda _: straight(table, out, more)) / 400 / 512,
        "helical": lambda: timed(lambda _: helical(table, out, more)) / 400 / 512,
    }, 7)
    waves = [number / few for number in looked]
    least = waves[0] * spent["straight"] + waves[1] * spent["helical"]
    print(f"  {sum(waves):.0f} waves a design, some 150 operations each: "
          f"{150 * sum(waves) / spent['search'] / 1e9:.1f} billion operations a second. In long "
          f"vector loops a wave takes {spent['straight'] * 1e9:.1f} ns "
          f"({spent['helical'] * 1e9:.1f} in torsion): the roof is {1 / least:,.0f} designs/s, "
          f"the search is at "
          f"{100 * least / spent['search']:.0f} % of it")


def shell_tube(known: Any, design: Design) -> tuple[Any, list[int], float]:
    """One tube by shell elements of pyfe3d, the waves round to solve for, and our load, N.

    Without that package, None in place of the tube.
    """
    try:
        from gridshell.proof.shells.sample import shell_wall
        from gridshell.proof.shells.tube import ShellTube
    except ImportError:
        print("pyfe3d is not installed: no solver to compare with")
        return None, [], 0.0
    tube = assess_tube(design, known, needed=LOADS)
    wave = tube.buckling.compression
    shell = ShellTube(shell_wall(tube.wall), float(tube.wall.grid.radius),
                      float(design.tube.length), along=8 * int(wave.m) + 40)
    waves = [int(wave.n) - 1, int(wave.n), int(wave.n) + 1]
    ours = float(wave.load) * 2 * np.pi * float(tube.wall.grid.radius)
    return shell, [n for n in waves if n != 1], ours


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
    two_cores()
    count = 1_000_000 if "--quick" in arguments else 10_000_000
    subprocess.run([sys.executable, __file__, "--memory", str(count)], check=True)
    processes()


if __name__ == "__main__":
    main(sys.argv[1:])
