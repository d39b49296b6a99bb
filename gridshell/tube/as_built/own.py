"""Everything the measured shape says of one tube, and the factor that its checks may use."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from gridshell.define.tables.as_built import AsBuilt, belongs_to_one
from gridshell.define.tables.design import Design, with_values
from gridshell.define.types import Quantity
from gridshell.tube.as_built.asked import AskedWall
from gridshell.tube.as_built.closed_forms import first_yield_pressure, perry_robertson
from gridshell.tube.as_built.factor import CAP_SOURCE, Factor, factor_of
from gridshell.tube.as_built.fit import Shape, fit_shape
from gridshell.tube.as_built.parts import GROUND as PARTS
from gridshell.tube.as_built.parts import with_parts
from gridshell.tube.as_built.perfect import Perfect, perfect_tube
from gridshell.tube.as_built.scan import Scan, read_scan
from gridshell.tube.as_built.tolerance import expected_factor
from gridshell.tube.buckling.general import buckling_loads
from gridshell.tube.buckling.knockdown import Knockdown, knockdowns
from gridshell.tube.section.column import Member
from gridshell.tube.section.stiffness import beam_stiffness
from gridshell.wall.assess import Wall, assess_wall

GROUND = (
    "own factor: the deviations found by the scan, and likely ones it can't see, all taken in the "
    "worst of the waves within 10 % of the lowest or in rings; lower end of its range"
)
UNCHANGED = (
    "torsion and external pressure keep the published factor (no higher one is earned), bending "
    "takes the own factor of compression at the most compressed fiber"
)


@dataclass(frozen=True)
class AsBuiltTube:
    """What a scan says of one tube.

    Attributes:
        design: as stated.
        scan: readings.
        shape: fitted waves.
        factor: own factor in compression.
        published: factors of the published curves.
        used: own factor that the checks use with knockdown "measured": the lower end of the range,
            less what pockets and ribs take, and no more than the cap.
        parts: share that pockets and ribs leave of it; 1 without ribs.
        cap: as stated.
        thickness: mean and standard deviation of the measured skin, m; None if not measured.
        column: stress at which the measured bow brings the column to its strength over that
            without bow, with the bow, m; None without strength or bow.
        oval_pressure: external pressure of first yield with the measured oval over the buckling
            pressure; None without strength or with ribs.
        notes: what to know and do.
    """

    design: Design
    scan: Scan
    shape: Shape
    factor: Factor
    published: dict[str, Knockdown]
    used: float
    parts: float
    cap: float
    thickness: tuple[float, float] | None
    column: tuple[float, float] | None
    oval_pressure: float | None
    notes: tuple[str, ...]


def scan_path(design: Design) -> Path:
    """The scan that a definition file names."""
    assert design.as_built is not None and design.as_built.shape is not None
    return Path(design.folder) / design.as_built.shape


def assess_as_built(built: Wall, path: str | Path) -> AsBuiltTube:
    """Own factor of one tube from the scan in a file.

    Args:
        built: its wall.
        path: of the scan.

    Raises:
        InputError: many designs, or a scan that can't be used.
    """
    design = built.design
    _one(built)
    stated = design.as_built or AsBuilt()
    scan = read_scan(path, design)
    length = float(design.tube.length)
    shape = fit_shape(scan, length)
    thin, thickness = _thin(built, scan)
    perfect = perfect_tube(built)
    factor = factor_of(perfect, shape, stated.ends, thin)
    cap = float(stated.cap)
    left = float(with_parts(built, factor.low))
    return AsBuiltTube(
        design=design, scan=scan, shape=shape, factor=factor, published=knockdowns(built),
        used=min(left, cap), parts=left / factor.low if factor.low > 0 else 1.0, cap=cap,
        thickness=thickness,
        column=_column(built, shape.bow), oval_pressure=_oval(built, shape),
        notes=_notes(built, scan, shape, perfect, factor),
    )


def _one(built: Wall, knockdown: str = "measured") -> None:
    if np.ndim(built.design.tube.length) or np.ndim(built.grid.radius) or built.A.ndim > 2:
        raise belongs_to_one(
            knockdown, "these are many designs (a sweep, or over temperature)" if
            knockdown == "measured" else "these are many designs (a sweep)")


def _thin(built: Wall, scan: Scan) -> tuple[float, tuple[float, float] | None]:
    """Share of the load that the measured skin leaves: its mean, less half its spread.

    The load with the mean skin over that of the stated one, at most 1, times 1 - spread/mean: an
    axisymmetric wave of thickness of relative height e takes about e (Koiter and others, 1994,
    from memory).
    """
    if len(scan.thickness) == 0:
        return 1.0, None
    mean = float(np.mean(scan.thickness))
    spread = float(np.std(scan.thickness, ddof=1)) if len(scan.thickness) > 1 else 0.0
    thinner = assess_wall(with_values(built.design, {
        "skin.thickness": mean,
        "tube.outside_diameter": built.design.tube.outside_diameter
        + mean - built.design.skin.thickness}), built.properties)
    ratio = 1.0
    if mean < float(built.design.skin.thickness):
        loads = [float(buckling_loads(wall, ("compression",)).compression.load)
                 for wall in (thinner, built)]
        ratio = min(loads[0] / loads[1], 1.0)
    return ratio * max(1 - spread / mean, 0.0), (mean, spread)


def _column(built: Wall, bow: float) -> tuple[float, float] | None:
    strength = built.properties.strength
    if strength is None or not bow > 0:
        return None
    beam = beam_stiffness(*built.curved, built.grid.radius)
    E = float(built.properties.modulus)
    area, inertia = float(beam.EA) / E, float(beam.EI) / E
    member = Member("simply-supported", float(built.design.tube.length), beam.EI, beam.GA)
    buckling = float(member.column_load) / area
    eta = bow * float(built.design.tube.outside_diameter) / 2 * area / inertia
    straight, bowed = (float(perry_robertson(buckling, strength, e)) for e in (0.0, eta))
    return bowed / straight, bow


def _oval(built: Wall, shape: Shape) -> float | None:
    strength = built.properties.strength
    if strength is None or built.sections:
        return None
    wave = buckling_loads(built, ("lateral",)).lateral
    n = min(int(wave.n), shape.most_round)
    deviation = float(np.sqrt(np.sum(shape.amplitude[n] ** 2)))
    p = first_yield_pressure(
        wave.load, strength, built.grid.radius, built.design.skin.thickness, deviation)
    return float(p / wave.load)


def _notes(built: Wall, scan: Scan, shape: Shape, perfect: Perfect, factor: Factor
           ) -> tuple[str, ...]:
    found = [GROUND, UNCHANGED, CAP_SOURCE]
    for one in shape.outliers[:8]:
        found.append(
            f"line {one.line} is {one.off * 1e3:+.3g} mm off the waves of its station (noise "
            f"{shape.noise * 1e3:.2g} mm): a misread or a dent. Measure it again; it is counted "
            "as a dent of that depth until it is gone from the scan")
    near = perfect.cluster
    missed = sorted({wave.n for wave in near if wave.n > shape.most_round})
    if missed:
        found.append(
            f"readings at {len(shape.stations)} stations tell {shape.most_round} waves round apart "
            f"at most; the tube buckles into {', '.join(map(str, missed[:6]))} too: take at least "
            f"{2 * missed[-1] + 4} angles")
    along = max(wave.m for wave in near)
    if along > shape.most_along:
        found.append(
            f"{len(shape.stations)} stations tell {shape.most_along} half waves along apart at "
            f"most; the tube buckles into {along} too: take at least {along + 2} stations")
    if factor.measured < 0.5:
        found.append(
            f"only {factor.measured:.0%} of the mean square that counts was measured; the rest is "
            "the assumed spectrum")
    if scan.mass is not None and scan.mass < 0.97 * float(built.tube_mass):
        found.append(
            f"the tube weighs {scan.mass / float(built.tube_mass):.1%} of what its dimensions "
            "give: look for voids or a thin skin; the own factor does not know of them")
    if built.sections:
        found.append(PARTS)
    return tuple(found)


def _asked(built: Wall) -> AskedWall:
    path = scan_path(built.design)
    try:
        changed = path.stat().st_mtime_ns
    except OSError:
        changed = 0  # the reader says what is wrong with it
    return AskedWall(built, str(path), changed, built.design.as_built)


@lru_cache(maxsize=32)
def _known(asked: AskedWall) -> AsBuiltTube:
    return assess_as_built(asked.built, scan_path(asked.built.design))


def own_knockdowns(built: Wall) -> dict[str, Knockdown]:
    """The factors that the checks of a tube use: published, or its own where that is asked.

    Args:
        built: one or many.

    Raises:
        InputError: "measured" or "expected" for many designs, a scan that can't be used, or a
            roundness without a known factor.
    """
    published = knockdowns(built)
    stated = built.design.as_built
    if stated is None or stated.knockdown == "published":
        return published
    if stated.knockdown == "expected":
        return {**published, **_expected(built, published, stated)}
    _one(built)
    tube = _known(_asked(built))
    source = (f"MEASURED: own factor from the scan {Path(tube.scan.source).name} "
              f"({tube.factor.low:.3g} to {tube.factor.high:.3g}, cap {tube.cap:g}, ends "
              f"{tube.factor.ends})")
    found = {
        load: Knockdown(tube.used, f"{source}; published {float(published[load].factor):.3g}")
        for load in ("compression", "bending")
    }
    pressure = published["pressure"]
    if tube.oval_pressure is not None and tube.oval_pressure < float(pressure.factor):
        pressure = Knockdown(
            tube.oval_pressure, "first yield of the measured oval, Timoshenko and Gere, 7.5")
    return {**published, **found, "pressure": pressure}


def _expected(built: Wall, published: dict[str, Knockdown], stated: AsBuilt
              ) -> dict[str, Knockdown]:
    if stated.taken is None:
        _one(built, "expected")
        factor: Quantity = expected_factor(built, float(published["compression"].factor))
    else:
        factor = np.minimum(stated.taken, float(stated.cap))
    return {
        load: Knockdown(
            factor, f"EXPECTED of a tube at its tolerances, as_built.roundness (ends "
            f"{stated.ends}, cap {float(stated.cap):g}); published "
            f"{float(np.mean(published[load].factor)):.3g}")
        for load in ("compression", "bending")
    }
