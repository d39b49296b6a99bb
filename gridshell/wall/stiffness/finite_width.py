"""What fat ribs add to the smeared wall: restraint of the skin, stiff nodes, torsion at the foot.

The handbook smears thin ribs: each is a bar under uniaxial stress from node to node. Cast ribs are
2 to 5 mm wide on a 15 to 40 mm grid, and then three things matter that cost no finite elements:

1. *Strip.* Where a rib stands the skin is thicker, so it stretches, bends and shears less across
   the rib. For parallel ribs this is exact: force and moment across the wall run in series through
   pocket and strip, so the compliance across falls by a length g (per spacing) that depends on the
   cross-section alone. Along the ribs strain is the same everywhere and E A, E I stay exact; the
   rib shares the lateral contraction of the skin, which gives the Poisson terms.
2. *Node.* Ribs that cross make the rib stiffer near the node, as if its length a were shorter by
   k times its width; k depends on the angle of the crossing, on corner radius over width and on
   Poisson's ratio. The Poisson part is exact (the energy of a plane stress state depends on
   Poisson's ratio through the determinant of the stress only, whose integral is fixed by the rib
   forces): two ribs crossing at an angle psi couple by v sin(psi).
3. *Torsion.* A rib joined to the skin along its foot twists with the skin: torsion constant of the
   T, and shear flow in the skin climbs into the foot of the rib.

The shape numbers below are least-squares fits to plane problems solved by finite elements in
`gridshell.proof.plates.strip` and `gridshell.proof.plates.node`; the tests solve some of them
again. Derivation and remaining error: gridshell/proof/README.md.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.wall.geometry.lattice import FamilyLine
from gridshell.wall.geometry.rib_section import RibSection
from gridshell.wall.stiffness.smeared import Entries, symmetric

# A rib's torsion is stiffer near a node: crossing ribs stop the section from leaning over.
# Share per (height / node distance), from solid cells (1.6 to 2.5 over the range).
NODE_TORSION = 2.1
# A skin under the node holds its rounded corners in shear: added node length over corner radius,
# fitted to the solid cells of proof/maps (a plane grid has no skin).
NODE_ON_SKIN = 0.41
SKIN_TO_WIDTH = (0.2, 3.0)
HEIGHT_TO_WIDTH = (0.35, 6.0)
_HOOP_SHARE = (0, 1, 0, 2, 1, 0)  # hoop directions in entries 11, 12, 16, 22, 26, 66


@dataclass(frozen=True)
class StripLengths:
    """How much a rib takes from the compliance of the skin beneath it, as lengths, m.

    Attributes:
        stretch, couple, bend: across the rib; compliance of a wall with ribs at spacing s is
            (1-v2)/(E t) (1 - stretch/s), -(1-v2)/(E t3) couple/s, 12(1-v2)/(E t3) (1 - bend/s);
            ``couple`` is a length times the skin's thickness, m2.
        shear: compliance in shear is (1 - shear/s)/(G t).
        climb: the shear flow acts at a height t climb/s above the skin's middle surface.
        torsion: torsion constant of the rib with its junction, m4 (not a length).
    """

    stretch: Quantity
    couple: Quantity
    bend: Quantity
    shear: Quantity
    climb: Quantity
    torsion: Quantity


def strip_lengths(
    thickness: Quantity,
    section: RibSection,
    fillet: Quantity,
) -> StripLengths:
    """Closed forms for one rib on a skin.

    Fitted to `gridshell.proof.plates.strip` over skin thickness / root width 0.2 to 3, height /
    root width 0.35 to 6 and fillet up to 1.5 root widths: root-mean-square error 3 to 7 % of each,
    20 % (of an effect of a few percent) at worst.

    Args:
        thickness: of the skin, m.
        section: of the rib.
        fillet: radius of the root fillet, m.
    """
    width = section.root_width
    x = thickness / width
    tall = section.height / width
    round_ = fillet / width
    low = np.exp(-2.0 * tall)  # how far a low rib falls short of a tall one

    wide = 1 + 1.25 * round_
    y = x / wide
    stretch = width * wide / (1 + 11.4 * y + 5.03 * y / (y + 0.133)) * (1 - 0.34 * low * low)
    wide = 1 + 1.32 * round_
    y = x / wide
    bend = width * wide / (1 + 0.452 * y + 7.79 * y * y / (1 + 1.80 * y))
    wide = 1 + 1.49 * round_
    y = x / wide
    couple = thickness * width * wide * 11.9 * y / (1 + 7.31 * y + 23.7 * y * y)
    wide = 1 + 1.12 * round_
    shear = width * wide / (1 + 5.70 * x / wide) * (1 - 0.27 * low)
    wide = 1 + 0.805 * round_
    y = x / wide
    climb = width * wide * 0.167 / (y * (1 + 0.302 * y)) * (1 - 0.66 * low)
    # Saint-Venant constant of the stem (drafted), less its one free end, plus the junction,
    # which reads as a stem that goes on through the skin.
    tip, root = section.tip_width, width
    stem = section.height * (tip + root) * (tip * tip + root * root) / 12
    junction = x / 3 + x * x * (0.0576 * x - 0.0272) * (1 - low)
    base = 0.65 + x
    rounding = 0.335 * round_ * round_ * base * base * np.sqrt(base)
    end = 0.206 * (1 - low * low)
    square = width * width
    torsion = stem + square * square * (junction + rounding - end)
    return StripLengths(stretch, couple, bend, shear, climb, torsion)


def strip_stiffness(
    modulus: Quantity, poisson: Quantity, thickness: Quantity, pitch: Quantity, side: float,
    lengths: StripLengths,
) -> tuple[tuple[Quantity, Quantity, Quantity], tuple[Quantity, Quantity, Quantity]]:
    """What one family adds to the skin across its ribs and in shear, beyond E A and E I along them.

    Returns:
        (stretch, coupling, bending) across the ribs in N/m, N, N m, and the same for shear and
        twist, both without the skin's own.
    """
    membrane = modulus * thickness / (1 - poisson**2)
    bending = membrane * thickness**2 / 12
    # Compliance over that of the skin, with moment measured in units of force times t/sqrt(12).
    first = 1 - lengths.stretch / pitch
    second = 1 - lengths.bend / pitch
    cross = -lengths.couple / thickness / pitch / np.sqrt(12.0)
    determinant = first * second - cross * cross
    root = np.sqrt(membrane * bending)
    across = (
        membrane * (second / determinant - 1),
        -side * root * cross / determinant,
        bending * (first / determinant - 1),
    )
    shear = modulus / (2 * (1 + poisson))
    slide = shear * thickness / (1 - lengths.shear / pitch)
    lever = side * thickness * lengths.climb / pitch
    twist = (
        slide - shear * thickness,
        slide * lever,
        slide * lever * lever + shear * lengths.torsion / (4 * pitch),
    )
    return across, twist


def triple_node(rounding: Quantity, poisson: Quantity, slender: Quantity
                ) -> tuple[Quantity, Quantity]:
    """Node lengths k of an isogrid node: all three ribs pulled alike, and in shear.

    Fitted (within 1 % + 0.003) to `gridshell.proof.plates.node` for corner radius / rib width
    (``rounding``) 0 to 4; the Poisson parts are exact. ``slender`` is rib width over node
    distance: in shear the ribs also bend in the plane of the wall.

    >>> even, shear = triple_node(0.0, 0.0, 0.0)
    >>> round(float(even), 3), round(float(shear), 3)
    (0.208, 0.515)
    """
    even = 0.2085 + rounding * (1.741 + 0.2446 * rounding / (1 + 0.146 * rounding))
    shear = 0.5155 + rounding * (0.7453 + 1.4927 * rounding / (1 + 0.7437 * rounding))
    root3 = np.sqrt(3.0)
    return even + root3 * poisson, shear - root3 / 2 * poisson + 2.9 * slender


def crossing_node(rounding: Quantity, poisson: Quantity, sine: Quantity
                  ) -> tuple[Quantity, Quantity]:
    """Node lengths k of two ribs that cross: of a rib on itself, and of one on the other.

    Fitted (within 0.02) to `gridshell.proof.plates.node` for crossings of 45 to 90 deg and corner
    radius / rib width 0 to 2. ``sine`` is that of the angle between the ribs.

    >>> own, other = crossing_node(0.0, 0.3, 1.0)
    >>> round(float(own), 3), round(float(other), 3)
    (0.141, 0.361)
    """
    c2 = np.maximum(1 / (sine * sine) - 1, 0.0)
    c1 = np.sqrt(c2)
    r = rounding
    own = (0.1414 + 0.079 * c2 + r * (0.3451 - 0.0055 * c1 + 0.0558 * c2)
           + r * r / (1 + 0.2509 * r) * (0.3286 - 0.5022 * c1 + 0.4607 * c2))
    other = (0.0615 - 0.9471 * c2 + 0.2472 * c2 * c2
             + r / (1 + 1.0228 * r) * (0.2519 - 0.3788 * c1 - 0.1843 * c2)
             + r * r * (0.1405 * c2 - 0.0068))
    return own, other + poisson * sine


def crossing_sway(rounding: Quantity, sine: Quantity, slender: Quantity) -> Quantity:
    """Stiffness of crossing ribs against a change of their angle, over E A/(pitch).

    The ribs bend in the plane of the wall like columns of a frame with stiff joints: (b/a)^2/4 for
    a free length a, which the node shortens by k b. k is fitted (within 0.1) to
    `gridshell.proof.plates.node` for crossings of 50 to 90 deg. Arguments as in `crossing_node`;
    ``slender`` is rib width over node distance.

    >>> round(float(crossing_sway(0.0, 1.0, 0.1)) / (0.1**2 / 4), 2)
    1.09
    """
    c2 = np.maximum(1 / (sine * sine) - 1, 0.0)
    c1 = np.sqrt(c2)
    k = (0.285 + 0.35 * c1 + 0.72 * c2
         + rounding * (1.2 + 1.09 * c1 + 1.54 * c2 + 0.1 * rounding))
    free = np.maximum(1 - k * slender, 0.4)  # beyond that the rib is all node
    return slender * slender / 4 / (free * free * free)


def _products(vector: tuple[Quantity, Quantity, Quantity]) -> tuple[Quantity, ...]:
    """Entries 11, 12, 16, 22, 26, 66 of the product of a vector with itself."""
    x, y, z = vector
    return x * x, x * y, x * z, y * y, y * z, z * z


def _node_gains(
    pattern: str, lines: Sequence[FamilyLine], width: Quantity, radius: Quantity,
    poisson: Quantity, node_area: Quantity,
) -> list[Quantity]:
    """Gain of rib forces over bars from node to node: six entries, per rib section, 1/m."""
    rounding = radius / width
    # Each node has one rib of every family, so node distance = area of a node / pitch.
    slender = [width * line.pitch / node_area for line in lines]
    sways: list[Quantity] = []
    if pattern == "isogrid":
        mean = sum(slender) / 3

        def gains_at(narrow: Quantity) -> tuple[Quantity, Quantity]:
            even, shear = triple_node(rounding, poisson, narrow)
            shear = shear + NODE_ON_SKIN * rounding
            return 1 / (1 - even * narrow) - 1, 1 / (1 - shear * narrow) - 1

        # sum over i of own, over i != j of other, of pull_i pull_j / sqrt(pitch_i pitch_j): even
        # pull; and sway of the ribs for shear, which in a regular grid is the same tensor as
        # their pull and in a stretched one, by solid cells, is the better one. Ribs shorter than
        # the mean of a stretched grid are more of a node than longer ones.
        gain_even, gain_shear = gains_at(mean)
        other = gain_even / 3
        alone = []
        for narrow in slender:
            one, two = gains_at(narrow)
            alone.append((one + 2 * two) / 3 - (gain_even + 2 * gain_shear) / 3)
        sways = [gain_shear / 4] * 3
    else:
        first, second = lines
        sine = np.abs(first.cosine * second.sine - first.sine * second.cosine)
        on_self, on_other = crossing_node(rounding, poisson, sine)
        left = [1 - on_self * x for x in slender]
        cross = on_other * on_other * slender[0] * slender[1]
        determinant = left[0] * left[1] - cross
        other = on_other * np.sqrt(slender[0] * slender[1]) / determinant
        alone = [left[1] / determinant - 1 - other, left[0] / determinant - 1 - other]
        sways = [crossing_sway(rounding, sine, x) for x in slender]
    pulls = [(line.cosine * line.cosine, line.sine * line.sine, line.cosine * line.sine)
             for line in lines]
    scales = [1 / np.sqrt(line.pitch) for line in lines]
    # Every pattern here is its own mirror image: nothing in 16 and 26.
    joint = [sum(scale * pull[i] for scale, pull in zip(scales, pulls, strict=True))
             for i in range(2)]
    gains = [other * product for product in _products((joint[0], joint[1], 0.0))]
    gains[2] = gains[4] = 0.0
    gains[5] = 0.0 * other
    for scale, pull, gain in zip(scales, pulls, alone, strict=True):
        gain = gain * scale * scale
        for n, product in enumerate(_products(pull)):
            if n not in (2, 4):
                gains[n] = gains[n] + gain * product
    for line, scale, sway in zip(lines, scales, sways, strict=bool(sways)):
        cs = line.cosine * line.sine
        turn = line.cosine * line.cosine - line.sine * line.sine
        slanted = _products((-2 * cs, 2 * cs, turn))
        for n in (0, 1, 3, 5):
            gains[n] = gains[n] + sway * scale * scale * slanted[n]
    return gains


def _is_zero(value: Quantity) -> bool:
    return np.ndim(value) == 0 and bool(value == 0)


def _mirrored(
    lines: Sequence[FamilyLine], sections: Sequence[RibSection]
) -> list[tuple[FamilyLine, RibSection, int]]:
    """Families with how often each counts: a pair of mirror images is done once."""
    found: list[tuple[FamilyLine, RibSection, int]] = []
    skip = False
    for index, (line, section) in enumerate(zip(lines, sections, strict=True)):
        if skip:
            skip = False
            continue
        if index + 1 < len(lines) and section is sections[index + 1]:
            after = lines[index + 1]
            skip = bool(
                np.all(after.cosine == line.cosine) and np.all(after.sine == -line.sine)
                and np.all(after.pitch == line.pitch)
            )
        found.append((line, section, 2 if skip else 1))
    return found


def corrections(
    modulus: Quantity,
    poisson: Quantity,
    thickness: Quantity,
    side: float,
    pattern: str,
    lines: Sequence[FamilyLine],
    sections: Sequence[RibSection],
    root_fillet: Quantity,
    corner_radius: Quantity,
    draft: Quantity,
    node_area: Quantity,
) -> tuple[Array, Array, Array]:
    """Additions to the smeared A, B and D of `gridshell.wall.stiffness.smeared` for fat ribs.

    Args:
        modulus, poisson: of the material, Pa.
        thickness: of the skin, m.
        side: +1 for ribs outside, -1 inside.
        pattern: of the ribs; "families" has no known nodes and gets no node term.
        lines: the rib families.
        sections: rib section of each.
        root_fillet, corner_radius: m; the radius is at the skin and grows with the draft.
        draft: rad.
        node_area: wall area per node of the grid, m2 (isogrid: row height times rib length).
    Returns:
        A (N/m), B (N), D (N m) to add, each (..., 3, 3), about the skin's middle surface.
    """
    if not lines:
        none = np.zeros((*np.shape(modulus * thickness), 3, 3))
        return none, none, none
    shear_modulus = modulus / (2 * (1 + poisson))
    # Rows A, B, D; entries 11, 12, 16, 22, 26, 66.
    total: list[list[Quantity]] = [[0.0] * 6 for _ in range(3)]
    lengths, of_section = None, None
    for line, section, times in _mirrored(lines, sections):
        if lengths is None or section is not of_section:
            lengths, of_section = strip_lengths(thickness, section, root_fillet), section
        held = lengths
        if pattern != "families":
            more = 1 + NODE_TORSION * section.height * line.pitch / node_area
            held = replace(lengths, torsion=lengths.torsion * more)
        lateral, twist = strip_stiffness(modulus, poisson, thickness, line.pitch, side, held)
        handbook = shear_modulus * section.torsion / (4 * line.pitch)
        slid = (twist[0], twist[1], twist[2] - handbook)
        c, s = line.cosine, line.sine
        cc, ss, cs = c * c, s * s, c * s
        # Strain across plus v times strain along is what the strip resists.
        resisted = _products((ss + poisson * cc, cc + poisson * ss, (poisson - 1) * cs))
        slanted = _products((-2 * cs, 2 * cs, cc - ss))
        for factors, products in ((lateral, resisted), (slid, slanted)):
            for n, product in enumerate(products):
                # Mirror images cancel in 16 and 26; ribs along an axis have no part in some.
                if (times == 2 and n in (2, 4)) or _is_zero(product):
                    continue
                product = times * product
                for k in range(3):
                    total[k][n] = total[k][n] + factors[k] * product
    if pattern != "families":
        at_nodes = node_stiffness(
            modulus, poisson, thickness, side, pattern, lines, sections[0], corner_radius,
            draft, node_area,
        )
        for n in range(6):
            for k in range(3):
                total[k][n] = total[k][n] + at_nodes[k][n]
    A, B, D = (symmetric(tuple(entries)) for entries in total)
    return A, B, D


def node_stiffness(
    modulus: Quantity,
    poisson: Quantity,
    thickness: Quantity,
    side: float,
    pattern: str,
    lines: Sequence[FamilyLine],
    section: RibSection,
    corner_radius: Quantity,
    draft: Quantity,
    node_area: Quantity,
    growth: Quantity = 1.0,
) -> tuple[Entries, Entries, Entries]:
    """Entries of A, B and D that stiff nodes add, as six entries each.

    These patterns have one rib section, so the gain of the grid multiplies its moments as they
    stand. ``growth`` is the radius of the ribs over that of the reference surface: the grid has
    other angles and node distances there, its area is larger by ``growth``, and hoop curvature
    strains it by k_t z/growth, less what their Poisson contraction takes (see
    `gridshell.wall.stiffness.smeared.family_entries`).

    Args: as for `corrections`.
    """
    grown = not (np.ndim(growth) == 0 and growth == 1.0)
    if grown:
        turned = []
        for line in lines:
            length = np.sqrt(line.cosine**2 + (line.sine * growth) ** 2)
            turned.append(replace(
                line, cosine=line.cosine / length, sine=line.sine * growth / length,
                pitch=line.pitch * growth / length,
            ))
        lines, node_area = turned, node_area * growth
    middle = corner_radius + section.height / 2 * np.tan(draft)
    gains = _node_gains(
        pattern, lines, section.mean_width, middle, poisson, node_area
    )
    offset = side * (thickness / 2 + section.centroid)
    stretch, bend = modulus * section.area, modulus * section.inertia
    found: tuple[Entries, Entries, Entries] = ([0.0] * 6, [0.0] * 6, [0.0] * 6)
    for n, gain in enumerate(gains):
        if _is_zero(gain):
            continue
        hoop = _HOOP_SHARE[n]  # how often the entry multiplies a hoop curvature
        lever, own = stretch * offset, bend
        pull, doubly = stretch, lever * offset
        if grown:
            gain = gain * growth
            lower = poisson * (growth - 1)
            once, half = 1 - lower, 1 - lower / 2
            pull = stretch * once**hoop
            lever = lever * ((half / growth + once) / 2 if hoop == 1
                             else (once * half / growth) ** (hoop / 2))
            doubly, own = doubly * (half / growth) ** hoop, own * (once / growth**2) ** hoop
        found[0][n] = pull * gain
        found[1][n] = lever * gain
        found[2][n] = (doubly + own) * gain
    return found
