"""The house rule: a folder imports only from folders above it."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import gridshell

ORDER = [
    "define", "material", "wall", "tube", "loads", "thermal", "study", "mold", "proof", "report",
    "explore",
]
# Tables and pictures of the proof stand beside all others; nothing else may lean on it.
PROOF_SHOWN = {
    "whole_tube_plot.py", "full_model_plot.py", "error_map_plot.py", "tube_map_plot.py",
    "prove_job.py", "prove_text.py",
}
ROOT = Path(gridshell.__file__).parent
MODULES = sorted(
    path for path in ROOT.glob("*/*.py") if path.parent.name in ORDER
)


def imported_folders(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        for name in names:
            parts = name.split(".")
            if parts[0] == "gridshell" and len(parts) > 1:
                found.add(parts[1])
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda p: f"{p.parent.name}/{p.name}")
def test_a_folder_imports_only_from_above(path: Path) -> None:
    place = ORDER.index(path.parent.name)
    allowed = set(ORDER[: place + 1])
    if path.parent.name in ("report", "explore") and path.name not in PROOF_SHOWN:
        allowed -= {"proof"}
    below = imported_folders(path) - allowed
    assert not below, f"{path} imports from {sorted(below)}"


def test_nothing_imports_proof_but_the_command_line() -> None:
    for path in MODULES:
        if path.parent.name != "proof" and path.name not in PROOF_SHOWN:
            assert "proof" not in imported_folders(path), path
