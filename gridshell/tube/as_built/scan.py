"""The scan of a finished tube: its file, a form to fill in, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from gridshell.define.errors import Problem, Problems
from gridshell.define.files.readings import Column, column, read_sheet
from gridshell.define.tables.design import Design
from gridshell.define.types import Array

# Bounds keep slips of a unit out. Reading error: standard uncertainty of a dial gauge on a mandrel
# or between centers (common practice, no source).
SETTINGS: Mapping[str, Column] = {
    "mass": column("mass", "of the finished tube as weighed", least=1e-6, most=1e6),
    "bow": column("length", "greatest distance of the axis from a straight line between its ends; "
                  "from the stations if left out", least=0.0, most=10.0),
    "reading_error": column("length", "of one radius reading; 0.02 mm if left out", least=0.0,
                            most=1.0),
}
DEFAULT_ERROR = 2e-5  # m
COLUMNS: Mapping[str, Column] = {
    "station": column("length", "distance from one end of the tube", least=0.0, most=1000.0),
    "angle": column("angle", "round the tube from a mark along it", least=-2 * np.pi,
                    most=4 * np.pi),
    "deviation": column("length", "radius less an even one, outward positive; any even part is "
                        "taken out", least=-10.0, most=10.0),
    "radius": column("length", "instead of deviation: radius of the outer surface", above=0.0,
                     most=100.0),
    "thickness": column("length", "of the skin there, where measured", least=1e-6, most=1.0),
}
LEAST_ANGLES = 7  # at a station: waves 0 to 2 have five numbers, and two must be left to judge by
_SAME_ANGLE = np.radians(0.5)
MOST_OFF = 0.02  # of the radius: a mean radius farther off is another tube's
MOST_DEVIATION = 0.1  # of the radius


@dataclass(frozen=True)
class Scan:
    """Readings of one tube.

    Attributes:
        source: name of the file.
        station: (n,) m from one end, of each radius reading.
        angle: (n,) rad, 0 to 2 pi.
        deviation: (n,) m, outward; the even part is still in it.
        line: (n,) of the file.
        thickness: (k,) of the skin, m.
        mass: of the tube, kg; None if not weighed.
        bow: of the axis, m; None: from the stations.
        error: standard uncertainty of one reading, m.
    """

    source: str
    station: Array
    angle: Array
    deviation: Array
    line: Array
    thickness: Array
    mass: float | None
    bow: float | None
    error: float

    @property
    def stations(self) -> Array:
        """Different stations, m."""
        return np.unique(self.station)


def read_scan(path: str | Path, design: Design) -> Scan:
    """Read a scan; see `gridshell.define.files.readings` for the form of the file.

    Cells without a reading are left out. A radius is made a deviation by taking off the radius of
    the design's outer surface.

    Args:
        path: of the file.
        design: the tube that was scanned.
    Raises:
        DefinitionError: with every problem found, each with its line.
    """
    sheet = read_sheet(path, "scan of a tube (CSV)", COLUMNS, SETTINGS)
    problems = sheet.problems
    known = [name for name in ("deviation", "radius") if name in sheet.headings]
    if not {"station", "angle"} <= sheet.headings or len(known) != 1:
        problems.add("", "needs columns station, angle and one of deviation, radius")
    sheet.refuse()
    length = float(design.tube.length)
    rows, thin = [], []
    for number, row in sheet.rows:
        if "thickness" in row:
            thin.append(float(row["thickness"]))
        if known[0] not in row:
            continue
        if "station" not in row or "angle" not in row:
            problems.add(f"line {number}", "has a reading without station or angle")
            continue
        if float(row["station"]) > length * (1 + 1e-6):
            problems.add(
                f"line {number}", f"station {float(row['station']) * 1e3:.5g} mm lies beyond the "
                f"tube's length of {length * 1e3:.5g} mm")
            continue
        rows.append((float(row["station"]), float(row["angle"]) % (2 * np.pi),
                     float(row[known[0]]), number))
    sheet.refuse()
    if not rows:
        problems.add("", f"has no {known[0]} filled in")
    sheet.refuse()
    station, angle, value, line = np.array(rows, float).T
    station = _gathered(station, 1e-3 * length)
    if known[0] == "radius":
        value = value - float(design.tube.outside_diameter) / 2
    problems += _off(value, design, known[0])
    problems += _doubled(station, angle, line)
    problems += _few(station, angle)
    problems += _thickness(np.array(thin), design)
    sheet.refuse()
    stated = {name: float(number) for name, number in sheet.settings.items()}
    return Scan(
        str(path), station, angle, value, line=line.astype(int), thickness=np.array(thin),
        mass=stated.get("mass"), bow=stated.get("bow"),
        error=stated.get("reading_error", DEFAULT_ERROR),
    )


def _gathered(station: Array, within: float) -> Array:
    """Stations that differ by less than a slip of the ruler are one."""
    order = np.argsort(station, kind="stable")
    found = station.copy()
    first = -np.inf
    for k in order:
        if station[k] - first > within:
            first = station[k]
        found[k] = first
    return found


def _off(value: Array, design: Design, name: str) -> list[Problem]:
    radius = float(design.tube.outside_diameter) / 2
    middle = float(np.median(value))
    if abs(middle) > MOST_OFF * radius:
        hint = ""
        if name == "radius" and abs(middle - radius) < 0.1 * radius:
            hint = "; are they diameters?"
        elif name == "deviation" and abs(middle - radius) < 0.1 * radius:
            hint = "; are they radii? Then head the column 'radius'"
        return [Problem(name, f"the middle reading is {middle * 1e3:+.4g} mm off the design's "
                        f"outer radius of {radius * 1e3:.5g} mm, more than {MOST_OFF:.0%}: another "
                        f"tube, or another unit{hint}")]
    far = float(np.abs(value - middle).max())
    if far > MOST_DEVIATION * radius:
        return [Problem(name, f"a reading is {far * 1e3:.4g} mm off the others, more than "
                        f"{MOST_DEVIATION:.0%} of the radius: not a tube that was meant to be "
                        "round")]
    return []


def _doubled(station: Array, angle: Array, line: Array) -> list[Problem]:
    problems = Problems()
    for place in np.unique(station):
        here = np.flatnonzero(station == place)
        here = here[np.argsort(angle[here], kind="stable")]
        gaps = np.diff(np.append(angle[here], angle[here[0]] + 2 * np.pi))
        for k in np.flatnonzero(gaps < _SAME_ANGLE) if len(here) > 1 else []:
            a, b = sorted((int(line[here[k]]), int(line[here[(k + 1) % len(here)]])))
            problems.add(
                f"line {b}", f"station {place * 1e3:.5g} mm, angle "
                f"{np.degrees(angle[here[k]]):.4g} deg is given on line {a} too (0 and 360 deg "
                "are one angle); keep one")
    return problems


def _few(station: Array, angle: Array) -> list[Problem]:
    problems = Problems()
    for place in np.unique(station):
        count = int(np.sum(station == place))
        if count < LEAST_ANGLES:
            problems.add(
                f"station {place * 1e3:.5g} mm", f"has {count} readings round; at least "
                f"{LEAST_ANGLES} are needed to tell an oval from a misread")
    return problems


def _thickness(thickness: Array, design: Design) -> list[Problem]:
    if not len(thickness):
        return []
    stated, mean = float(design.skin.thickness), float(np.mean(thickness))
    if not 0.5 < mean / stated < 2:
        return [Problem("thickness", f"mean {mean * 1e3:.4g} mm, but skin.thickness is "
                        f"{stated * 1e3:.4g} mm: measured over a rib, or another unit?")]
    return []


def scan_form(design: Design, stations: int = 7, angles: int = 24) -> str:
    """A form to fill in: heading, settings and one row for each reading.

    Args:
        design: the tube.
        stations: even along, the ends left out.
        angles: even round.
    """
    length = float(design.tube.length)
    lines = [
        "# Scan of the finished tube: fill in what was measured, leave the rest empty.",
        "# deviation: dial gauge, outward positive; any even part is taken out.",
        "# thickness: of the skin, where a caliper reaches.",
        "# mass: ", "# bow: ", "# reading_error: 0.02 mm",
        "station [mm], angle [deg], deviation [mm], thickness [mm]",
    ]
    lines[3:5] = ["# remove the first # of a line below to state it", "## mass: 0.5 kg",
                  "## bow: 0.4 mm"]
    for k in range(stations):
        place = length * 1e3 * (k + 0.5) / stations
        lines += [f"{place:.1f}, {360 * j / angles:g}, , " for j in range(angles)]
    return "\n".join(lines) + "\n"
