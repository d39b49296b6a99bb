"""Products, assemblies, names and colors of a STEP file (ISO 10303-214), and the file itself."""

from __future__ import annotations

import itertools
import time
from collections.abc import Sequence
from pathlib import Path

from gridshell.mold.files.shape_records import Records
from gridshell.mold.files.step_text import StepText, fine, references, string
from gridshell.mold.pieces.mold_set import MoldPiece

_X, _Z = (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)
UNCERTAINTY = 5e-6  # mm, the tolerance of the edges
LONGEST_NAME = 60  # letters of the file's name in its header


class _Product:
    """A product with its shape: one piece, or the whole.

    Attributes:
        definition: number of the product's definition.
        shape: number of its shape.
    """

    def __init__(self, text: StepText, name: str, context: int, about: tuple[int, int]) -> None:
        """``about``: numbers of its contexts as a product and as a definition."""
        self.text, self.context = text, context
        add = text.add
        label = string(name)
        product = add(f"PRODUCT({label},{label},'',(#{about[0]}))")
        add(f"PRODUCT_RELATED_PRODUCT_CATEGORY('part',$,(#{product}))")
        version = add(f"PRODUCT_DEFINITION_FORMATION('','',#{product})")
        self.definition = add(f"PRODUCT_DEFINITION('design','',#{version},#{about[1]})")
        self.meant = add(f"PRODUCT_DEFINITION_SHAPE('','',#{self.definition})")
        self.shape = 0

    def holds(self, kind: str, items: Sequence[int]) -> None:
        """Give the product its shape.

        Args:
            kind: of representation.
            items: numbers of what is in it.
        """
        self.shape = self.text.add(f"{kind}('',({references(items)}),#{self.context})")
        self.text.add(f"SHAPE_DEFINITION_REPRESENTATION(#{self.meant},#{self.shape})")


class _Document:
    """A file's data section with what all products share."""

    def __init__(self) -> None:
        self.text = StepText()
        add = self.text.add
        meaning = add("APPLICATION_CONTEXT('core data for automotive mechanical design processes')")
        add("APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2000,"
            f"#{meaning})")
        self.about = (
            add(f"PRODUCT_CONTEXT('',#{meaning},'mechanical')"),
            add(f"PRODUCT_DEFINITION_CONTEXT('part definition',#{meaning},'design')"))
        length = add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))")
        angle = add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))")
        solid = add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())")
        near = add(
            f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE({fine(UNCERTAINTY)}),#{length},"
            "'distance_accuracy_value','confusion accuracy')")
        self.context = add(
            f"(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT((#{near}))"
            f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({references((length, angle, solid))}))"
            "REPRESENTATION_CONTEXT('','3D Context with UNIT and UNCERTAINTY'))")
        self.origin = self.place((0.0, 0.0, 0.0))
        self.styled: list[int] = []

    def place(self, offset: Sequence[float]) -> int:
        """An upright frame at a point."""
        values = ",".join(fine(value) for value in offset)
        return self.text.frame(self.text.add(f"CARTESIAN_POINT('',({values}))"), _Z, _X)

    def product(self, name: str) -> _Product:
        return _Product(self.text, name, self.context, self.about)

    def piece(self, piece: MoldPiece, records: Records | None = None) -> _Product:
        """A piece as a product with its solid, colored."""
        found = self.product(piece.name)
        solid = self.text.solid(piece.solid, piece.name, records)
        found.holds("ADVANCED_BREP_SHAPE_REPRESENTATION", (self.origin, solid))
        add = self.text.add
        color = add(f"COLOUR_RGB('',{','.join(map(fine, piece.color))})")
        # From the color outwards: area, fill, side, use, style.
        last = color
        for entity in (
            "FILL_AREA_STYLE_COLOUR('',#{})", "FILL_AREA_STYLE('',(#{}))",
            "SURFACE_STYLE_FILL_AREA(#{})", "SURFACE_SIDE_STYLE('',(#{}))",
            "SURFACE_STYLE_USAGE(.BOTH.,#{})", "PRESENTATION_STYLE_ASSIGNMENT((#{}))",
        ):
            last = add(entity.format(last))
        self.styled.append(add(f"STYLED_ITEM('color',(#{last}),#{solid})"))
        return found

    def lines(self) -> list[str]:
        """Every line of the data section."""
        self.text.add("MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION('',("
                      f"{references(self.styled)}),#{self.context})")
        return self.text.lines


def piece_lines(piece: MoldPiece, records: Records | None = None) -> list[str]:
    """Data section of a file of one piece.

    Args:
        piece: one piece.
        records: of its solid, if they are there.

    Raises:
        UnknownShapeError: the kernel must write it.
    """
    document = _Document()
    document.piece(piece, records)
    return document.lines()


def assembly_lines(
    pieces: Sequence[MoldPiece], title: str, offsets: Sequence[tuple[float, float, float]]
) -> list[str]:
    """Data section of a file of every piece, each once, placed.

    Args:
        pieces: in the order of the file.
        title: name of the assembly.
        offsets: (x, y, z) that each piece is moved by, mm.

    Raises:
        UnknownShapeError: the kernel must write it.
    """
    document = _Document()
    add, whole = document.text.add, document.product(title)
    places = [document.place(offset) for offset in offsets]
    whole.holds("SHAPE_REPRESENTATION", (document.origin, *places))
    for number, piece, place in zip(itertools.count(1), pieces, places, strict=False):
        part = document.piece(piece)
        move = add(f"ITEM_DEFINED_TRANSFORMATION('','',#{document.origin},#{place})")
        related = add(
            f"(REPRESENTATION_RELATIONSHIP('','',#{part.shape},#{whole.shape})"
            f"REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION(#{move})"
            "SHAPE_REPRESENTATION_RELATIONSHIP())")
        used = add(f"NEXT_ASSEMBLY_USAGE_OCCURRENCE('{number}',{string(piece.name)},'',"
                   f"#{whole.definition},#{part.definition},$)")
        meant = add(f"PRODUCT_DEFINITION_SHAPE('Placement','Placement of an item',#{used})")
        add(f"CONTEXT_DEPENDENT_SHAPE_REPRESENTATION(#{related},#{meant})")
    return document.lines()


def write_lines(lines: Sequence[str], path: Path, title: str) -> None:
    """Write a data section with the header round it.

    Args:
        lines: of the data section.
        path: of the file.
        title: named in the header.

    Raises:
        OSError: the file could not be written.
    """
    # Author and company are left empty: nothing here knows who makes this.
    head = ("ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\n"
            f"FILE_NAME({string(title[:LONGEST_NAME])},'{time.strftime('%Y-%m-%dT%H:%M:%S')}',"
            "(''),(''),'','gridshell','');\n"
            "FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));\nENDSEC;\nDATA;\n")
    try:
        with path.open("w", encoding="ascii", newline="\n") as file:
            file.write(head)
            file.writelines(lines)
            file.write("ENDSEC;\nEND-ISO-10303-21;\n")
    except OSError as error:
        why = error.strerror or "is the disk full?"
        raise OSError(f"{path.name}: could not be written ({why})") from error
