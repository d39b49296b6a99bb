"""The Python interface: what the commands do, as functions that give answers to work with.

An answer has the attributes of the record that it holds (``answer.result``), and shows itself:
``to_dict()`` equals the command's ``--json``, ``text()`` its table, ``plot()`` its picture.
"""

from __future__ import annotations

import functools
import html
import tempfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from gridshell.define import making
from gridshell.define.errors import InputError
from gridshell.define.files import reading
from gridshell.define.tables.design import Design
from gridshell.define.types import Quantity

if TYPE_CHECKING:
    from gridshell.mold.pieces.mold_set import MoldSet
    from gridshell.report.verdict import Verdict
    from gridshell.tube.result import CaseResult

__all__ = [
    "Answer", "Picture", "PlainAnswer", "TubeAnswer", "assess_tube", "assess_wall", "build_molds",
    "chill", "compare_walls", "make_design", "materials", "read_design", "scatter_designs",
    "section_loads", "size_tube", "sweep_designs",
]


def read_design(path: str | Path) -> Design:
    """Read and check a definition file, and the material that it names.

    Args:
        path: of the file.
    Raises:
        DefinitionError: with every problem found, each on one line with its key path.
    """
    from gridshell.material.resolve import material_problems

    return reading.read_design(path, also=material_problems)


def make_design(
    definition: Mapping[str, Any] | None = None, *, folder: str | Path = ".", **tables: Any
) -> Design:
    """A design from the tables of a definition file, checked like a file.

    Args:
        definition: table -> its fields; see `gridshell.define.making.make_design`.
        folder: that ``material.file`` and ``ribs.solid_cell`` are relative to.
        tables: the same, as keywords; they replace those of ``definition``.
    Raises:
        DefinitionError: with every problem found.
    """
    from gridshell.material.resolve import material_problems

    return making.make_design(definition, folder=folder, also=material_problems, **tables)


class Picture:
    """A picture that a notebook shows.

    Attributes:
        png: its content.
    """

    def __init__(self, png: bytes) -> None:
        self.png = png

    def _repr_png_(self) -> bytes:
        return self.png

    def __repr__(self) -> str:
        return f"<picture of {len(self.png):,} bytes; plot(path) writes it to a file>"


class Answer:
    """What a function found.

    Attributes:
        result: the record with everything found; its attributes are those of the answer too.
        design: what it was found for.
    """

    def __init__(
        self, result: Any, design: Design, content: Callable[[], dict[str, Any]],
        text: Callable[[], str], draw: Callable[[str], None], judge: Callable[[], Verdict],
    ) -> None:
        self.result, self.design = result, design
        self._content, self._text, self._draw, self._judge = content, text, draw, judge

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_") or name == "result":
            raise AttributeError(name)
        return getattr(self.result, name)

    @functools.cached_property
    def verdict(self) -> Verdict:
        """The worst of everything known about the design: structure, joints, range, mold."""
        self._refuse_arrays("verdict")
        return self._judge()

    def to_dict(self) -> dict[str, Any]:
        """What the command prints with ``--json``: SI, plain numbers."""
        self._refuse_arrays("to_dict")
        content = self._content()
        # 'compare' has long had a sentence on grid against plain wall under that key.
        key = "design_verdict" if "verdict" in content else "verdict"
        return {**content, key: self.verdict.to_dict()}

    def text(self) -> str:
        """The table that the command prints."""
        self._refuse_arrays("text")
        return f"{self.verdict.line}\n\n{self._text()}"

    def plot(self, path: str | Path | None = None) -> Picture | None:
        """Draw the command's picture.

        Args:
            path: file to write (png, pdf or svg); None: give the picture back for a notebook.
        """
        self._refuse_arrays("plot")
        if path is not None:
            self._draw(str(path))
            return None
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "picture.png"
            self._draw(str(file))
            return Picture(file.read_bytes())

    def _refuse_arrays(self, what: str) -> None:
        if _many(self.design):
            raise InputError(f"{what}: shows one design, and this answer holds many; use its "
                             "attributes, which are arrays")

    def facts(self) -> list[tuple[str, str]]:
        """The main values, as names and texts."""
        return [(type(self.result).__name__, self.design.title)]

    def __repr__(self) -> str:
        shown = ", ".join(f"{name} {value}" for name, value in self.facts())
        return f"<{shown}>"

    def _repr_html_(self) -> str:
        more = None if _many(self.design) else self.text()
        return _html(self.design.title, self.facts(), more)


def _many(design: Design) -> bool:
    """Whether a design has an array in any field, if only of one entry."""
    from gridshell.study.batch import arrays_in

    return any(True for _ in arrays_in(design))


