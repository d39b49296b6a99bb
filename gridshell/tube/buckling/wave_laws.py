"""Energy and buckling load of one wave, and the search over every whole wave.

Each law is one short function of a wave's squared wave numbers x = l^2 (l = m pi/L along the
tube) and y = (n/R)^2 (round it). The same function runs on numbers, over numpy arrays, and
compiled for many designs (`gridshell.tube.buckling.compiled`), so nothing here may branch on an
array or call what the compiler does not know. Laws and loops share one file because compiled code
is cached by the date of its file.

``w`` is a `gridshell.tube.buckling.wave_stiffness.WaveStiffness`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.tube.buckling.wave_stiffness import WaveStiffness

COMPRESSION, LATERAL, HYDROSTATIC, TORSION = 0, 1, 2, 3
HALF = 6  # odd terms of the series of torsion, and as many even ones
TERMS = 2 * HALF
PRESSED = 4 / np.pi**2  # pocket area times squared wave number: 1 where a wave presses it unevenly
# Least share of a load that its bound explains, see `stiffest`: in pressure and compression, in
# compression where the wave is short against the wall's own depth, and in all else.
HELD, HELD_SHORT, HELD_ELSE = 0.9, 0.6, 0.72
SHALLOW = 0.025  # root of the mean square of z/R, below which short waves are like all
LOTS = 8  # of waves along, from one number of half waves to twice that
DENSE = 64  # half waves along from which helices are passed over in lots
SERIES_FLOOR = 0.6  # the series of torsion over its two helices: 0.7 and more in the tests


def lowest_root(a: Any, b: Any, c: Any, over: Any = 1.0) -> Any:
    """Smallest load of a T^2 - b T + c = 0 with a >= 0, over a number.

    Args:
        a: product of the works of both amplitudes.
        b: sum of stiffness times work of the other.
        c: determinant of the stiffness.
        over: what the root is divided by.

    Returns:
        The root over that number; infinite where no load does work (b = 0).

    >>> float(lowest_root(1.0, 5.0, 6.0))
    2.0
    """
    return 2 * c / ((b + np.sqrt(np.maximum(b * b - 4 * a * c, 0.0))) * over)


def condensed(w: Any, x: Any, y: Any) -> Any:
    """Stiffness in (V, W), axial amplitude U and bending deflection C taken out.

    W = C + shear deflection; f is the shear compliance of the wave.

    Args:
        w: coefficients.
        x: squared axial wave number, 1/m2.
        y: squared circumferential wave number, 1/m2.

    Returns:
        k22, k23/N, k33 with N = n/R, so that the matrix is [[k22, N k23], [N k23, k33]]; and
        C/W, the share of the deflection that bends the wall.
    """
    uc = w.px * x + w.py * y
    u = x * (1 / (w.k11x * x + w.k11y * y))
    uv = u * w.k12
    vc = w.rx * x + w.ry * y - uv * uc
    wc = (w.sx * x + w.sy * y) / 2 - u * uc * w.p0
    cc = w.sxx * x * x + w.sxy * x * y + w.syy * y * y - u * uc * uc
    f = 1 / (w.shear_x * x + w.shear_y * y)
    bent = 1 / (1 + f * cc)
    k22 = w.k22x * x + w.k22y * y - y * w.k12 * uv - y * vc * vc * f * bent
    k23 = w.r0 - uv * w.p0 + vc * bent * (1 - f * wc)
    k33 = w.s0 - u * w.p0 * w.p0 + (cc + 2 * wc - f * wc * wc) * bent
    return k22, k23, k33, bent


def axial_strain(w: Any, x: Any, y: Any, moved: Any, bent: Any) -> Any:
    """Axial strain of a wave over its height and over x, sign reversed, m.

    Args:
        w: coefficients.
        x: squared axial wave number, 1/m2.
        y: squared circumferential wave number, 1/m2.
        moved: y k23/k22, that is -N V/W, 1/m.
        bent: C/W.
    """
    along = w.p0 + bent * (w.px * x + w.py * y) - w.k12 * moved
    return along * (1 / (w.k11x * x + w.k11y * y))  # that inverse is known from `condensed`


def layer_work(w: Any, x: Any, y: Any, moved: Any, bent: Any) -> Any:
    """Work of axial stress in its layers, and that of V^2 + W^2 in the middle surface of the skin.

    The load works on the whole gradient of an axial fiber, its stretch too (Green's strain). A
    layer at z moves by V (1 + z/R) + n C z/R round the tube. Mean and mean square of z under axial
    stress come from A, B, D, free to contract round the tube. In rings (n = 0) the two modes of
    the root are strangers: the plain work is kept.

    Args:
        w: coefficients.
        x: squared axial wave number, 1/m2.
        y: squared circumferential wave number, 1/m2.
        moved: y k23/k22, 1/m.
        bent: C/W.

    Returns:
        Both over the same unit.
    """
    n2 = y * w.radius * w.radius
    nv = -moved * w.radius
    v2 = nv * nv * (1 / np.maximum(n2, 1e-300))
    strain = axial_strain(w, x, y, moved, bent) * (n2 > 0)
    more = (
        v2 * (2 * w.high_along + w.deep_along)
        + 2 * nv * bent * (w.high_along + w.deep_along)
        + n2 * bent * bent * w.deep_along
        + w.depth * strain * strain * x
    )
    return 1 + v2 + more, 1 + v2


def skin_bowing(w: Any, x: Any, y: Any, k22: Any, k23: Any, k33: Any, bent: Any, share: Any) -> Any:
    """Load of a wave whose skin bows between the ribs, over that of one whose skin does not.

    The skin between the ribs moves by s more than the ribs. It is pressed by its share of the load
    that the wave carries and held by its own hoop force N/R and by a spring. With unit height of
    the ribs, energy k + 2 q s + s^2/e and work 1 + share (2 s + s^2) have a lowest quotient below
    k; V, which balances the hoop forces, is taken out of 1/e. All is multiplied by the
    compliance e.

    Args:
        w: coefficients.
        x: squared axial wave number, 1/m2.
        y: squared circumferential wave number, 1/m2.
        k22: from `condensed`.
        k23: likewise.
        k33: likewise.
        bent: likewise.
        share: of the load that presses on the skin.
    """
    balance = y / k22
    moved = balance * k23
    k = k33 - moved * k23
    # Force of the skin per s: hoop strain plus Poisson's ratio times the axial one.
    pull = w.skin / w.radius
    q = pull * (1 / w.radius - moved - w.skin_poisson * x * axial_strain(w, x, y, moved, bent))
    # A wave hardly longer than the pockets finds no pocket to press on evenly: all is multiplied by
    # this instead of dividing the compliance by it.
    short = (x + y / 4) * w.pocket * PRESSED
    stiff = 1 + short * short
    e = w.compliance
    spring = stiff - e * balance * pull * pull
    return lowest_root(
        share * (1 - share) * e, spring + share * e * (k - 2 * q), k * spring - e * q * q, over=k)


def compression_load(w: Any, x: Any, y: Any) -> Any:
    """Axial compression per length of circumference at which a wave buckles, N/m.

    The load works through the slopes of the axial fibers: N l^2 (V^2 + W^2), or N l^2 W^2 in the
    Donnell theory, NASA/SP-8007-2020/REV 2, Eq. 52.

    Args:
        w: coefficients.
        x: squared axial wave number, 1/m2.
        y: squared circumferential wave number, 1/m2.
    """
    k22, k23, k33, bent = condensed(w, x, y)
    load = lowest_root(
        w.in_plane * x * x, x * (k22 + w.in_plane * k33), k22 * k33 - y * k23 * k23
    )
    work, plain = layer_work(w, x, y, y / k22 * k23, bent)
    return load * skin_bowing(
        w, x, y=y, k22=k22, k23=k23, k33=k33, bent=bent, share=w.skin_along,
    ) * plain / work


def pressure_load(w: Any, x: Any, y: Any, hydrostatic: Any) -> Any:
    """External pressure at which a wave of two or more round buckles, Pa.

    Hoop compression p R with the pressure staying normal to the wall gives p (n^2 - 1) W^2/R;
    closed ends add the axial compression p R/2. In the Donnell theory n^2 stands for n^2 - 1:
    NASA/SP-8007-2020/REV 2, Eq. 64-65. The work of the pressure on the shortening of the wall
    between waves is left out: within 0.3 % of a solution that keeps it (tests).

    Args:
        w: coefficients.
        x: squared axial wave number, 1/m2.
        y: squared circumferential wave number, 1/m2; (2/R)^2 or more.
        hydrostatic: 1 with pressure on closed ends, 0 lateral.
    """
    k22, k23, k33, bent = condensed(w, x, y)
    axial = hydrostatic * x * w.radius / 2
    normal = w.radius * y - w.in_plane / w.radius + axial
    g = w.in_plane * axial
    load = lowest_root(g * normal, k22 * normal + g * k33, k22 * k33 - y * k23 * k23)
    return load * skin_bowing(w, x, y=y, k22=k22, k23=k23, k33=k33, bent=bent, share=w.skin_round)


def helix(w: Any, l: Any, y: Any) -> Any:  # noqa: E741 the wave number's own symbol
    """Energy and work of one helical wave cos(l x - n t) under unit shear flow.

    Each layer at z moves by V (1 + z/R) + n C z/R round the tube and stretches there: v,x times its
    hoop strain is work of shear flow too.

    Args:
        w: coefficients.
        l: axial wave number, 1/m; either sign.
        y: squared circumferential wave number, 1/m2.

    Returns:
        Energy, N/m3, and work, 1/m2, both for unit height.
    """
    x = l * l
    k22, k23, k33, bent = condensed(w, x, y)
    moved = y / k22 * k23
    n2 = y * w.radius * w.radius
    v = -moved * (1 / (y * w.radius))  # V/(n W)
    stretch = 1 + n2 * v  # (n V + W)/W
    twisted = v + bent
    turn = (
        1 + w.in_plane * v + w.depth * v * stretch
        + w.high_shear * (twisted * stretch + n2 * v * twisted - v * stretch)
        + w.deep_shear * n2 * twisted * (twisted - v)
    )
    energy = (k33 - moved * k23) * skin_bowing(
        w, x, y=y, k22=k22, k23=k23, k33=k33, bent=bent, share=w.skin_along,
    )
    return energy, 2 * l * np.sqrt(y) * turn


def torsion_load(w: Any, l: Any, y: Any, half: Any) -> Any:  # noqa: E741
    """Shear flow at which two helical waves that cancel at the ends buckle, N/m.

    w = cos((l + h) x - n t) - cos((l - h) x - n t) with h = pi/L vanishes at both ends; the load
    is the ratio of their energies to their work (Rayleigh-Ritz, so an upper bound; the tests
    hold it to a series and to NASA/SP-8007-2020/REV 2, Eq. 33-38 and 69-70).

    Args:
        w: coefficients.
        l: mean axial wave number, 1/m.
        y: squared circumferential wave number, 1/m2; (2/R)^2 or more.
        half: h, 1/m.
    """
    energy_1, work_1 = helix(w, l + half, y)
    energy_2, work_2 = helix(w, l - half, y)
    return (energy_1 + energy_2) / np.maximum(work_1 + work_2, 1e-300)


def coupling(p: Any, q: Any, lean: Any, root: Any) -> Any:
    """Coupling of two terms of the series of torsion, p + q odd, over the root of their energies.

    Work per shear flow of amplitudes c_p, c_q of sin(p pi x/L) is (1/2R) sum i c_p c_q*
    p q (a_p + a_q)/(q^2 - p^2), a_p = R work/(2 l) from `helix`; energy (L/8) sum k_p |c_p|^2.

    Args:
        p: half waves of one term.
        q: half waves of the other.
        lean: a_p + a_q.
        root: square root of k_p k_q.
    """
    return p * q * lean / ((q * q - p * p) * root)


# --- which waves can win -------------------------------------------------------------------------


def bow_relief(w: Any, kind: Any, x: Any, y: Any) -> Any:
    """What the skin's bow adds at most to the inverse of the load of waves this short or shorter.

    A bow's compliance e/(1 + ((x + y/4) b)^2), times the load's work per energy (of compression x,
    of torsion 2 l N) and its share on the skin: the largest of all waves with these waves round
    whose squared wave number along is x or more.

    Args:
        w: coefficients of one design.
        kind: COMPRESSION, LATERAL, HYDROSTATIC or TORSION.
        x: least squared axial wave number, 1/m2.
        y: squared circumferential wave number, 1/m2.
    """
    if not w.compliance > 0:
        return 0.0
    b = w.pocket * PRESSED
    if not b > 1e-150:
        return np.inf
    # x/(1 + ((x + y/4) b)^2) is largest at x^2 = 1/b^2 + (y/4)^2.
    peak = max(np.sqrt(1 / (b * b) + y * y / 16), x)
    press = (peak + y / 4) * b
    along = w.compliance * w.skin_along * peak / (1 + press * press)
    if kind == COMPRESSION:
        return along
    if kind == TORSION:
        # l N <= l^2 + N^2/4 = s: 2 s/(1 + (s b)^2), largest at s = 1/b.
        press = max(1.0, (x + y / 4) * b)
        return w.compliance * w.skin_along / b * 2 * press / (1 + press * press)
    around = max(y, 4 / b - 4 * x)
    press = (x + around / 4) * b
    relief = w.compliance * w.skin_round * around / (1 + press * press)
    return relief + along / 2 if kind == HYDROSTATIC else relief


def stiffest(w: Any, kind: Any, load: Any, x: Any, y: Any, held: Any) -> Any:
    """Bending energy per work above which no wave with these waves round buckles below a load.

    Shear of the ribs across the wall, shear of the wall in its plane and bowing of the skin add at
    most in series to the inverse of the load that bending alone would give. The hoop curvature is
    n^2 C - W over R^2, C the part of W that bends the wall: shear across weighs (n^2/(n^2 - 1))^2
    times, as if C were the (n^2 C - W)/(n^2 - 1) that bends like C = W. How bowing meets hoop force
    takes less than half of what it takes from the skin. What layers far from the skin move beyond
    that is held to random walls in the tests, to a quarter of the radius deep: with the bound
    1 at most, the load of no wave was below 0.955 under pressure, 1.0 in compression of walls below
    `SHALLOW` and where l R times the root of the mean square of z/R is below one, 0.635 beyond,
    0.795 in torsion.

    Args:
        w: coefficients of one design.
        kind: COMPRESSION, LATERAL, HYDROSTATIC or TORSION.
        load: N/m or Pa.
        x: least squared axial wave number of the waves asked for, 1/m2.
        y: squared circumferential wave number, 1/m2.
        held: share of the load that is sure to be explained.

    Returns:
        The quotient, in units of the load; infinite where shear and bowing alone allow the load.
    """
    relief = bow_relief(w, kind, x, y)
    n2 = y * w.radius * w.radius
    turn = n2 / (n2 - w.in_plane) if n2 > 2 else 1.0
    turn *= turn
    # A layer moves round by V (1 + z/R) + n W z/R: its square is at most twice that of either part.
    slide = w.in_plane * (1 + w.depth) * (1 + 2 * w.high_along + w.deep_along) / w.k22x
    if kind == COMPRESSION:
        relief += turn / w.shear_x + slide
    elif kind == TORSION:
        relief += turn / np.sqrt(w.shear_x * w.shear_y)
    else:
        relief += turn / w.shear_y
        if kind == HYDROSTATIC:
            relief += (turn / w.shear_x + slide) / 2
        relief *= w.radius
    lost = w.compliance * w.skin / (w.radius * w.radius)
    left = (held - lost / 2) / load - relief
    return 1 / left if left > 0 else np.inf


def unbowed(w: Any, kind: Any, load: Any, y: Any, held: Any) -> Any:
    """Squared axial wave number from which waves are too short for the skin's bow to matter, 1/m2.

    Where `stiffest` has no end for long waves it may have one for these; infinite where not.
    """
    if not w.pocket * PRESSED > 1e-150 or not stiffest(w, kind, load, 1e150, y, held) < np.inf:
        return np.inf  # the shortest waves, which no bow helps, have no end
    x = 1 / (w.pocket * PRESSED)
    for _ in range(12):
        if stiffest(w, kind, load, x, y, held) < np.inf:
            return x
        x *= 4.0
    return np.inf


def bent_twice(w: Any, y: Any) -> Any:
    """D12 + 2 D66 with the wall free to stretch, D66 by n^2 - 1 instead of n^2, N m.

    A wave that stretches nothing moves round by W/n and along with it, which takes 1/n of n from
    its twist, as it takes 1 of n^2 from the curvature of a ring.

    Args:
        w: coefficients of one design.
        y: squared circumferential wave number, above 0, 1/m2.
    """
    return w.free_12 - 2 * w.free_66 * w.in_plane / max(y * w.radius * w.radius, 1.0)


def window(w: Any, kind: Any, load: Any, y: Any) -> Any:
    """Waves along that may buckle below a load with these waves round.

    Args:
        w: coefficients of one design.
        kind: COMPRESSION, LATERAL or HYDROSTATIC.
        load: to stay below.
        y: squared circumferential wave number, 1/m2.

    Returns:
        Least and largest x, 1/m2 (the largest below zero where there is none); and whether no
        larger y has any either.
    """
    if not w.depth > 0:
        return bounded(w, kind, load, y, HELD_ELSE)
    low, high, past = bounded(w, kind, load, y, HELD)
    if kind != COMPRESSION:
        return low, high, past
    if w.deep_along < SHALLOW * SHALLOW:
        return low, high, past
    start = 1 / (w.radius * w.radius * w.deep_along)
    short_low, short_high, past = bounded(w, kind, load, y, HELD_SHORT)
    if short_high > start:
        short_low = max(short_low, start)
        low = min(low, short_low) if high >= 0 else short_low
        high = max(high, short_high)
    return low, high, past


def bounded(w: Any, kind: Any, load: Any, y: Any, held: Any) -> Any:
    """`window` by one share of the load that is sure to be explained, see `stiffest`.

    Whatever the membrane does, a wave costs its bending energy with the wall free to stretch, D' =
    D - B A^-1 B, so that D'(x, y) <= k work(x, y) with k from `stiffest`: a quadratic inequality.
    Work is that of W, of V (W/n where nothing stretches), of layers away from the skin and of the
    stretch that eccentric ribs see.

    Args:
        w: coefficients of one design.
        kind: COMPRESSION, LATERAL or HYDROSTATIC.
        load: to stay below.
        y: squared circumferential wave number, 1/m2.
        held: that share.
    """
    least = 0.0
    k = stiffest(w, kind, load, 0.0, y, held)
    if not k < np.inf:
        least = unbowed(w, kind, load, y, held)
        if not least < np.inf:
            return 0.0, np.inf, False
        k = stiffest(w, kind, load, least, y, held)
    hoop = max(y - w.in_plane / (w.radius * w.radius), 0.0)  # a ring's curvature: n^2 - 1
    # a x^2 - 2 b x + c <= 0
    b, c, past = 0.0, 0.0, True
    axial = k
    if kind != COMPRESSION:
        axial = k * w.radius / 2 if kind == HYDROSTATIC else 0.0
        c = -k * w.radius * hoop
        past = w.free_22 * hoop >= k * w.radius / 2
    high = w.px / w.k11x
    a = w.free_11 - axial * w.depth * high * high
    if not (k < np.inf and a > 0):
        return 0.0, np.inf, False
    n2 = y * w.radius * w.radius
    deep = (1 + w.depth) * w.deep_along * n2  # see `stiffest`
    if n2 > 0:
        deep += w.in_plane / max(n2, 1.0)
    b = axial * (1 + deep) / 2 - bent_twice(w, y) * hoop
    c += w.free_22 * hoop * hoop
    square = b * b - a * c
    if least > 0:  # longer waves may all buckle below the load
        return 0.0, max((b + np.sqrt(max(square, 0.0))) / a, least), False
    if square < 0:
        return 0.0, -1.0, past
    root = np.sqrt(square)
    return (b - root) / a, (b + root) / a, past and b + root < 0


# --- search over whole waves of one design -------------------------------------------------------


def wave_load(w: Any, kind: Any, x: Any, y: Any) -> Any:
    """Load of one wave under compression or pressure."""
    if kind == COMPRESSION:
        return compression_load(w, x, y)
    return pressure_load(w, x, y, 1.0 if kind == HYDROSTATIC else 0.0)


def loads_along(w: Any, kind: Any, half: Any, y: Any, first: Any, step: Any, loads: Any) -> Any:
    """Loads of the half waves first, first + step, ... along, into ``loads``.

    An array law here; `gridshell.tube.buckling.compiled` loops over the same law.
    """
    x = ((first + step * np.arange(len(loads))) * half) ** 2
    loads[:] = wave_load(w, kind, x, y)


def least_near(w: Any, load: Any, m: Any, reach: Any) -> Any:
    """What no wave within ``reach`` half waves along of one with this load can go below.

    Take the mode of a wave and change its length alone: axial strains go with l^2, hoop strains not
    at all, shears with l, and the work with l^2. So the load of two waves as long as l and s l
    differs by no more than the power `WaveStiffness.steepness` of s.

    Args:
        w: coefficients of one design.
        load: of a wave.
        m: its half waves along.
        reach: half waves, below m.
    """
    return load * (1 - reach / m) ** w.steepness


def lowest_of_one(w: Any, kind: Any, length: Any, near_m: Any, near_n: Any, scratch: Any) -> Any:
    """Lowest load of one design over every whole wave that can win.

    Args:
        w: coefficients of one design.
        kind: COMPRESSION (n = 0, 2, 3, ...; n = 1 is the column), LATERAL or HYDROSTATIC (n >= 2).
        length: m.
        near_m: half waves along of a wave to start from, which only sharpens the first bound.
        near_n: its waves round.
        scratch: from `scratch_of_loads`.

    Returns:
        Load, half waves along, waves round.
    """
    loads, some = scratch[0], scratch[1]
    half, r = np.pi / length, w.radius
    top_m, top_n = max(length / w.shortest, 2.0), max(np.pi * r / w.shortest, 3.0)
    near_m, near_n = min(near_m, np.floor(top_m)), min(near_n, np.floor(top_n))
    best, best_m, best_n = np.inf, near_m, near_n
    loads_along(w, kind, half, (near_n / r) ** 2, near_m, 1.0, loads[:1])
    if loads[0] > 0:
        best = loads[0] * (1 + 1e-9)  # rounding must not hide the winner
    far = least_near(w, 1.0, 2 * LOTS + 1.0, 1.0)  # of every lot: none reaches further
    n = 0.0 if kind == COMPRESSION else 2.0
    while n <= top_n:
        y = (n / r) ** 2
        low, high, last = window(w, kind, best, y)
        if high < 0 and last:
            break
        m, end = 1.0, 0.0
        if high >= 0:
            m = max(np.ceil(np.sqrt(max(low, 0.0)) / half - 1e-9), 1.0)
            end = np.floor(min(np.sqrt(high) / half + 1e-9, top_m))
        while m <= end:
            # Every wave up to 2 LOTS half waves along; beyond, one in the middle of each lot of
            # `step` waves, then the lots that may hold a lower one.
            step = max(np.floor(m / LOTS), 1.0)
            reach = np.floor(step / 2)
            count = int(min(np.floor((end - m) / step) + 1, LOTS if step > 1 else 2 * LOTS - m))
            # A few waves more make whole vectors; each costs a fourth of one by itself.
            centers = loads[: (count + 3) // 4 * 4]
            loads_along(w, kind, half, y, m + reach, step, centers)
            for i in range(count):
                center = m + reach + i * step
                if not centers[i] >= best and center <= end:  # also what is not a number
                    best, best_m, best_n = centers[i], center, n
                    if not best > 0:
                        return best, best_m, best_n
            for i in range(count if step > 1 else 0):
                center = m + reach + i * step
                if centers[i] * far >= best or least_near(w, centers[i], center, reach) >= best:
                    continue
                first, past = center - reach, min(center - reach + step, end + 1)
                while first < past:
                    lot = some[: int(min(past - first, len(some)))]
                    loads_along(w, kind, half, y, first, 1.0, lot)
                    for k in range(len(lot)):
                        if not lot[k] >= best:
                            best, best_m, best_n = lot[k], first + k, n
                            if not best > 0:
                                return best, best_m, best_n
                    first += len(lot)
            m += count * step
        n += 2.0 if n == 0.0 else 1.0
    return best, best_m, best_n


# --- torsion -------------------------------------------------------------------------------------


def factored(s: Any, t: Any, low: Any) -> Any:
    """Cholesky factor of t I - s into ``low``; False when that is not positive definite.

    Args:
        s: symmetric, (HALF, HALF).
        t: number.
        low: (HALF, HALF), filled up to its diagonal.
    """
    for j in range(HALF):
        for i in range(j, HALF):
            left = (t if i == j else 0.0) - s[i, j]
            for k in range(j):
                left -= low[i, k] * low[j, k]
            if i > j:
                low[i, j] = left / low[j, j]
            elif left > 0:
                low[j, j] = np.sqrt(left)
            else:
                return False
    return True


def largest_eigenvalue(s: Any, one: Any, other: Any) -> Any:
    """Largest eigenvalue of a symmetric positive semidefinite matrix.

    The limit from above of trace(s^p)^(1/p), p doubled until the other eigenvalues count no more:
    four or five times where they are half as large, some fifty times where two are equal.

    Args:
        s: (HALF, HALF).
        one: scratch, (HALF, HALF).
        other: scratch, (HALF, HALF).
    """
    trace = 0.0
    for i in range(HALF):
        trace += s[i, i]
    largest, power = trace, 1.0
    for i in range(HALF):
        for j in range(HALF):
            one[i, j] = s[i, j]
    for _ in range(60):
        # What is squared has a trace of 1, so its square has one of 1/k to 1.
        inverse = 1 / trace
        for i in range(HALF):
            for j in range(HALF):
                one[i, j] *= inverse
        trace = 0.0
        for i in range(HALF):
            for j in range(HALF):
                other[i, j] = 0.0
            for k in range(HALF):
                for j in range(HALF):  # row by row: whole vectors
                    other[i, j] += one[i, k] * one[k, j]
            trace += other[i, i]
        power *= 2
        largest *= trace ** (1 / power)
        if 1 - trace < 1e-15 * power:
            break
        one, other = other, one
    return largest


def helix_window(w: Any, load: Any, y: Any) -> Any:
    """Axial wave numbers between which a helix with these waves round may buckle below a load, 1/m.

    As in `window`: D'11 l^4 + 2 (D'12 + 2 D'66) l^2 y + D'22 y^2 <= 2 k l N.

    Args:
        w: coefficients of one design.
        load: shear flow, N/m.
        y: squared circumferential wave number, 1/m2.

    Returns:
        Least and largest. The largest is below zero where no helix does, nor any with more waves
        round.
    """
    least = 0.0
    k = stiffest(w, TORSION, load, 0.0, y, HELD_ELSE)
    if not k < np.inf:
        least = unbowed(w, TORSION, load, y, HELD_ELSE)
        if not least < np.inf:
            return 0.0, np.inf
        k = stiffest(w, TORSION, load, least, y, HELD_ELSE)
    if not k < np.inf:
        return 0.0, np.inf
    hoop = max(y - w.in_plane / (w.radius * w.radius), 0.0)
    k *= 2 * np.sqrt(y) * (1 + w.deep_shear * y * w.radius * w.radius)
    # Where the quotient of energy over l is least: 3 D'11 x^2 + 2 (...) x y - D'22 y^2 = 0.
    mixed, round_it = bent_twice(w, y), w.free_22 * hoop * hoop
    x = hoop * (np.sqrt(mixed * mixed + 3 * w.free_11 * w.free_22) - mixed) / (3 * w.free_11)
    if w.free_11 * x * x + 2 * mixed * x * hoop + round_it > k * np.sqrt(x):
        return 0.0, np.sqrt(least) if least > 0 else -1.0
    # Longer than the hoop bending alone allows; a negative D'12 + 2 D'66 takes from that.
    low = round_it / k if mixed >= 0 and not least > 0 else 0.0
    return low, max(np.cbrt(k / w.free_11), np.sqrt(max(x, least)))


def helices_along(
    w: Any, half: Any, y: Any, first: Any, step: Any, energy: Any, work: Any
) -> Any:
    """`helix` of the half waves first, first + step, ... along, into ``energy`` and ``work``.

    An array law here; `gridshell.tube.buckling.compiled` loops over the same law.
    """
    energy[:], work[:] = helix(w, (first + step * np.arange(len(energy))) * half, y)


def two_helices(
    w: Any, length: Any, n: Any, below: Any, low: Any, most: Any, energy: Any, work: Any
) -> Any:
    """Lowest load of two helices with n waves round over every whole mean wave number, and that.

    Args:
        w: coefficients of one design.
        length: m.
        n: waves round.
        below: load above which the answer does not matter, N/m.
        low: `helix_window` of that load, 1/m.
        most: likewise.
        energy: scratch.
        work: scratch, of the same length.
    """
    half = np.pi / length
    y = (n / w.radius) ** 2
    top_m = max(length / w.shortest, 2.0)
    lot = len(energy) - 2
    best, best_m, skip = np.inf, 1.0, 0.0
    first = max(np.ceil(low / half - 1e-9) - 2, 0.0)  # each helix is the second of one mean
    while True:
        if skip == 0.0:
            # Whole vectors: a few waves more cost little.
            some = int(min(np.floor(min(most / half + 1, top_m)) - first + 1, lot))
            many = min((max(some, 1) + 5) // 4 * 4, lot + 2)
            helices_along(w, half, y, first, 1.0, energy[:many], work[:many])
            for i in range(1, many - 1):
                load = (energy[i - 1] + energy[i + 1]) / max(work[i - 1] + work[i + 1], 1e-300)
                if not load >= best:
                    best, best_m = load, first + i
            first += lot
        else:
            first += skip
        if first <= most / half + 1 and best < below:
            _, most = helix_window(w, best, y)
            below = best
        if not first <= min(most / half + 1, top_m):
            return best, best_m
        # The load of two helices is no lower than the lower of each. Ask one helix ahead how far
        # there is none that could win.
        skip = 0.0
        if first > DENSE:
            reach = np.floor(first / 8)
            middle = first + reach
            helices_along(w, half, y, middle, 1.0, energy[:1], work[:1])
            load = energy[0] / max(work[0], 1e-300)
            if least_near(w, load, middle, reach + 1) >= below:
                skip = 2 * reach


def series_matrix(w: Any, length: Any, y: Any, first: Any, scratch: Any) -> Any:
    """Square of the coupling of odd with even terms of the series of torsion, into the scratch.

    The load is length R/(4 times the largest singular value of the coupling).

    Args:
        w: coefficients of one design.
        length: m.
        y: squared circumferential wave number, 1/m2.
        first: lowest term of the series.
        scratch: from `scratch_of_torsion`.
    """
    energy, work, square, table = scratch[0][:TERMS], scratch[1][:TERMS], scratch[2], scratch[3]
    half = np.pi / length
    helices_along(w, half, y, first, 1.0, energy, work)
    for i in range(TERMS):
        work[i] *= w.radius / (2 * (first + i) * half)  # lean
        energy[i] = np.sqrt(max(energy[i], 1e-150))
    for i in range(HALF):
        for j in range(HALF):
            a, b = 2 * i, 2 * j + 1
            table[i, j] = coupling(first + a, first + b, work[a] + work[b], energy[a] * energy[b])
    for i in range(HALF):
        for j in range(i + 1):
            total = 0.0
            for k in range(HALF):
                total += table[i, k] * table[j, k]
            square[i, j] = square[j, i] = total


def torsion_of_one(w: Any, length: Any, near_n: Any, scratch: Any) -> Any:
    """Lowest shear flow of torsion of one design over every number of waves round that can win.

    For each n two helices find the place of the series among the waves along; the series is summed
    where they come near enough to the lowest load known (`SERIES_FLOOR`).

    Args:
        w: coefficients of one design.
        length: m.
        near_n: waves round to start from, which only sharpens the first bound.
        scratch: from `scratch_of_torsion`.

    Returns:
        Load, half waves along (mean), waves round.
    """
    energy, work, square, table, factor = scratch
    r = w.radius
    top_n = max(np.pi * r / w.shortest, 3.0)
    near_n = min(near_n, np.floor(top_n))
    best, best_m, best_n = np.inf, 1.0, 2.0
    n, start, low, most = near_n, True, 0.0, np.inf
    while n <= top_n:
        y = (n / r) ** 2
        if not start:
            low, most = helix_window(w, best / SERIES_FLOOR, y)
            if most < 0:
                break
            if n == near_n:
                n += 1.0
                continue
        lower, m = two_helices(
            w, length, n, best / SERIES_FLOOR, low=low, most=most, energy=energy, work=work)
        if not lower >= best:  # the helices are an upper bound too
            best, best_m, best_n = lower, m, n
        if not SERIES_FLOOR * lower > best:
            series_matrix(w, length, y, max(m - HALF, 1.0), scratch)
            if not factored(square, (length * r / (4 * best)) ** 2, factor):
                load = length * r / (4 * np.sqrt(largest_eigenvalue(square, factor, table)))
                if not load >= best:
                    best, best_m, best_n = load, m, n
                    if not load > 0:
                        return best, best_m, best_n
        n, start = (2.0, False) if start else (n + 1.0, False)
    return best, best_m, best_n


# --- search over many designs --------------------------------------------------------------------


def design_of(table: Any, i: Any) -> Any:
    """Coefficients of one design out of a table; compiled code has its own."""
    return WaveStiffness(*table[i].tolist())


def scratch_of_loads() -> Array:
    """Working array of `lowest_of_one`."""
    return np.empty((2, 2 * LOTS))


def scratch_of_torsion() -> tuple[Array, ...]:
    """Working arrays of `torsion_of_one`."""
    return (
        np.empty(TERMS + 4), np.empty(TERMS + 4), np.empty((HALF, HALF)), np.empty((HALF, HALF)),
        np.empty((HALF, HALF)),
    )


def lowest_of_many(table: Any, kind: Any, length: Any, found: Any, scratch: Any) -> None:
    """`lowest_of_one` for every row of a table; each design starts from the wave before it.

    Args:
        table: coefficients, (designs, fields of `WaveStiffness`).
        kind: COMPRESSION, LATERAL or HYDROSTATIC.
        length: m, (designs,).
        found: load, half waves along and waves round, (3, designs).
        scratch: from `scratch_of_loads`.
    """
    near_m, near_n = 1.0, 2.0
    for i in range(len(table)):
        load, near_m, near_n = lowest_of_one(
            design_of(table, i), kind, length[i], near_m, near_n, scratch)
        found[0, i], found[1, i], found[2, i] = load, near_m, near_n


def torsion_of_many(table: Any, length: Any, found: Any, scratch: Any) -> None:
    """`torsion_of_one` for every row of a table; arguments as in `lowest_of_many`."""
    near_n = 2.0
    for i in range(len(table)):
        load, m, near_n = torsion_of_one(design_of(table, i), length[i], near_n, scratch)
        found[0, i], found[1, i], found[2, i] = load, m, near_n
