"""The house rule: a folder imports only from folders above it."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import gridshell

ORDER = [
    "define", "material", "wall", "tube", "loads", "thermal", "study", "mold", "proof", "report",
    "explore", "api", "commands",
]
# Tables and pictures of the proof stand beside all others; nothing else may lean on it.
PROOF_SHOWN = (
    "report/plots/proof/", "report/text/proof/", "report/text/tube/openings.py",
    "report/jobs/prove.py", "commands/mesh.py", "commands/prove.py",
    "commands/common.py",  # solves a design's own unit cell and hands it on as a file
)
ROOT = Path(gridshell.__file__).parent
MODULES = sorted(
    path for path in ROOT.glob("*/**/*.py") if path.relative_to(ROOT).parts[0] in ORDER
)


def room(path: Path) -> str:
    return path.relative_to(ROOT).parts[0]


def place_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


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


@pytest.mark.parametrize("path", MODULES, ids=place_of)
def test_a_folder_imports_only_from_above(path: Path) -> None:
    place = ORDER.index(room(path))
    allowed = set(ORDER[: place + 1])
    if room(path) in ("report", "explore", "commands") and not place_of(
            path).startswith(PROOF_SHOWN):
        allowed -= {"proof"}
    below = imported_folders(path) - allowed
    assert not below, f"{path} imports from {sorted(below)}"


def test_nothing_imports_proof_but_the_command_line() -> None:
    for path in MODULES:
        if room(path) != "proof" and not place_of(path).startswith(PROOF_SHOWN):
            assert "proof" not in imported_folders(path), path


def test_the_reference_of_the_definition_file_is_up_to_date() -> None:
    """`gridshell fields --markdown` writes what stands below the heading in define/README.md."""
    from gridshell.define.describe import fields_markdown, tables_of

    text = (ROOT / "define" / "README.md").read_text(encoding="utf-8")
    kept = text[text.index("#### Before the first table"):]
    assert kept == fields_markdown(tables_of()), (
        "a declaration changed: write the output of 'gridshell fields --markdown' into "
        "gridshell/define/README.md")


def test_the_pictures_of_the_readme_are_there_and_small() -> None:
    """`python exports/pictures/make.py` remakes them."""
    import re

    text = (ROOT.parent / "README.md").read_text(encoding="utf-8")
    names = re.findall(r"\]\((exports/pictures/[a-z]+\.png)\)", text)
    assert len(names) >= 3
    assert all(1000 < (ROOT.parent / name).stat().st_size < 150_000 for name in names)