def _one(design: Design, what: str) -> Design:
    """The design, refused if it holds many."""
    if _many(design):
        raise InputError(f"{what}: takes one design, not arrays of designs; assess_wall and "
                         "assess_tube take them")
    return design


def _shown(value: Quantity, unit: str) -> str:
    values = np.asarray(value, dtype=float)
    if values.ndim == 0:
        return f"{float(values):.4g} {unit}".strip()
    if np.isnan(values).all():
        return f"{values.size} values, none known"
    low, high = np.nanmin(values), np.nanmax(values)
    return f"{values.size} values, {low:.4g} to {high:.4g} {unit}".strip()


class PlainAnswer(Answer):
    """What is no judgement on a design: a table of a sweep, a material.

    Attributes:
        title: shown above it.
    """

    def __init__(
        self, result: Any, title: str, facts: list[tuple[str, str]],
        content: Callable[[], dict[str, Any]], text: Callable[[], str],
        draw: Callable[[str], None],
    ) -> None:
        self.result, self.title = result, title
        self._facts, self._content, self._text, self._draw = facts, content, text, draw

    @property
    def verdict(self) -> Verdict:  # type: ignore[override]
        """There is none."""
        raise AttributeError("verdict: there is no verdict on this")

    def to_dict(self) -> dict[str, Any]:
        """What the command prints with ``--json``."""
        return self._content()

    def text(self) -> str:
        """What the command prints."""
        return self._text()

    def facts(self) -> list[tuple[str, str]]:
        """The main values, as names and texts."""
        return self._facts

    def _refuse_arrays(self, what: str) -> None:
        """Nothing here is an array of designs."""

    def _repr_html_(self) -> str:
        return _html(self.title, self.facts(), self.text())


def _html(title: str, facts: list[tuple[str, str]], more: str | None) -> str:
    """A table of facts, with everything else folded away."""
    rows = "".join(f"<tr><th>{html.escape(name)}</th><td>{html.escape(value)}</td></tr>"
                   for name, value in facts)
    folded = "" if more is None else (
        f"<details><summary>all</summary><pre>{html.escape(more)}</pre></details>")
    return f"<table><caption>{html.escape(title)}</caption>{rows}</table>{folded}"


class WallAnswer(Answer):
    """The smeared wall; ``result`` is a `gridshell.wall.assess.Wall` (A, B, D, areal_mass...)."""

    def facts(self) -> list[tuple[str, str]]:
        """Mass per area and the membrane and bending stiffness along and round."""
        A, D = np.asarray(self.result.A), np.asarray(self.result.D)
        return [
            ("mass per area", _shown(self.result.areal_mass, "kg/m^2")),
            ("A11", _shown(A[..., 0, 0], "N/m")), ("A22", _shown(A[..., 1, 1], "N/m")),
            ("D11", _shown(D[..., 0, 0], "N m")), ("D22", _shown(D[..., 1, 1], "N m")),
        ]


class TubeAnswer(Answer):
    """The whole tube; ``result`` is a `gridshell.tube.result.TubeResult`."""

    @property
    def EA(self) -> Quantity:
        """Axial stiffness, N."""
        found: Quantity = self.result.stiffness.EA
        return found

    @property
    def EI(self) -> Quantity:
        """Bending stiffness, N m2."""
        found: Quantity = self.result.stiffness.EI
        return found

    @property
    def GJ(self) -> Quantity:
        """Torsional stiffness, N m2."""
        found: Quantity = self.result.stiffness.GJ
        return found

    @property
    def mass(self) -> Quantity:
        """Mass with lands, kg."""
        found: Quantity = self.result.mass
        return found

    @property
    def margin(self) -> Quantity:
        """Lowest margin of safety of all cases: allowable / (applied x factor) - 1."""
        found: Quantity = self.result.margin
        return found

    @property
    def cases(self) -> tuple[CaseResult, ...]:
        """Each load case, with its checks."""
        found: tuple[CaseResult, ...] = self.result.cases
        return found

    @property
    def governing(self) -> Any:
        """Case and check with the lowest margin, such as "gust: column"; arrays for arrays."""
        if not self.cases:
            return "no load case"
        shape = np.broadcast_shapes(*(np.shape(case.margin) for case in self.cases))
        margins = np.stack([np.broadcast_to(case.margin, shape) for case in self.cases])
        names = np.stack([
            np.broadcast_to(np.char.add(f"{case.name}: ", np.asarray(case.governing, str)), shape)
            for case in self.cases])
        lowest = np.argmin(np.where(np.isnan(margins), -np.inf, margins), axis=0)
        found = np.take_along_axis(names, lowest[None], axis=0)[0]
        return str(found) if found.ndim == 0 else found

    def facts(self) -> list[tuple[str, str]]:
        """Stiffness, mass, and the lowest margin."""
        governing = self.governing if np.ndim(self.governing) == 0 else "see .governing"
        return [
            ("mass", _shown(self.mass, "kg")), ("EA", _shown(self.EA, "N")),
            ("EI", _shown(self.EI, "N m^2")), ("GJ", _shown(self.GJ, "N m^2")),
            ("margin", _shown(self.margin, "")), ("governing", str(governing)),
        ]


