"""Heat from melt to mold: contact temperature, cooling of a slab, and a mold that warms up."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.material.properties import Properties
from gridshell.thermal.heat.network import Builder, Network, constant_solid

GIVE_UP = 6 * 3600.0  # s
_PART_CELLS, _MOLD_CELLS = 10, 24


def effusivity(conductivity: Quantity, density: Quantity, heat_capacity: Quantity) -> Quantity:
    """sqrt(k rho c), J/(m2 K s^0.5): how firmly a body holds its temperature in a touch.

    Args:
        conductivity: k, W/(m K).
        density: rho, kg/m3.
        heat_capacity: c, J/(kg K).
    """
    return np.sqrt(np.asarray(conductivity) * density * heat_capacity)


def contact_temperature(
    first: Quantity, first_temperature: Quantity, second: Quantity, second_temperature: Quantity
) -> Quantity:
    """Temperature at once reached where two thick bodies touch, the mean weighted by effusivity.

    (e1 T1 + e2 T2)/(e1 + e2): Incropera and DeWitt, Fundamentals of Heat and Mass Transfer,
    Section 5.7 (semi-infinite solids in contact). It holds until heat has crossed the thinner one.

    Args:
        first: effusivity e1.
        first_temperature: T1, K.
        second: effusivity e2.
        second_temperature: T2, K.

    Skin of 35 degC and effusivity 1.1 on aluminum (24) or wood (0.38 kJ/(m2 K s^0.5)) at 15 degC,
    a textbook example (Cengel, Heat and Mass Transfer, chapter 4; from memory: 15.9 and 30 degC):

    >>> [round(float(contact_temperature(1.1, 35.0, e, 15.0)), 1) for e in (24.0, 0.38)]
    [15.9, 29.9]
    """
    first = np.asarray(first, dtype=float)
    return (first * first_temperature + second * second_temperature) / (first + second)


def slab_cooling_time(
    thickness: Quantity, diffusivity: Quantity, start: Quantity, wall: Quantity,
    release: Quantity, mean: bool = False,
) -> Quantity:
    """Time for a slab between two walls of steady temperature to cool to a release temperature, s.

        t = s^2/(pi^2 a) ln( 4/pi (T0 - Tw)/(Te - Tw) )

    with 8/pi^2 instead of 4/pi for the mean over the thickness instead of the middle: first term
    of the series, Carslaw and Jaeger, Section 3.3; the cooling-time equation of injection
    molding. Good from a t/s^2 = 0.05 up, that is once the middle has begun to cool.

    Args:
        thickness: s, m.
        diffusivity: a, m2/s.
        start: T0, K.
        wall: Tw, K.
        release: Te, K.
        mean: for the mean over the thickness instead of the middle.

    Returns:
        infinite where the wall is not colder than the release temperature.

    Middle at one half of the difference: a t/(s/2)^2 = 0.3788 (the series; Incropera's table for
    the plane wall has C1 = 1.2733 and zeta1 = 1.5708 at infinite Biot number):

    >>> round(float(slab_cooling_time(2.0, 1.0, 1.0, 0.0, 0.5)), 4)
    0.3788
    """
    factor = 8 / np.pi**2 if mean else 4 / np.pi
    release, wall = np.asarray(release, dtype=float), np.asarray(wall, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = factor * (start - wall) / (release - wall)
        time = np.asarray(thickness) ** 2 / (np.pi**2 * diffusivity) * np.log(ratio)
    return np.where(release > wall, np.maximum(time, 0.0), np.inf)


@dataclass(frozen=True)
class Lining:
    """A wall of another material on the other side of the slab, such as a rubber insert.

    What is behind it is taken as still air, though a rigid half carries off more: times are then
    the longest.

    Attributes:
        properties: of its material.
        thickness: m.
        round_it: (places,) True where the slab has it on both sides, as a rib in its groove.
    """

    properties: Properties
    thickness: float
    round_it: np.ndarray


@dataclass(frozen=True)
class Cooling:
    """Middle of a slab and face of the mold over time, both (steps, ...), K, at ``time`` s.

    Attributes:
        time: (steps,) s.
        middle: (steps, ...) temperature of the middle of the slab, K; with a lining on one side
            that of its hottest place.
        face: (steps, ...) temperature of the mold's face, K.
        released: (...) when the middle is down to the release temperature, s; NaN if not within
            the time followed.
    """

    time: Array
    middle: Array
    face: Array
    released: Array


def follow_cooling(
    thickness: Quantity, part: Properties, molds: Sequence[Properties], mold_wall: Quantity, *,
    start: float, mold_temperature: float, release: float, heat_transfer: float,
    air: float | None = None, lining: Lining | None = None,
) -> Cooling:
    """Follow a slab of melt between two mold walls, which warm up and lose heat to the air.

    One-dimensional, perfect contact, constant properties, symmetric about the slab's middle unless
    there is a lining; no heat of melting or cure. Finite volumes of `thermal.heat.network`
    cuts them; with constant properties the network is linear, so its modes give it exactly at any
    time.

    Args:
        thickness: of the slab, (places,) m.
        part: material of the slab.
        molds: materials of the walls.
        mold_wall: thickness of each wall, m; may differ by (molds, places).
        start: temperature of the melt, K.
        mold_temperature: of the mold when poured, K.
        release: temperature to wait for, K.
        heat_transfer: outside of the mold, W/(m2 K).
        air: K; the mold's temperature if left out.
        lining: on the other side, in place of the mold; None: the mold is on both sides.

    Returns:
        arrays over (molds, places).
    """
    air = mold_temperature if air is None else air
    column = [np.array([getattr(m, key) for m in molds], float)[:, None]
              for key in ("conductivity", "density", "heat_capacity")]
    k_part, c_part = float(part.conductivity), float(part.density * part.heat_capacity)
    half = np.asarray(thickness, float)[None, :] / 2
    to_face = np.diff(1 - (1 - np.linspace(0, 1, _PART_CELLS + 1)) ** 2)  # fine towards the face
    from_face = np.diff(np.linspace(0, 1, _MOLD_CELLS + 1) ** 2)
    front = _Layer(from_face, np.asarray(mold_wall), column[0], column[1] * column[2])
    inner = _Layer(to_face, half, k_part, c_part)
    own = effusivity(part.conductivity, part.density, part.heat_capacity)
    touch = contact_temperature(own, start, effusivity(*column), mold_temperature)
    layers = [inner, front]
    if lining is not None:
        rubber = lining.properties
        values = [float(getattr(rubber, key))
                  for key in ("conductivity", "density", "heat_capacity")]
        back = _Layer(from_face[::-1], lining.thickness, values[0], values[1] * values[2])
        behind = contact_temperature(own, start, effusivity(*values), mold_temperature)
        both = np.asarray(lining.round_it, bool)
        front = _Layer(from_face, *(np.where(both, there, here) for there, here in zip(
            (back.depth, back.conductivity, back.capacity),
            (front.depth, front.conductivity, front.capacity), strict=True)))
        touch = np.where(both, behind, touch)
        layers = [back, dataclasses.replace(inner, shares=to_face[::-1]), inner, front]
    network = _row(layers)
    ends = np.cumsum([0, *(len(layer.shares) for layer in layers)])
    interface = int(ends[-2])
    inside = slice(int(ends[0 if lining is None else 1]), interface + 1)
    begin = np.full((len(molds), half.shape[1], network.count), float(mold_temperature))
    begin[..., inside] = start
    begin[..., interface] = touch
    if lining is not None:
        begin[..., inside.start] = behind
    rates, shapes, weights = _modes(network, begin - air, heat_transfer, both=lining is not None)

    def at(node: int | slice, time: Array) -> Array:
        """Temperature of a node (the hottest of several) at times (steps, ...)."""
        decay = np.exp(-rates * time[..., None]) * weights
        if isinstance(node, int):
            return np.asarray(air + np.sum(shapes[..., node, :] * decay, axis=-1))
        return np.asarray(air + np.einsum(
            "...nm,...m->...n", shapes[..., node, :], decay).max(axis=-1))

    hottest: int | slice = 0 if lining is None else inside
    smallest = float(half.min()) ** 2 * c_part / k_part
    time = np.concatenate([[0.0], np.geomspace(1e-3 * smallest, GIVE_UP, 300)])
    spread = time[:, None, None]
    middle, face = at(hottest, spread), at(interface, spread)
    return Cooling(
        time, middle, face, _first_below(time, middle, release, lambda t: at(hottest, t)))


@dataclass(frozen=True)
class _Layer:
    """One layer of a row of cells: shares of its depth, depth (m), W/(m K), J/(m3 K)."""

    shares: Array
    depth: Quantity
    conductivity: Quantity
    capacity: Quantity


def _row(layers: Sequence[_Layer]) -> Network:
    """Nodes one behind the other through layers, for a face of one square meter."""
    # One network for every material: unit properties, the real ones in areas and volumes.
    unit = constant_solid("unit", 1.0, 1.0, 1.0)
    builder = Builder()
    here = builder.node()
    for layer in layers:
        for share in layer.shares:
            after, step = builder.node(), layer.depth * share
            builder.conductor(here, after, unit, layer.conductivity / step,
                              layer.capacity * step / 2, layer.capacity * step / 2)
            here = after
    return builder.build()


def _modes(
    network: Network, above: Array, heat_transfer: float, both: bool = False
) -> tuple[Array, Array, Array]:
    """Decay rates (..., n), mode shapes (..., n, n) and weights (..., n) of a linear network.

    The network loses heat at its last node, or at ``both`` ends; ``above`` (..., n) is what it
    starts with above the air's temperature.
    """
    count = network.count
    incidence = np.zeros((len(network.ends), count))
    incidence[np.arange(len(network.ends)), network.ends[:, 0]] = 1.0
    incidence[np.arange(len(network.ends)), network.ends[:, 1]] = -1.0
    matrix = (incidence.T * network.shape[..., None, :]) @ incidence
    matrix[..., -1, -1] += heat_transfer
    if both:
        matrix[..., 0, 0] += heat_transfer
    # Made symmetric by the roots of the capacities.
    root = np.sqrt(network.node_volume().sum(axis=-2))
    rates, vectors = np.linalg.eigh(matrix / root[..., :, None] / root[..., None, :])
    shapes = vectors / root[..., :, None]
    weights = np.einsum("...ij,...i->...j", vectors, root * above)
    return np.maximum(rates, 0.0), shapes, weights


def _first_below(
    time: Array, value: Array, limit: float, at: Callable[[Array], Array]
) -> Array:
    """When a falling value (steps, ...) first comes down to a limit; NaN if never."""
    below = value <= limit
    first = np.argmax(below, axis=0)
    low, high = time[np.maximum(first - 1, 0)], time[first]
    for _ in range(40):
        half = (low + high) / 2
        over = at(half) > limit
        low, high = np.where(over, half, low), np.where(over, high, half)
    return np.where(below.any(axis=0), high, np.nan)
