"""Products, assemblies, names and colors of a STEP file (ISO 10303-214), and the file itself."""

from __future__ import annotations

import itertools
import re
import time
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import IO, NamedTuple

from gridshell.mold.files.shape_records import Records
from gridshell.mold.files.solids import edge_count, face_count
from gridshell.mold.files.step_text import StepText, fine, references, string
from gridshell.mold.pieces.mold_set import MoldPiece

_X, _Z = (1.0, 0.0, 0.0), (0.0, 0.0, 1.0)
UNCERTAINTY = 5e-6  # mm, the tolerance of the edges
LONGEST_NAME = 60  # letters of the file's name in its header
# Numbers kept free for a piece, for each of its edges and faces and for what it has besides: twice
# what pockets with fillets take. A file that has more is not joined, see `is_joinable`.
ROOM_EDGE, ROOM_FACE, ROOM = 14, 18, 1000
COMPRESSED, PACKING = ".stpz", 3  # ending of a compressed file; level of compression
_BEGIN, _END = b"\nDATA;\n", b"ENDSEC;\nEND-ISO-10303-21;\n"


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
        self.shape = text.reserve()

    def holds(self, kind: str, items: Sequence[int]) -> None:
        """Give the product its shape.

        Args:
            kind: of representation.
            items: numbers of what is in it.
        """
        self.text.lines.append(
            f"#{self.shape}={kind}('',({references(items)}),#{self.context});\n")
        self.text.add(f"SHAPE_DEFINITION_REPRESENTATION(#{self.meant},#{self.shape})")


class _Document:
    """A file's data section with what all products in it share.

    Args:
        before: the number that its first one follows.
    """

    def __init__(self, before: int = 0) -> None:
        self.text = StepText(before)
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


def piece_lines(
    piece: MoldPiece, records: Records | None = None, before: int = 0
) -> list[str]:
    """Data section of a file of one piece.

    Args:
        piece: one piece.
        records: of its solid, if they are there.
        before: the number that its first one follows; see `blocks`.

    Raises:
        UnknownShapeError: the kernel must write it.
    """
    document = _Document(before)
    document.piece(piece, records)
    return document.lines()


def blocks(pieces: Sequence[MoldPiece]) -> list[int]:
    """The number that the first one of each piece's file follows, and where the last file ends.

    No number stands in two of the files, so that they can be joined as they are.

    Args:
        pieces: in the order of the assembly.
    """
    return list(itertools.accumulate((
        ROOM_EDGE * edge_count(piece.solid) + ROOM_FACE * face_count(piece.solid) + ROOM
        for piece in pieces), initial=0))


class Member(NamedTuple):
    """A piece in an assembly, without its solid.

    Attributes:
        name: of the piece.
        before: the number that the first one in its file follows.
        after: its file has none above.
        offset: (x, y, z) that it is moved by, mm.
    """

    name: str
    before: int
    after: int
    offset: tuple[float, float, float]


def assembly_lines(members: Sequence[Member], title: str) -> list[str]:
    """What makes an assembly of the data sections of its pieces, each there once and placed.

    Args:
        members: in the order of the file.
        title: name of the assembly.
    """
    document = _Document(max(member.after for member in members))
    add, whole = document.text.add, document.product(title)
    places = [document.place(member.offset) for member in members]
    whole.holds("SHAPE_REPRESENTATION", (document.origin, *places))
    for number, member, place in zip(itertools.count(1), members, places, strict=False):
        # Laid out once more without its solid: the same entities have the same numbers.
        alone = _Document(member.before)
        part = alone.product(member.name)
        move = add(f"ITEM_DEFINED_TRANSFORMATION('','',#{alone.origin},#{place})")
        related = add(
            f"(REPRESENTATION_RELATIONSHIP('','',#{part.shape},#{whole.shape})"
            f"REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION(#{move})"
            "SHAPE_REPRESENTATION_RELATIONSHIP())")
        used = add(f"NEXT_ASSEMBLY_USAGE_OCCURRENCE('{number}',{string(member.name)},'',"
                   f"#{whole.definition},#{part.definition},$)")
        meant = add(f"PRODUCT_DEFINITION_SHAPE('Placement','Placement of an item',#{used})")
        add(f"CONTEXT_DEPENDENT_SHAPE_REPRESENTATION(#{related},#{meant})")
    return document.text.lines


def write_lines(lines: Sequence[str], path: Path, title: str) -> None:
    """Write a data section with the header round it.

    Args:
        lines: of the data section.
        path: of the file.
        title: named in the header.

    Raises:
        OSError: the file could not be written.
    """
    with _told(path), path.open("wb") as file:
        file.write(_head(title))
        file.write("".join(lines).encode("ascii"))
        file.write(_END)


def write_joined(members: Sequence[Member], path: Path, title: str) -> None:
    """Write an assembly of the files of its pieces, which lie beside it: each there once, placed.

    Args:
        members: in the order of the file; each can be joined, see `is_joinable`.
        path: of the file; ending in ``.stpz`` it is compressed.
        title: name of the assembly.

    Raises:
        OSError: the file could not be written.
    """
    with _told(path), _opened(path) as file:
        file.write(_head(title))
        for member in members:
            with path.with_name(f"{member.name}.step").open("rb") as part:
                begin, end, _, _ = _body(part)
                part.seek(begin)
                while begin < end:
                    begin += file.write(part.read(min(end - begin, 1 << 20)))
        file.write("".join(assembly_lines(members, title)).encode("ascii"))
        file.write(_END)


def is_joinable(member: Member, folder: Path) -> bool:
    """Whether the file of a piece is one of `write_lines` with the numbers of its block.

    Args:
        member: one piece.
        folder: of its file.
    """
    with (folder / f"{member.name}.step").open("rb") as file:
        _, _, first, last = _body(file)
    return first == member.before + 1 and first < last <= member.after


def _body(file: IO[bytes]) -> tuple[int, int, int, int]:
    """Where the data section of a file of `write_lines` begins and ends, its first and last
    numbers; 0 for those of another writer."""
    head = file.read(4096)
    size = file.seek(0, 2)
    file.seek(max(0, size - 4096))
    tail = file.read()
    begin = head.find(_BEGIN) + len(_BEGIN)
    lines = tail.removesuffix(_END).splitlines()
    numbers = [re.match(rb"#(\d+)=", line) for line in (head[begin:], lines[-1])]
    first, last = (int(number[1]) if number and tail.endswith(_END) else 0 for number in numbers)
    return begin, size - len(_END), first, last


@contextmanager
def _opened(path: Path) -> Iterator[IO[bytes]]:
    """A file to write into, or the only one in an archive: "Recommended Practices STEP File
    Compression", release 1.1 (CAx Implementor Forum, 2013; its details from memory)."""
    if path.suffix != COMPRESSED:
        with path.open("wb") as file:
            yield file
        return
    with (zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=PACKING) as archive,
          archive.open(f"{path.stem}.stp", "w") as inner):
        yield inner


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Name the file that could not be written."""
    try:
        yield
    except OSError as error:
        why = error.strerror or "is the disk full?"
        raise OSError(f"{path.name}: could not be written ({why})") from error


def _head(title: str) -> bytes:
    # Author and company are left empty: nothing here knows who makes this.
    return ("ISO-10303-21;\nHEADER;\nFILE_DESCRIPTION((''),'2;1');\n"
            f"FILE_NAME({string(title[:LONGEST_NAME])},'{time.strftime('%Y-%m-%dT%H:%M:%S')}',"
            "(''),(''),'','gridshell','');\n"
            "FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));\nENDSEC;\nDATA;\n"
            ).encode("ascii")