def assess_wall(design: Design) -> WallAnswer:
    """Smeared stiffness, mass and equivalent plain wall; `gridshell wall`."""
    from gridshell.material.resolve import properties
    from gridshell.report.text.wall import wall_json, wall_text
    from gridshell.report.verdict import verdict_of
    from gridshell.wall import assess

    found = assess.assess_wall(design, properties(design.material, design.folder))

    def draw(path: str) -> None:
        from gridshell.report.plots.wall import plot_wall

        plot_wall(found, path, design.units)

    return WallAnswer(
        found, design, lambda: wall_json(found), lambda: wall_text(found, design.units),
        draw, lambda: verdict_of(design))


def assess_tube(design: Design) -> TubeAnswer:
    """Stiffness, mass, frequencies and every check of every load case; `gridshell tube`."""
    from gridshell.report.text.tube.result import tube_json, tube_text
    from gridshell.report.verdict import verdict_of
    from gridshell.tube import assess
    from gridshell.tube.buckling.theories import other_theories

    found = assess.assess_tube(design)

    def draw(path: str) -> None:
        from gridshell.report.plots.tube.result import plot_tube

        plot_tube(found, path, design.units)

    return TubeAnswer(
        found, design, lambda: tube_json(found),
        lambda: tube_text(found, design.units, other_theories(found.wall, found.buckling)),
        draw, lambda: verdict_of(design, found))


def compare_walls(design: Design) -> Answer:
    """The grid beside plain walls of equal mass, stiffness and buckling load; `compare`."""
    from gridshell.report.text.study.compare import compare_json, compare_text
    from gridshell.report.verdict import verdict_of
    from gridshell.study import compare

    found = compare.compare_walls(_one(design, "compare_walls"))

    def draw(path: str) -> None:
        from gridshell.report.plots.study.compare import plot_compare

        plot_compare(found, path, design.units)

    return Answer(
        found, design, lambda: compare_json(found), lambda: compare_text(found, design.units),
        draw, lambda: verdict_of(design, found.contenders[0].tube))


def size_tube(design: Design, progress: Callable[[str], None] = lambda step: None) -> Answer:
    """Rib height, width, spacing and skin for the least mass within every limit; `size`."""
    from gridshell.mold.checks.failures import making_of
    from gridshell.report.text.study.size import size_json, size_text
    from gridshell.report.verdict import size_verdict
    from gridshell.study.size import run

    making, margins, remaking = making_of(_one(design, "size_tube"))
    found = run.size_tube(
        design, progress=progress, making=making, margins=margins, remaking=remaking)

    def draw(path: str) -> None:
        from gridshell.report.plots.study.size import plot_size

        plot_size(found, path, design.units)

    return Answer(
        found, design, lambda: size_json(found), lambda: size_text(found, design.units),
        draw, lambda: size_verdict(found))


def sweep_designs(
    design: Design, vary: str | Sequence[str], out: str | Path, **options: Any
) -> PlainAnswer:
    """Every combination of varied fields, written as one table; `sweep`.

    Args:
        design: one design.
        vary: such as ``["ribs.height=2mm:8mm:25"]``, or one text.
        out: table to write: .csv, .parquet or .npz.
        options: of `gridshell.study.sweep.run.sweep_designs`: resume, workers, cluster, force.
    """
    from gridshell.study.sweep import run

    vary = [vary] if isinstance(vary, str) else list(vary)
    done = run.sweep_designs(_one(design, "sweep_designs"), vary, str(out), **options)

    def draw(path: str) -> None:
        from gridshell.report.plots.study.sweep import plot_sweep

        plot_sweep(str(out), path, system=design.units)

    return PlainAnswer(
        done, design.title, [("file", str(done.output)), ("rows", f"{done.rows:,}")],
        lambda: {"file": str(done.output), "rows": done.rows},
        lambda: f"wrote {done.output}: {done.rows:,} rows", draw)


