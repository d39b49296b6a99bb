"""Plates: several printed pieces side by side on one bed, as one 3MF.

The meshes are those of the pieces' own files, moved but not turned; shelves from the front of the
bed to its back, deep pieces first (the usual first-fit packing of rectangles by decreasing depth).
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from gridshell.mold.files.threemf import write_model

GAP = 5.0  # mm between two pieces and round the plate (common practice, no source)
_POINT = re.compile(r'<vertex x="([^"]+)" y="([^"]+)"')
_OBJECT = re.compile(r'<object id="1".*?</object>', re.S)


@dataclass(frozen=True)
class Footprint:
    """A piece on the bed.

    Attributes:
        name: of the piece, and of its 3MF file.
        wide: along the bed's first side, mm.
        deep: along its second, mm.
        corner: (x, y) of its lower corner in its own file, mm.
        copies: how many are printed.
    """

    name: str
    wide: float
    deep: float
    corner: tuple[float, float]
    copies: int = 1


@dataclass(frozen=True)
class Placed:
    """One copy of a piece on a plate: its lower corner, mm.

    Attributes:
        piece: what is placed.
        x: along the bed's first side, mm.
        y: along its second, mm.
    """

    piece: Footprint
    x: float
    y: float


def packed(pieces: Sequence[Footprint], bed: Sequence[float]) -> list[list[Placed]]:
    """The plates, each a list of placed pieces; a piece wider than the bed is left out.

    Args:
        pieces: with their copies.
        bed: sides of the bed, mm; the first two count.

    >>> [[(p.piece.name, p.x, p.y) for p in plate] for plate in packed(
    ...     [Footprint("core", 60, 40, (0, 0)), Footprint("ring", 30, 30, (0, 0), 2)], (120, 90))]
    [[('core', 5.0, 5.0), ('ring', 70.0, 5.0), ('ring', 5.0, 50.0)]]
    """
    wide, deep = float(bed[0]), float(bed[1])
    plates: list[list[Placed]] = []
    shelves: list[list[list[float]]] = []  # of each plate: [y, depth, next free x]
    copies = [piece for piece in pieces for _ in range(piece.copies)]
    for piece in sorted(copies, key=lambda one: -one.deep):
        # Without room for a gap a piece may still stand alone, from edge to edge.
        gap = [min(GAP, (side - own) / 2) for side, own in (
            (wide, piece.wide), (deep, piece.deep))]
        if min(gap) < 0:
            continue
        for plate, rows in zip(plates, shelves, strict=True):
            row = next((row for row in rows if row[2] + piece.wide + GAP <= wide
                        and piece.deep <= row[1]), None)
            back = rows[-1][0] + rows[-1][1] + GAP
            if row is None and back + piece.deep + GAP <= deep and piece.wide + 2 * GAP <= wide:
                row = [back, piece.deep, GAP]
                rows.append(row)
            if row is not None:
                plate.append(Placed(piece, row[2], row[0]))
                row[2] += piece.wide + GAP
                break
        else:
            plates.append([Placed(piece, gap[0], gap[1])])
            shelves.append([[gap[1], piece.deep, gap[0] + piece.wide + GAP]])
    return plates


def plate_names(count: int) -> list[str]:
    """Names of the files of plates.

    Args:
        count: of plates.
    """
    return [f"plate-{number}.3mf" for number in range(1, count + 1)]


def write_plates(folder: Path, plates: Sequence[Sequence[Placed]]) -> list[str]:
    """Write each plate from the 3MF files of its pieces; names of the files.

    Args:
        folder: where those files are.
        plates: from `packed`.
    """
    names = plate_names(len(plates))
    for name, plate in zip(names, plates, strict=True):
        objects, items = [], []
        for number, placed in enumerate(plate, start=1):
            piece = placed.piece
            objects.append(_object(
                folder / f"{piece.name}.3mf", number,
                (placed.x - piece.corner[0], placed.y - piece.corner[1])))
            items.append(f'<item objectid="{number}"/>')
        write_model(folder / name, "".join(objects), "".join(items))
    return names


def _object(path: Path, number: int, move: tuple[float, float]) -> str:
    """The object of a piece's file under another number, its points moved by (x, y), mm.

    Moved here and not by the item: slicers are found that ignore transforms.
    """
    def moved(point: re.Match[str]) -> str:
        return f'<vertex x="{float(point[1]) + move[0]:.5f}" y="{float(point[2]) + move[1]:.5f}"'

    with zipfile.ZipFile(path) as archive:
        model = archive.read("3D/3dmodel.model").decode()
    found = _OBJECT.search(model)
    if found is None:
        raise OSError(f"{path.name}: has no object")
    return _POINT.sub(moved, found[0].replace('id="1"', f'id="{number}"', 1))
