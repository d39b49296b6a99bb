"""Factor of a tube whose deviation of shape is known, wave by wave."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from gridshell.define.types import Array
from gridshell.tube.as_built.limits import Outside, Rings, mesh, sine, uneven
from gridshell.tube.as_built.model import Profile
from gridshell.tube.as_built.path import follow
from gridshell.tube.as_built.perfect import Perfect

THIRD = 0.3  # amplitude over the skin from which the wave 3n is kept too
LEAST = 1e-3  # of the skin: a smaller deviation in the mode itself counts as this much


@dataclass(frozen=True)
class Limit:
    """Highest load with one shape of deviation.

    Attributes:
        factor: over the lowest load of the perfect tube with ends that grow freely.
        kind: limit, bifurcation, watched or none.
        m: half waves along of the shape.
        n: waves round of the shape; 0 for rings.
        amplitude: m.
        into: waves round that it buckles into.
        shortening: of the tube at that load, m; 0 where not kept.
    """

    factor: float
    kind: str
    m: int
    n: int
    amplitude: float
    into: int
    shortening: float = 0.0


def imposed(tube: Perfect, shape: Mapping[tuple[int, int], float], n: int, ends: str,
            outside: bool = True) -> Limit:
    """Factor with a deviation sum a sin(m pi x/L) cos(k t), k of 0, n, 2n, by waves 0 to 2n or 3n.

    Args:
        tube: perfect.
        shape: (half waves along, waves round) -> amplitude, m.
        n: waves round.
        ends: round, clamped or growing.
        outside: whether the states must be stable in waves that are no multiples of n too.
    """
    wall = tube.wall
    size = sum(abs(a) for a in shape.values()) / wall.radius
    short = min(wall.length / max(m for m, _ in shape), 2 * tube.rings)
    model = uneven(wall, mesh(wall.length, short, tube.rings), ends, n, size > THIRD * tube.skin)
    profiles: dict[int, list[Profile]] = {}
    for (m, k), a in shape.items():
        profiles.setdefault(k, []).append(sine(m, wall.length, a / wall.radius))
    summed = {k: _summed(parts) for k, parts in profiles.items()}
    path = follow(model, model.deviation(summed), tube.load)
    load, kind, into = path.load, path.kind, n
    if outside:
        load, other = Outside(model, summed).first(path)
        if other is not None:
            kind, into = "bifurcation", other
    m, k = max(shape, key=lambda wave: abs(shape[wave]))
    return Limit(load / tube.load, kind, m, k, shape[m, k], into,
                 path.points[-1].shortening * wall.radius)


def _summed(parts: list[Profile]) -> Profile:
    def profile(x: Array) -> tuple[Array, Array]:
        found = [part(x) for part in parts]
        return sum(value for value, _ in found), sum(rise for _, rise in found)  # type: ignore

    return profile


def ring_waves(tube: Perfect, m: int, amplitude: float, ends: str) -> Limit:
    """Factor with an axisymmetric deviation: bifurcation into any wave round; worse of both signs.

    Args:
        tube: perfect.
        m: half waves along.
        amplitude: m.
        ends: round, clamped or growing.
    """
    wall = tube.wall
    nodes = mesh(wall.length, min(wall.length / m, 2 * tube.rings), tube.rings)
    low = [wave.n for wave in tube.waves if wave.load < 2.5 * tube.load]
    rings = Rings(wall, nodes, ends, low)
    found = []
    for sign in (1, -1):
        height = sign * amplitude / wall.radius
        load, kind, into = rings.limit(sine(m, wall.length, height), tube.load)
        found.append(Limit(load / tube.load, kind, m, 0, sign * amplitude, into))
        if m % 2 == 0:
            break  # the other sign is the mirror image
    return min(found, key=lambda one: one.factor)