def scatter_designs(
    design: Design, samples: int | None = None, workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> Answer:
    """Tolerances and material scatter -> distribution of stiffness, margin and mass; `scatter`."""
    from gridshell.report.text.study.scatter import scatter_json, scatter_text
    from gridshell.report.verdict import scatter_finding, verdict_of
    from gridshell.study.scatter import run

    found = run.scatter_designs(
        _one(design, "scatter_designs"), samples=samples, workers=workers, progress=progress)

    def draw(path: str) -> None:
        from gridshell.report.plots.study.scatter import plot_scatter

        plot_scatter(found, path, design.units)

    return Answer(
        found, design, lambda: scatter_json(found), lambda: scatter_text(found, design.units),
        draw, lambda: verdict_of(design, found.nominal, [scatter_finding(found)]))


def chill(design: Design) -> Answer:
    """Chill-down, cracking, warm-up: the usable window; `chill`."""
    from gridshell.define.files.unit_cell_match import without_unit_cell
    from gridshell.report.text.chill import chill_text
    from gridshell.report.verdict import chill_finding, verdict_of
    from gridshell.thermal import chill as run
    from gridshell.thermal.margin import margin_function

    # Poisson's ratio changes on the way down and up, and a solid cell is of one.
    plain = without_unit_cell(_one(design, "chill"))
    note = "" if design.ribs.solid_cell is None else (
        "\nnote: margins by the formula; the solid cell holds for one Poisson's ratio")
    found = run.chill(plain, margin_function(plain))

    def draw(path: str) -> None:
        from gridshell.report.plots.chill import save_chill_figure

        save_chill_figure(found, path, design.units)

    return Answer(
        found, design, found.to_dict, lambda: chill_text(found, design.units) + note,
        draw, lambda: verdict_of(plain, more=[chill_finding(found)]))


def section_loads(design: Design) -> Answer:
    """Axial force, shear and moment along the body, and the load cases from them; `loads`."""
    from gridshell.loads import run
    from gridshell.report.text.loads import loads_json, loads_text
    from gridshell.report.verdict import verdict_of

    found = run.section_loads(_one(design, "section_loads"))

    def draw(path: str) -> None:
        from gridshell.report.plots.loads import plot_loads

        plot_loads(found, path, design.units)

    return Answer(
        found, design, lambda: loads_json(found), lambda: loads_text(found, design.units),
        draw, lambda: verdict_of(design, loads=found))


def build_molds(design: Design, out: str | Path | None = None, force: bool = False,
                formats: Sequence[str] | None = None,
                progress: Callable[[str], None] | None = None) -> Answer | MoldSet:
    """The pieces of the molds as solids, or, with a folder, checked and written as files; `mold`.

    Args:
        design: one design with a ``[mold]`` table.
        out: folder for the files; None: the solids only.
        force: replace files that are there.
        formats: of step, stl, 3mf, png; None: all.
        progress: told each step.
    """
    _one(design, "build_molds")
    if out is None:
        from gridshell.mold.pieces import build

        return build.build_molds(design, progress=progress)
    from gridshell.mold.files.write import FORMATS
    from gridshell.report.jobs.mold import make_molds
    from gridshell.report.text.mold import mold_json, mold_text
    from gridshell.report.verdict import verdict_of

    job = make_molds(
        design, str(out), force, FORMATS if formats is None else tuple(formats), progress)

    def draw(path: str) -> None:
        from gridshell.report.plots.mold import plot_undercut

        plot_undercut(job.checks, path)

    return Answer(
        job, design, lambda: mold_json(job), lambda: mold_text(job, design.units),
        draw, lambda: verdict_of(design, mold=job.checks))


def materials(name: str | None = None, units: str = "metric") -> list[str] | PlainAnswer:
    """Names of the materials in the library, or everything known of one; `materials`.

    Args:
        name: of the library; None: all names. The answer has the attributes of
            `gridshell.material.data.MaterialData`.
        units: metric or inch, of its text and picture.

    Raises:
        InputError: no such material, or no such units.
    """
    from gridshell.define.schema import field_rules, read_value
    from gridshell.material.catalog import load_material, material_names
    from gridshell.report.plots.materials import plot_materials
    from gridshell.report.text.materials import material_json, material_text

    try:
        read_value(units, field_rules(Design, "units"))
    except InputError as error:
        raise InputError(f"units: {error}") from None
    if name is None:
        return material_names()
    data = load_material(name)
    return PlainAnswer(
        data, data.title, [("material", data.name), ("family", data.family)],
        lambda: material_json(data), lambda: material_text(data, units),
        lambda path: plot_materials([data], path, units))
