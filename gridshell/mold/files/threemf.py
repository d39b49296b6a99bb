"""3MF files (3MF Core Specification): a zip with one XML model, in millimeters."""

from __future__ import annotations

import html
import zipfile
from pathlib import Path

import numpy as np

from gridshell.define.types import Array

_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType='
    '"application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType='
    '"application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_LINKS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="model" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)


def write_3mf(path: Path, name: str, vertices: Array, corners: np.ndarray) -> None:
    """One named object from vertices (v, 3) in mm and triangles (n, 3).

    The build item has no transform: slicers are found that ignore rotations in it.

    Args:
        path: of the file.
        name: of the piece.
        vertices: (v, 3), mm.
        corners: (n, 3) indices of the triangles.
    """
    # One template for all rows takes a third of the time of a row after the other.
    points = ('<vertex x="%.5f" y="%.5f" z="%.5f"/>' * len(vertices)) % tuple(
        vertices.ravel().tolist())
    sides = ('<triangle v1="%d" v2="%d" v3="%d"/>' * len(corners)) % tuple(
        corners.ravel().tolist())
    write_model(
        path, f'<object id="1" type="model" name="{html.escape(name)}"><mesh><vertices>{points}'
        f"</vertices><triangles>{sides}</triangles></mesh></object>", '<item objectid="1"/>')


def write_model(path: Path, objects: str, items: str) -> None:
    """A 3MF file of objects and of the items that are built of them, both as XML.

    Args:
        path: of the file.
        objects: `<object>` elements.
        items: `<item>` elements.
    """
    model = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<model unit="millimeter" xml:lang="en-US" '
        'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">'
        f"<resources>{objects}</resources><build>{items}</build></model>"
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=2) as archive:
        archive.writestr("[Content_Types].xml", _TYPES)
        archive.writestr("_rels/.rels", _LINKS)
        archive.writestr("3D/3dmodel.model", model)
