"""The numpy search over nets of waves of version 0.2.0, kept as a peer for the bench only."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from gridshell.define.types import Array, Quantity


@dataclass(frozen=True)
class Theory:
    """Which curvature terms a shell theory keeps.

    The hoop curvature of a wave is (a n V + (n^2 + b) W)/R^2 and its twist
    (2 l n W + c l V + d n U/R)/R.

    Attributes:
        name: as shown in results.
        a, b: terms of V and W in the hoop curvature.
        c, d: terms of V and U in the twist.
        in_plane: 1 when the load also works on in-plane displacement (needed for the column mode
            and for few waves round), else 0.
        depth: 1 when every layer of the wall does that work at its own radius, else 0.
    """

    name: str
    a: float
    b: float
    c: float
    d: float
    in_plane: float
    depth: float = 0.0


LINE_ELEMENT = Theory("line-element", 0.0, -1.0, 1.0, 1.0, 1.0, 1.0)
SANDERS = Theory("Sanders", 1.0, 0.0, 1.5, 0.5, 1.0)
DONNELL = Theory("Donnell", 0.0, 0.0, 0.0, 0.0, 0.0)
THEORIES = {theory.name: theory for theory in (LINE_ELEMENT, SANDERS, DONNELL)}


def lowest_root(a: Quantity, b: Array, c: Array) -> Array:
    """Smallest positive load of a T^2 - b T + c = 0, c > 0; infinite where there is none."""
    with np.errstate(invalid="ignore", divide="ignore"):
        root = 2 * c / (b + np.sqrt(np.maximum(b * b - 4 * a * c, 0.0)))
        return np.where((root > 0) & np.isfinite(root), root, np.inf)


@dataclass(frozen=True)
class WaveStiffness:
    """Coefficients of the wave matrix as polynomials in x = l^2 and y = (n/R)^2.

    Built once per wall, then evaluated on any grid of waves. Shapes (designs, 1, 1).
    """

    k11x: Quantity
    k11y: Quantity
    k12: Quantity
    p0: Quantity
    px: Quantity
    py: Quantity
    k22x: Quantity
    k22y: Quantity
    r0: Quantity
    rx: Quantity
    ry: Quantity
    s0: Quantity
    sx: Quantity
    sy: Quantity
    sxx: Quantity
    sxy: Quantity
    syy: Quantity
    shear_x: Quantity
    shear_y: Quantity
    radius: Quantity
    high_along: Quantity
    deep_along: Quantity
    high_shear: Quantity
    deep_shear: Quantity
    soft: Quantity
    pocket: Quantity
    skin: Quantity
    skin_poisson: Quantity
    skin_along: Quantity
    skin_round: Quantity
    theory: Theory

    def with_each(self, change: Callable[[Array], Quantity]) -> WaveStiffness:
        """The same law with every coefficient changed alike (picked from, reshaped)."""
        values: dict[str, Any] = {
            name: change(np.asarray(value, float)) for name, value in self.coefficients().items()
        }
        return replace(self, **values)

    def coefficients(self) -> dict[str, Quantity]:
        """All but the theory, by name."""
        return {f.name: getattr(self, f.name) for f in fields(self) if f.name != "theory"}

    def stretch_along(self, x: Array, y: Array, moved: Array, bent: Quantity) -> Array:
        """Axial strain of a wave over its height, 1/m, sign reversed; ``moved`` is y k23/k22."""
        along = self.px * x + self.py * y
        along *= bent
        along += self.p0
        along -= self.k12 * moved
        along *= x
        along /= self.k11x * x + self.k11y * y
        return along

    def work_along(self, x: Array, y: Array, moved: Array, bent: Quantity) -> Array:
        """Work of axial stress in its layers over that of V^2 + W^2 in the skin's middle surface.

        The load works on the whole gradient of an axial fiber, its stretch too (Green's strain).
        A layer at z moves by V (1 + z/R) + n C z/R round the tube, C = bent W. Mean and mean square
        of z under axial stress come from A, B, D, free to contract round the tube.

        Args:
            x, y: squared wave numbers.
            moved: y k23/k22, that is -V/W times n/R of the wave. bent: from `condensed`.
        """
        number = y * self.radius**2
        if self.theory.depth == 0:
            return np.ones_like(number * moved)
        # v^2 and n v, v = V/W.
        product = -moved * self.radius
        with np.errstate(invalid="ignore", divide="ignore"):
            square = np.where(number > 0, product * product / number, 0.0)
        more = square * (2 * self.high_along + self.deep_along)
        more += 2 * product * bent * (self.high_along + self.deep_along)
        more += number * bent * bent * self.deep_along
        stretch = self.stretch_along(x, y, moved, bent)
        stretch *= stretch
        # In rings (n = 0) the two modes of the root are strangers: left to the plain work.
        stretch *= number > 0
        stretch /= x
        more += stretch
        return 1 + more / (1 + square)

    def bowed(
        self, x: Array, y: Array, matrix: tuple[Array, Array, Array, Quantity], share: Quantity
    ) -> Array:
        """Load of a wave whose skin bows between the ribs, over that of one whose skin does not.

        The skin between the ribs moves by s more than the ribs. It is pressed by its share of the
        load that the wave carries and held by its own hoop force N/R and by a spring. With unit
        height of the ribs, energy k + 2 q s + c s^2 and work 1 + share (2 s + s^2) have a lowest
        quotient below k (all here times the softness 1/c); V, which balances the hoop forces, is
        taken out of c.

        Args:
            x, y: squared wave numbers. matrix: from `condensed`.
            share: of the load that presses on the skin.
        """
        k22, k23, k33, bent = matrix
        balance = y / k22
        moved = balance * k23
        held = k33 - moved * k23
        along = self.skin_poisson * self.stretch_along(x, y, moved, bent)
        # Force of the skin per s: hoop strain plus Poisson's ratio times the axial one.
        pull = self.skin / self.radius
        press = pull * (1 / self.radius - moved - along)
        # A wave hardly longer than the pockets finds no pocket to press on evenly.
        short = x + y / 4
        short *= self.pocket * (4 / np.pi**2)
        soft = self.soft / (1 + short * short)
        spring = 1 - soft * (balance * (pull * pull))
        lower = held * spring
        lower -= soft * (press * press)
        press *= -2
        press += held
        press *= share * soft
        press += spring
        first = share * (1 - share) * soft
        return lowest_root(first, press, lower) / held

    def condensed(self, x: Array, y: Array) -> tuple[Array, Array, Array, Quantity]:
        """Stiffness in (V, W) with the axial amplitude taken out.

        Args:
            x: squared axial wave number l^2, 1/m2.
            y: squared hoop wave number (n/R)^2, 1/m2.
        Returns:
            k22, k23/(n/R), k33: so that the matrix is [[k22, N k23], [N k23, k33]], N = n/R; and
            the share of W that bends the wall (the rest shears it).
        """
        # Sums of a term in x and one in y are written so that each term stays small: x has one
        # axis of waves, y the other, and only their sums fill the whole net.
        bend = self.px * x + self.py * y
        ratio = x / (self.k11x * x + self.k11y * y)
        coupling = ratio * self.k12
        k22 = self.k22x * x + self.k22y * y
        k22 -= (y * self.k12) * coupling
        if self.rigid_in_shear:
            along = bend + self.p0
            k23 = (self.rx * x + self.r0) + self.ry * y
            k23 -= coupling * along
            k33 = x * (self.sx + self.sxx * x) + (self.s0 + y * (self.sy + self.syy * y))
            k33 += (self.sxy * x) * y
            along *= along
            along *= ratio
            k33 -= along
            return k22, k23, k33, 1.0
        # The deflection C that bends the wall is an unknown of its own; W - C is shear. Pairs of
        # unknowns below, the axial amplitude taken out of each; then C is taken out as well.
        vc = self.rx * x + self.ry * y
        vc -= coupling * bend
        shared = ratio * bend
        wc = (self.sx / 2) * x + (self.sy / 2) * y
        wc -= shared * self.p0
        cc = (self.sxx * x) * x + (self.syy * y) * y
        cc += (self.sxy * x) * y
        shared *= bend
        cc -= shared
        shear = self.shear_x * x + self.shear_y * y
        both = cc + shear
        bent = shear / both
        slip = vc / both
        vc *= slip
        vc *= y
        k22 -= vc
        slip *= shear - wc
        slip += self.r0
        coupling *= self.p0
        slip -= coupling
        cc += wc
        cc += wc
        cc *= shear
        wc *= wc
        cc -= wc
        cc /= both
        ratio *= -(self.p0**2)
        ratio += self.s0
        ratio += cc
        return k22, slip, ratio, bent

    @property
    def bows(self) -> bool:
        """Whether the skin bows between the ribs."""
        return bool(np.any(np.asarray(self.soft) > 0))

    @property
    def rigid_in_shear(self) -> bool:
        """Whether transverse shear is left out."""
        return bool(np.all(np.isinf(self.shear_x)))


def wave_stiffness(
    A: Array, B: Array, D: Array, radius: Quantity, theory: Theory = LINE_ELEMENT,
    shear: tuple[Quantity, Quantity] = (np.inf, np.inf),
    lost: Quantity = 0.0, skin: Quantity = 1.0, poisson: Quantity = 0.0, pocket: Quantity = 0.0,
) -> WaveStiffness:
    """Coefficients of the wave matrix of a wall on a cylinder.

    Coupling of stretching and bending with shear and twist (16 and 26 terms) is left out: it is
    zero for every balanced pattern.

    With the theory "Donnell" the condensed matrix reproduces NASA/SP-8007-2020/REV 2,
    Eq. 52-59 (the same terms as in its 1968 edition).

    Args:
        A, B, D: (..., 3, 3), N/m, N, N m, about the reference surface.
        radius: of the reference surface, m.
        theory: which curvature terms to keep.
        shear: transverse shear stiffness of the wall along and round the tube, N/m; infinite
            leaves its shear out, as the published equations do.
        lost: share of the skin's hoop stiffness that bowing between the ribs takes
            (`gridshell.wall.give`); 0 leaves it out.
        skin: stretching stiffness E t/(1 - v^2) of the skin alone, N/m.
        poisson: of the skin. pocket: its area between ribs, m2.
    """
    a, b, c, d = theory.a, theory.b, theory.c, theory.d
    r = radius
    A11, A12, A22, A66 = A[..., 0, 0], A[..., 0, 1], A[..., 1, 1], A[..., 2, 2]
    B11, B12, B22, B66 = B[..., 0, 0], B[..., 0, 1], B[..., 1, 1], B[..., 2, 2]
    D11, D12, D22, D66 = D[..., 0, 0], D[..., 0, 1], D[..., 1, 1], D[..., 2, 2]
    free = A11 - A12 * A12 / A22
    return WaveStiffness(
        k11x=A11,
        k11y=A66 - 2 * d * B66 / r + d**2 * D66 / r**2,
        k12=A12 + A66 + (a * B12 + (c - d) * B66) / r - c * d * D66 / r**2,
        p0=A12 / r + b * B12 / r**2,
        px=B11 + 0.0,
        py=B12 + 2 * B66 - 2 * d * D66 / r,
        k22x=A66 + 2 * c * B66 / r + c**2 * D66 / r**2,
        k22y=A22 + 2 * a * B22 / r + a**2 * D22 / r**2,
        r0=A22 / r + (a + b) * B22 / r**2 + a * b * D22 / r**3,
        rx=B12 + 2 * B66 + (a * D12 + 2 * c * D66) / r,
        ry=B22 + a * D22 / r,
        s0=A22 / r**2 + 2 * b * B22 / r**3 + b**2 * D22 / r**4,
        sx=2 * B12 / r + 2 * b * D12 / r**2,
        sy=2 * B22 / r + 2 * b * D22 / r**2,
        sxx=D11 + 0.0,
        sxy=2 * D12 + 4 * D66,
        syy=D22 + 0.0,
        shear_x=shear[0],
        shear_y=shear[1],
        radius=r,
        soft=lost * r**2 / skin,
        pocket=pocket,
        skin=skin,
        skin_poisson=poisson,
        skin_along=skin / A11,
        skin_round=skin / A22,
        # Axial stress before buckling: free to contract round the tube.
        high_along=theory.depth * (B11 - A12 * B12 / A22) / (free * r),
        deep_along=theory.depth * D11 / (free * r**2),
        high_shear=theory.depth * B66 / (A66 * r),
        deep_shear=theory.depth * D66 / (A66 * r**2),
        theory=theory,
    )


_CHUNK_POINTS = 48_000  # waves evaluated at once: a megabyte an array, which a cache holds
_NET_ALONG = 16
_NET_ROUND = 9
NET_ALONG_PRESSURE = 6  # pressure buckles in one or a few half waves
_NET_ALONG_TORSION = 8
_LONGEST_WAVES = 2
_FULL_LIMIT = 4_000_000  # waves of one design searched in full; beyond it the net is used


@dataclass(frozen=True)
class LowestWave:
    """Lowest load and its wave.

    Attributes:
        load: per length of circumference (compression, torsion) N/m, or pressure Pa.
        m: half waves along (for torsion: the mean axial wave number times L/pi, not whole).
        n: waves round.
        on_edge: True where the minimum lies on the edge of the range that was searched.
    """

    load: Quantity
    m: Quantity
    n: Quantity
    on_edge: Quantity

    @property
    def words(self) -> str:
        """The wave of a single load in words.

        >>> LowestWave(1.0, 1.0, 3.0, False).words
        '1 half wave along, 3 round'
        """
        along = f"{float(self.m):.3g}"
        return f"{along} half wave{'' if along == '1' else 's'} along, {float(self.n):.0f} round"


@dataclass(frozen=True)
class Range:
    """Largest waves worth looking at; see `wave_range`. Shapes (...)."""

    along: Quantity
    round: Quantity


def compression_load(law: WaveStiffness, x: Array, y: Array) -> Array:
    """Axial compression per length (N/m) at which a wave buckles.

    The load works through the slopes of the axial fibers: N l^2 (V^2 + W^2), or N l^2 W^2 in the
    Donnell theory, NASA/SP-8007-2020/REV 2, Eq. 52.
    """
    k22, k23, k33, bent = law.condensed(x, y)
    determinant = k22 * k33 - y * k23 * k23
    g = law.theory.in_plane
    if g == 0:
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(k22 > 0, determinant / (x * k22), np.inf)
    root = lowest_root(g * x * x, x * (k22 + g * k33), determinant)
    root /= law.work_along(x, y, y * k23 / k22, bent)
    if law.bows:
        root *= law.bowed(x, y, (k22, k23, k33, bent), law.skin_along)
    return root


def pressure_load(law: WaveStiffness, x: Array, y: Array, on_ends: float) -> Array:
    """External pressure (Pa) at which a wave buckles.

    Hoop compression p R with the pressure staying normal to the wall gives p (n^2 - 1) W^2/R;
    closed ends add the axial compression p R/2. In the Donnell theory n^2 stands for n^2 - 1:
    NASA/SP-8007-2020/REV 2, Eq. 64-65. The work of the pressure on the shortening of the
    wall between waves is left out: within 0.3 % of a solution that keeps it (tests).

    Args:
        on_ends: 1 hydrostatic, 0 lateral.
    """
    k22, k23, k33, bent = law.condensed(x, y)
    r, g = law.radius, law.theory.in_plane
    determinant = k22 * k33 - y * k23 * k23
    axial = on_ends * x * r / 2
    normal = r * y - g / r + axial
    with np.errstate(invalid="ignore", divide="ignore"):
        if g == 0 or on_ends == 0:
            load = np.where((k22 > 0) & (normal > 0), determinant / (normal * k22), np.inf)
        else:
            load = lowest_root(
                g * axial * normal, k22 * normal + g * axial * k33, determinant
            )
        if law.bows:
            load *= law.bowed(x, y, (k22, k23, k33, bent), law.skin_round)
    return np.where(y * r * r > 1.5, load, np.inf)  # n = 0 and 1 are not pressure modes


def helix(law: WaveStiffness, wave: Array, y: Array) -> tuple[Array, Array]:
    """Energy and work of one helical wave cos(l x - n t) under unit shear flow."""
    k22, k23, k33, bent = law.condensed(wave * wave, y)
    ratio = k23 / k22
    number = np.sqrt(y)
    energy = k33 - y * k23 * ratio
    r, g = law.radius, law.theory.in_plane
    turn = 1 - g * ratio / r
    if law.theory.depth:
        # Each layer at z moves by V (1 + z/R) + n C z/R round the tube, C = bent W, and stretches
        # there: v,x times its hoop strain is work of shear flow too. All over n W^2.
        n2 = y * r * r
        moved = -ratio / r  # V/(n W)
        stretch = 1 + n2 * moved  # (n V + W)/W
        twisted = moved + bent
        turn = turn + moved * stretch + law.high_shear * (
            twisted * stretch + n2 * moved * twisted - moved * stretch
        ) + law.deep_shear * n2 * twisted * (twisted - moved)
    work = 2 * wave * number * turn
    if law.bows:
        energy *= law.bowed(wave * wave, y, (k22, k23, k33, bent), law.skin_along)
    return energy, work


def torsion_load(law: WaveStiffness, wave: Array, y: Array, half: Quantity) -> Array:
    """Shear flow (N/m) of torsion at which two helical waves that cancel at the ends buckle.

    w = cos((l + h) x - n t) - cos((l - h) x - n t) with h = pi/L vanishes at both ends; the load
    is the ratio of their energies to their work (Rayleigh-Ritz, so an upper bound; the tests
    hold it to a series solution and to NASA/SP-8007-2020/REV 2, Eq. 33-38 and 69-70).

    Args:
        wave: mean axial wave number l, 1/m.
        y: (n/R)^2, 1/m2.
        half: pi/L, 1/m.
    """
    energy_1, work_1 = helix(law, wave + half, y)
    energy_2, work_2 = helix(law, wave - half, y)
    work = work_1 + work_2
    with np.errstate(invalid="ignore", divide="ignore"):
        load = np.where(work > 0, (energy_1 + energy_2) / work, np.inf)
    return np.where(y * law.radius**2 > 3.5, load, np.inf)  # n >= 2


def wave_range(
    A: Array, bending: Array, radius: Quantity, length: Quantity, theory_factor: float = 2.0
) -> Range:
    """Waves beyond which no lower load is possible.

    Whatever the membrane does, a wave costs at least its bending energy with the wall free to
    stretch (D' = D - B A^-1 B), so N >= [D'11 l^2 + ...]/2, while the axisymmetric mode gives
    N* <= 2 sqrt(A22 D11')/R with A22 uncondensed as an upper bound. Hence
    l^2 <= 2 N*/D'11 and (n/R)^2 <= 2 N*/(2 sqrt(D'11 D'22) + 2 D'12 + 4 D'66).
    Short tubes: at least a few waves of the plate that unrolls from it.

    Args:
        A: (..., 3, 3). bending: D' (..., 3, 3).
        radius, length: m.
    """
    d11, d22 = bending[..., 0, 0], bending[..., 1, 1]
    cross = bending[..., 0, 1] + 2 * bending[..., 2, 2]
    trial = 2 * np.sqrt(A[..., 1, 1] * d11) / radius
    half = np.pi / length
    trial = trial + d11 * half**2  # a tube shorter than one natural wave
    along = np.sqrt(theory_factor * trial / d11) / half
    around = radius * np.sqrt(
        theory_factor * trial / np.maximum(2 * np.sqrt(d11 * d22) + 2 * cross, 1e-3 * d11)
    )
    around = np.maximum(around, 2 * half * radius * (d11 / d22) ** 0.25)
    return Range(np.ceil(along) + 1, np.ceil(around) + 3)


_Found = tuple[Array, Array, Array]  # load, m, n of each design
LoadLaw = Callable[[WaveStiffness, Array, Array], Array]


def _take(law: WaveStiffness, part: slice) -> WaveStiffness:
    """Some designs of a flattened law, with axes for the waves."""
    return law.with_each(lambda value: value[part, None, None])


def _plainer(law: WaveStiffness, rigid: bool = False) -> WaveStiffness:
    """The same wall without bowing and without the depth of its layers; and rigid in shear.

    They move a load by a few per cent but hardly the wave: a net can do without.
    """
    plain = replace(law, soft=0.0, theory=replace(law.theory, depth=0.0))
    return replace(plain, shear_x=np.inf, shear_y=np.inf) if rigid else plain


def flattened(law: WaveStiffness, shape: tuple[int, ...]) -> WaveStiffness:
    """The same law with every coefficient broadcast to ``shape`` and flattened."""
    return law.with_each(lambda value: np.broadcast_to(value, shape).ravel())


def _flatten(law: WaveStiffness, *others: Quantity) -> tuple[tuple[int, ...], Any, list[Array]]:
    shape = np.broadcast_shapes(
        *(np.shape(v) for v in law.coefficients().values()), *(np.shape(o) for o in others)
    )
    rest = [np.broadcast_to(np.asarray(o, float), shape).ravel() for o in others]
    return shape, flattened(law, shape), rest


def _net(limit: Array, points: int, start: float) -> Array:
    """Whole numbers from ``start`` (1 or more) to ``limit``, geometric, (designs, points)."""
    top = np.maximum(limit, start + 1)[:, None]
    share = np.linspace(0.0, 1.0, points)
    steps = start * (top / start) ** share
    # Plain steps at first, so that small whole numbers are not skipped.
    steps = np.minimum(np.maximum(np.rint(steps), start + np.arange(points)), np.rint(top))
    return steps


def _chunks(count: int, points: int) -> Iterator[slice]:
    step = max(1, _CHUNK_POINTS // max(points, 1))
    for first in range(0, count, step):
        yield slice(first, min(first + step, count))


def lowest_load(
    load: LoadLaw, law: WaveStiffness, limits: Range, length: Quantity, first_round: int = 0,
    net_along: int = _NET_ALONG,
) -> LowestWave:
    """Lowest load over whole waves m >= 1 and n >= first_round (n = 1, the column, left out).

    Args:
        load: `compression_load` or a `pressure_load` with its ends fixed.
        law: wave matrix of the wall(s).
        limits: from `wave_range`.
        length: m.
        first_round: 0 or 2.
        net_along: lines of the coarse net along the tube.
    """
    shape, flat, (top_m, top_n, span) = _flatten(law, limits.along, limits.round, length)
    count = len(span)
    best = np.empty(count)
    best_m, best_n = np.empty(count), np.empty(count)

    if count == 1 and top_m[0] * top_n[0] <= _FULL_LIMIT:
        m = np.arange(1.0, top_m[0] + 1)[None, :]
        n = np.arange(float(first_round), top_n[0] + 1)[None, :]
        best[0], best_m[0], best_n[0] = (part[0] for part in _evaluate(
            load, _take(flat, slice(0, 1)), m, n, span))
    else:
        for part in _chunks(count, net_along * _NET_ROUND):
            picked = _take(flat, part)
            m = _net(top_m[part], net_along, 1.0)
            n = _net(top_n[part], _NET_ROUND, 2.0)
            if first_round == 0:  # the rings of n = 0 are a family of waves of their own
                n = np.concatenate([np.zeros((len(n), 1)), n], axis=1)
            quick = _plainer(picked)
            # The net does without shear too.
            coarse = _loads(load, _plainer(picked, rigid=True), m, n, span[part])
            values = _best(coarse, m, n)
            values = (np.full(len(m), np.inf), values[1], values[2])
            # Finer round the best: the gap to the next net line each way, then single steps by
            # the law in full, round the best basin by that law.
            m_near = _around(values[1], 0.18, 7, 1.0, top_m[part])
            n_near = _around(values[2], 0.20, 5, float(first_round), top_n[part])
            values = _lower(values, _evaluate(load, quick, m_near, n_near, span[part]))
            m_near = _around(values[1], 0.0, 3, 1.0, top_m[part])
            n_near = _around(values[2], 0.0, 3, float(first_round), top_n[part])
            values = _evaluate(load, picked, m_near, n_near, span[part])
            if first_round == 0:
                values = _lower(values, _second_basins(
                    load, picked, coarse, m, n, span[part], top_m[part], top_n[part]))
            m_near = _around(values[1], 0.05, 5, 1.0, top_m[part])
            n_near = _around(values[2], 0.07, 5, float(first_round), top_n[part])
            values = _lower(values, _evaluate(load, picked, m_near, n_near, span[part]))
            best[part], best_m[part], best_n[part] = values
    edge = (best_m >= top_m) | (best_n >= top_n) | ~np.isfinite(best)
    return LowestWave(
        best.reshape(shape), best_m.reshape(shape), best_n.reshape(shape), edge.reshape(shape)
    )


def _second_basins(
    load: LoadLaw, law: WaveStiffness, coarse: Array, m: Array, n: Array, span: Array,
    top_m: Array, top_n: Array,
) -> _Found:
    """Best of the basins that fall between the lines of the net, sharp in one wave number.

    Those are the longest waves, each with the waves round that suit it, and the rings of n = 0
    with the half waves that suit them.
    """
    few = m[:, :_LONGEST_WAVES]
    suited = np.take_along_axis(n, np.argmin(coarse[:, :_LONGEST_WAVES], axis=2), axis=1)
    top = np.repeat(top_n, suited.shape[1])
    for spread in (0.20, 0.07):
        around = _around(suited.ravel(), spread, 5, 0.0, top).reshape(*suited.shape, 5)
        loads = _loads(load, law, few, around, span)
        suited = np.take_along_axis(around, np.argmin(loads, axis=2)[..., None], axis=2)[..., 0]
    longest = _best(loads, few, around)
    suited = np.take_along_axis(m, np.argmin(coarse[:, :, :1], axis=1), axis=1)[:, 0]
    along = _around(suited, 0.18, 9, 1.0, top_m)
    return _lower(longest, _evaluate(load, law, along, n[:, :1], span))


def _around(
    center: Array, spread: float, points: int, low: float, high: Array
) -> Array:
    """Whole numbers round a center, at least single steps apart, (designs, points)."""
    offset = np.arange(points) - points // 2
    step = np.maximum(np.rint(2 * center * spread / max(points // 2, 1)), 1.0)
    return np.clip(center[:, None] + step[:, None] * offset, low, np.maximum(high, low)[:, None])


def _loads(load: LoadLaw, law: WaveStiffness, m: Array, n: Array, span: Array) -> Array:
    """Loads (designs, m, n) of a net; m is (designs, m) or, of its own for each n, (..., n); n
    is (designs, n) or, of its own for each m, (designs, m, n)."""
    wave = m if m.ndim == 3 else m[:, :, None]
    around = n if n.ndim == 3 else n[:, None, :]
    x = (wave * (np.pi / span[:, None, None])) ** 2
    y = (around / law.radius) ** 2
    values = load(law, x, y)
    return np.where(around == 1, np.inf, values)  # the column has a check of its own


def _best(values: Array, m: Array, n: Array) -> tuple[Array, Array, Array]:
    """Lowest value of every design with its m and n, each (designs,)."""
    count = n.shape[-1]
    flat = values.reshape(len(values), -1)
    index = np.argmin(flat, axis=1)
    rows = np.arange(len(values))
    along = m.reshape(len(m), -1)[rows, index] if m.ndim == 3 else m[rows, index // count]
    around = n.reshape(len(n), -1)[rows, index] if n.ndim == 3 else n[rows, index % count]
    return flat[rows, index], along, around


def _lower(old: _Found, new: _Found) -> _Found:
    """The lower of two finds, design by design."""
    better = new[0] < old[0]
    return (
        np.where(better, new[0], old[0]),
        np.where(better, new[1], old[1]),
        np.where(better, new[2], old[2]),
    )


def _evaluate(
    load: LoadLaw, law: WaveStiffness, m: Array, n: Array, span: Array
) -> tuple[Array, Array, Array]:
    """Best load over the net of every design: load, m, n, each (designs,)."""
    return _best(_loads(load, law, m, n, span), m, n)


def lowest_torsion(
    law: WaveStiffness, limits: Range, length: Quantity
) -> LowestWave:
    """Lowest shear flow of torsion over helical waves: n whole, axial wave number continuous."""
    shape, flat, (top_m, top_n, span) = _flatten(law, limits.along, limits.round, length)
    count = len(span)
    best = np.empty(count)
    best_m, best_n = np.empty(count), np.empty(count)
    many = 64 if count == 1 else _NET_ALONG_TORSION
    for part in _chunks(count, 2 * many * _NET_ROUND):
        picked = _take(flat, part)
        half = np.pi / span[part]
        n = (
            np.arange(2.0, top_n[0] + 1)[None, :] if count == 1
            else _net(top_n[part], _NET_ROUND, 2.0)
        )
        # Mean axial wave number, in units of pi/L, geometric from half a wave.
        share = np.linspace(0.0, 1.0, many)
        m = 0.5 * (2 * top_m[part][:, None]) ** share
        spread = (2 * top_m[part]) ** (1.0 / (many - 1))  # ratio of neighbouring net lines
        # Each n first finds its own best wave number: those of different n lie far apart.
        quick = picked if count == 1 else _plainer(picked)
        rigid = picked if count == 1 else _plainer(picked, rigid=True)
        coarse = _torsion_loads(rigid, m, n, half)
        center = np.take_along_axis(m, np.argmin(coarse, axis=1), axis=1)
        fan = np.linspace(-0.8, 0.8, 5)
        m = center[:, None, :] * spread[:, None, None] ** fan[None, :, None]
        values = _best(_torsion_loads(rigid, m, n, half), m, n)
        if rigid is not picked:
            values = (np.full(len(half), np.inf), values[1], values[2])
        # First wide, because the wave number of the next n differs; then closer.
        for reach, points, rounds in ((1.0, 9, 5), (0.25, 5, 3), (0.08, 3, 1)):
            m = values[1][:, None] * spread[:, None] ** np.linspace(-reach, reach, points)
            n = _around(values[2], 0.1, rounds, 2.0, top_n[part])
            if reach == 0.08 and quick is not picked:
                # Of many: only the load by the law in full; the series needs no better place.
                values = _best(_torsion_loads(picked, values[1][:, None], n, half),
                               values[1][:, None], n)
                break
            values = _lower(values, _best(_torsion_loads(quick, m, n, half), m, n))
        best[part], best_m[part], best_n[part] = values
    edge = (best_n >= top_n) | (best_m >= top_m) | ~np.isfinite(best)
    return LowestWave(
        best.reshape(shape), best_m.reshape(shape), best_n.reshape(shape), edge.reshape(shape)
    )


def _torsion_loads(law: WaveStiffness, m: Array, n: Array, half: Array) -> Array:
    wave = (m if m.ndim == 3 else m[:, :, None]) * half[:, None, None]
    y = (n / law.radius[:, 0, :])[:, None, :] ** 2
    return torsion_load(law, wave, y, half[:, None, None])


TERMS = 12
_AT_ONCE = 3000  # designs: keeps memory bounded and arrays in a cache


def series_load(
    law: WaveStiffness, length: Quantity, n: Array, first: Array, terms: int = TERMS
) -> Array:
    """Shear flow of torsion (N/m) at which n waves round buckle; all arguments (designs,).

    With amplitude c_p, energy is (L/8) sum k_p |c_p|^2 and work per shear flow is
    (1/2R) sum i c_p c_q* p q (a_p + a_q)/(q^2 - p^2) over p + q odd, a_p = n (1 + V_p/(n W)) and
    what `helix` adds to it: the load is one over the largest singular value of odd against even
    (Galerkin's method as Batdorf, NACA TR 887, 1947, used it for plain tubes; written here from
    the energy).

    Args:
        law: wave matrix of the walls. length: m.
        n: waves round. first: lowest p of the series. terms: how many.
    """
    p = first[:, None] + np.arange(terms)
    y = (n / law.radius)[:, None] ** 2
    lifted = law.with_each(lambda value: value[..., None])
    wave = p * np.pi / np.asarray(length)[..., None]
    energy, work = helix(lifted, wave, y)
    lean = work * lifted.radius / (2 * wave)
    root = np.sqrt(np.maximum(energy, 1e-300))
    one, other = slice(0, None, 2), slice(1, None, 2)
    a, b = p[:, one, None], p[:, None, other]
    table = a * b / (b * b - a * a) * (lean[:, one, None] + lean[:, None, other])
    table = table / (root[:, one, None] * root[:, None, other])
    square = table @ table.swapaxes(1, 2)
    largest = np.sqrt(np.linalg.eigvalsh(square)[:, -1])
    with np.errstate(divide="ignore"):
        return np.asarray(length * law.radius / (4 * largest))


def first_term(m: Quantity) -> Array:
    """Lowest p of a series round a mean wave number of m half waves."""
    return np.maximum(np.rint(m) - TERMS // 2, 1.0)


def _picked(law: WaveStiffness, part: slice) -> WaveStiffness:
    """Some designs of a flattened law."""
    return law.with_each(lambda value: value[part])


def between_ends(law: WaveStiffness, found: LowestWave, length: Quantity) -> LowestWave:
    """The lowest load of torsion by the series, from the two-helix answer of the search.

    Waves round: the one found and those next to it; the series often prefers the one below.
    """
    shape = np.shape(found.load)
    flat = flattened(law, shape)
    span = np.broadcast_to(np.asarray(length, float), shape).ravel()
    load, m, n = (np.array(np.ravel(part), float) for part in (found.load, found.m, found.n))
    best, best_n = load.copy(), n.copy()
    for start in range(0, load.size, _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        usable = np.isfinite(load[part])
        first = first_term(np.where(usable, m[part], 1.0))
        some = _picked(flat, part)
        for step in (-1, 0, 1):
            tried = np.maximum(np.where(usable, n[part], 2.0) + step, 2.0)
            lower = np.where(usable, series_load(some, span[part], tried, first), np.inf)
            better = lower < best[part]
            best[part] = np.where(better, lower, best[part])
            best_n[part] = np.where(better, tried, best_n[part])
    return LowestWave(
        best.reshape(shape), np.reshape(m, shape), best_n.reshape(shape), found.on_edge)
