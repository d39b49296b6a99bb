"""Before the tube is built: the factor that a tolerance of shape and thickness leaves."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design, with_values
from gridshell.define.types import Array, Quantity
from gridshell.tube.as_built.asked import AskedWall
from gridshell.tube.as_built.closed_forms import QUALITY, class_amplitude, fabrication_class
from gridshell.tube.as_built.factor import lowest_limit, lowest_ring_limit
from gridshell.tube.as_built.parts import with_parts
from gridshell.tube.as_built.perfect import Perfect, perfect_tube
from gridshell.tube.buckling.general import buckling_loads
from gridshell.wall.assess import Wall, assess_wall

AMPLITUDES = (0.02, 0.05, 0.1, 0.2, 0.35, 0.6, 1.0, 1.6)  # over the skin
GROUND = (
    "the whole tolerance of shape taken in the worst of the waves within 10 % of the lowest or in "
    "rings: what a tube at its tolerance has at the least; most tubes have more"
)


@dataclass(frozen=True)
class Curve:
    """Least factor over the amplitude of the worst wave.

    Attributes:
        amplitude: (k,) m, rising.
        factor: (k,) running minimum; of a tube with ribs, less what pockets and ribs take.
        ends: as they were taken.
    """

    amplitude: Array
    factor: Array
    ends: str

    def at(self, amplitude: Quantity) -> Quantity:
        """Factor at any amplitude; beyond the last one it is not known (NaN).

        Args:
            amplitude: m.
        """
        a = np.asarray(amplitude, float)
        inside = np.interp(np.log(np.maximum(a, self.amplitude[0])), np.log(self.amplitude),
                           self.factor)
        return np.where(a <= self.amplitude[-1] * (1 + 1e-9), inside, np.nan)[()]

    def amplitude_for(self, factor: float) -> float | None:
        """Largest amplitude that leaves a factor, m; None where even the least is too much."""
        if factor > self.factor[0]:
            return None
        if factor < self.factor[-1]:
            return float(self.amplitude[-1])
        falling, places = self.factor[::-1], np.log(self.amplitude)[::-1]
        return float(np.exp(np.interp(factor, falling, places)))


def curve_of(tube: Perfect, ends: str) -> Curve:
    """Factor against amplitude: about 5 s of solving, then any number of tubes at once.

    Args:
        tube: perfect.
        ends: round or clamped.
    """
    heights = np.array(AMPLITUDES) * tube.skin * tube.wall.radius
    found = [
        min(lowest_limit(tube, a, 0.0, ends)[0].factor, lowest_ring_limit(tube, a, ends).factor)
        for a in heights
    ]
    return Curve(heights, np.minimum.accumulate(found), ends)


@dataclass(frozen=True)
class Expected:
    """What a tolerance leaves.

    Attributes:
        curve: of the tube.
        roundness: stated, m; None if not.
        factor: at that roundness and thickness; None without roundness; NaN beyond the curve.
        thin: share of the load that a skin at its least thickness leaves.
        published: factor of the published curve in compression.
        needed: roundness at which the factor is the published one, m; None where no roundness
            reaches it.
        classes: of a plain wall, by fabrication class of EN 1993-1-6: its deviation, m, and its own
            reduction; empty with ribs, which that standard leaves out.
    """

    curve: Curve
    roundness: float | None
    factor: float | None
    thin: float
    published: float
    needed: float | None
    classes: dict[str, tuple[float, float]]


@lru_cache(maxsize=32)
def _curve(asked: AskedWall, ends: str, _amplitudes: tuple[float, ...]) -> Curve:
    found = curve_of(perfect_tube(asked.built), ends)
    return dataclasses.replace(
        found, factor=np.asarray(with_parts(asked.built, found.factor), float))


def expected(built: Wall, published: float, ends: str = "round") -> Expected:
    """Factor of a tube at its tolerances, and how round it must be made for the published one.

    Args:
        built: its wall; the tolerances are those of its design's ``[as_built]``.
        published: factor in compression.
        ends: round or clamped.
    """
    stated = built.design.as_built
    curve = _curve(AskedWall(built), ends, AMPLITUDES)
    thin = 1.0
    if stated is not None and stated.thickness:
        skin = float(built.design.skin.thickness)
        least = assess_wall(with_values(built.design, {
            "skin.thickness": skin - float(stated.thickness),
            "tube.outside_diameter":
                built.design.tube.outside_diameter - float(stated.thickness)}), built.properties)
        loads = [float(buckling_loads(wall, ("compression",)).compression.load)
                 for wall in (least, built)]
        thin = min(loads[0] / loads[1], 1.0)
    roundness = None
    if stated is not None and stated.roundness is not None:
        roundness = float(stated.roundness)
    return Expected(
        curve=curve, roundness=roundness,
        factor=None if roundness is None else float(curve.at(roundness)) * thin, thin=thin,
        published=published, needed=curve.amplitude_for(published / thin),
        classes=_classes(built))


def _classes(built: Wall) -> dict[str, tuple[float, float]]:
    if built.design.has_ribs:
        return {}
    size = float(built.grid.radius), float(built.design.skin.thickness)
    return {
        name: (float(class_amplitude(*size, quality)), float(fabrication_class(*size, quality)))
        for name, quality in QUALITY.items()
    }


def expected_factor(built: Wall, published: float) -> float:
    """The factor that the checks of one tube take with ``knockdown = "expected"``.

    Args:
        built: its wall, whose design states ``as_built.roundness``.
        published: factor in compression.

    Raises:
        InputError: no factor is known at that roundness.
    """
    stated = built.design.as_built
    assert stated is not None and stated.roundness is not None  # the definition is checked
    found = expected(built, published, stated.ends)
    assert found.factor is not None
    if not np.isfinite(found.factor):
        raise InputError(
            f"as_built.roundness: {found.roundness!r} m is beyond the largest deviation that a "
            f"factor is known for, {AMPLITUDES[-1]:g} times the skin; state a smaller one, or "
            "as_built.knockdown = 'published'")
    return min(found.factor, float(stated.cap))


def at_tolerance(found: Expected, design: Design, skin: Quantity) -> Quantity:
    """Factor of many tubes near the one that a curve was worked out for.

    A deviation counts by the skin it is in: of thinner skins by as much more, of thicker ones no
    less. NaN beyond the curve.

    Args:
        found: of one tube.
        design: that tube.
        skin: thickness of each, m.
    """
    stated = design.as_built
    assert stated is not None and found.roundness is not None
    grown = np.maximum(float(design.skin.thickness) / np.asarray(skin, float), 1.0)
    return np.minimum(found.curve.at(found.roundness * grown) * found.thin, float(stated.cap))


def taking(design: Design, factor: Quantity | None) -> Design:
    """The same design with a factor taken as the expected one; None: to be worked out.

    Args:
        design: with ``as_built.knockdown`` "expected", one or many.
        factor: of each.
    """
    assert design.as_built is not None
    return dataclasses.replace(
        design, as_built=dataclasses.replace(design.as_built, taken=factor))


def is_expected(design: Design) -> bool:
    """Whether the checks of a design take the factor of its tolerances."""
    return design.as_built is not None and design.as_built.knockdown == "expected"
