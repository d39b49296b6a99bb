"""`gridshell materials`: the library with its sources."""

from __future__ import annotations

import argparse

from gridshell.commands.command import Command
from gridshell.commands.common import check_plot, show


def run(options: argparse.Namespace) -> int:
    """The library of materials, or everything known of one."""
    from gridshell.material.catalog import load_material, material_names
    from gridshell.material.data import read_material_file
    from gridshell.report.plots.materials import plot_materials
    from gridshell.report.text import materials as text

    check_plot(options.plot)
    system = options.units or "metric"
    name = options.file
    if name is None:
        library = [load_material(one) for one in material_names()]
        return show(options, lambda: text.library_json(library),
                    lambda: text.library_text(library, system),
                    lambda path: plot_materials(library, path, system))
    data = read_material_file(name) if name.lower().endswith(".toml") else load_material(name)
    return show(options, lambda: text.material_json(data),
                lambda: text.material_text(data, system),
                lambda path: plot_materials([data], path, system))


COMMAND = Command(
    "materials", "materials of the library, with sources and curves", run,
    shared=("json", "plot", "units"), file="a material of the library, or a material file (TOML)",
    needs_file=False,
)
