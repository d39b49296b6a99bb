"""Parts of a sweep on disk, and the one file they are joined into in the end.

Each chunk is written whole or not at all into a folder beside the result, so a sweep that is
stopped at any moment goes on from the chunks that are there.
"""

from __future__ import annotations

import csv
import dataclasses
import hashlib
import json
import shutil
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.replacing import replacing, write_text
from gridshell.study.sweep.chunk import Columns, units
from gridshell.study.sweep.plan import Plan
from gridshell.study.sweep.words import Words

FORMATS = (".csv", ".parquet", ".npz")
_PLAN = "sweep.json"
# What reading a damaged archive of arrays may raise.
_DAMAGE = (OSError, ValueError, KeyError, EOFError, RuntimeError, TypeError, AttributeError,
           MemoryError, SyntaxError, struct.error, zipfile.BadZipFile, zlib.error)
_CHECKSUM = "checksum"  # entry of a part beside its columns
_WORDS = "words of "  # entry of a part: the words that a column's numbers are places among


def check_output(path: Path) -> None:
    """Refuse a result file that can't be written, before any work is done.

    Raises:
        InputError: the ending is unknown, the folder is missing, or Parquet's library is.
    """
    if path.suffix.lower() not in FORMATS:
        raise InputError(f"--out {str(path)!r}: ending must be .csv, .parquet or .npz")
    if path.is_dir():
        raise InputError(f"--out {str(path)!r}: is a directory; give a file name")
    if not path.parent.is_dir():
        raise InputError(f"--out {str(path)!r}: folder {path.parent} does not exist")
    if path.suffix.lower() == ".parquet":
        arrow_library()


def arrow_library() -> Any:
    """Parquet's library.

    Raises:
        InputError: it is not installed.
    """
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        raise InputError(
            "--out: Parquet needs the optional part: pip install 'gridshell[parquet]'; or use .npz"
        ) from None
    return pyarrow


class Parts:
    """The folder of parts of one sweep.

    Attributes:
        plan: of the sweep.
        folder: beside the result, ``<result>.parts``.
    """

    def __init__(self, plan: Plan, output: Path) -> None:
        self.plan, self.output = plan, output
        self.folder = output.with_name(output.name + ".parts")

    def open(self, resume: bool) -> None:
        """Make the folder, or find the one of the same sweep.

        Raises:
            InputError: parts are there and ``resume`` is not asked for, or they are of another
                sweep.
        """
        mark = self.folder / _PLAN
        if self.folder.exists() and not mark.exists() and any(self.folder.iterdir()):
            raise InputError(f"{self.folder}: is there and is not a sweep's; move it away")
        if mark.exists():
            if not resume:
                raise InputError(
                    f"{self.folder}: parts of a sweep that was stopped; add --resume to go on, or "
                    "delete that folder to start again"
                )
            try:
                known = json.loads(mark.read_text(encoding="utf-8")).get("fingerprint")
            except (OSError, ValueError, AttributeError):
                known = None
            if known != self.plan.fingerprint:
                raise InputError(
                    f"{self.folder}: parts of another sweep (the definition, a file it names, "
                    "--vary or the version differ); "
                    "delete that folder to start again"
                )
        try:
            self.folder.mkdir(exist_ok=True)
        except OSError as error:
            raise InputError(
                f"{self.folder}: can't be made ({error.strerror or error})"
            ) from error
        write_text(mark, json.dumps({
            "fingerprint": self.plan.fingerprint, "rows": self.plan.rows,
            "chunks": self.plan.chunks, "vary": [axis.path for axis in self.plan.axes],
        }, indent=1))

    def path(self, number: int) -> Path:
        """Of one part."""
        return self.folder / f"part-{number:07d}.npz"

    def missing(self) -> list[int]:
        """Chunks that have no part yet, or one that is damaged or not theirs."""
        return [n for n in range(self.plan.chunks) if not self._intact(n)]

    def write(self, number: int, columns: Columns) -> None:
        """Keep the columns of one chunk, with what tells whether they are still the same."""
        content = _packed(columns)
        content[_CHECKSUM] = np.array(self._checksum(number, content))
        with replacing(self.path(number)) as scratch, scratch.open("wb") as file:
            np.savez(file, **content)  # type: ignore[arg-type]

    def _checksum(self, number: int, content: dict[str, np.ndarray]) -> str:
        """Of one chunk of this sweep; a part of another place or sweep has another."""
        found = hashlib.sha256(f"{self.plan.fingerprint} {number}".encode())
        for name, values in content.items():
            found.update(f" {name} {values.dtype.str} {values.shape} ".encode())
            found.update(np.ascontiguousarray(values).tobytes())
        return found.hexdigest()

    def _intact(self, number: int) -> bool:
        if not self.path(number).is_file():
            return False
        try:
            with self._part(number) as part:
                content = dict(part.items())
            stated = str(content.pop(_CHECKSUM))
            return stated == self._checksum(number, content) and set(units(self.plan)) <= set(
                content)
        except _DAMAGE:
            return False

    def columns(self, number: int) -> Columns:
        """Read one part."""
        return self.some(number, list(units(self.plan)))

    def some(self, number: int, names: Sequence[str]) -> Columns:
        """Read some columns of one part."""
        with self._part(number) as part:
            return {
                name: Words(part[_WORDS + name], part[name]) if _WORDS + name in part
                else part[name] for name in names}

    @contextmanager
    def _part(self, number: int) -> Iterator[Any]:
        """An open part; closed even when it is too damaged to be one."""
        with self.path(number).open("rb") as file, np.load(file, allow_pickle=False) as part:
            yield part

    def each(self) -> Iterator[Columns]:
        """All parts in order."""
        for number in range(self.plan.chunks):
            yield self.columns(number)

    def join(self) -> None:
        """Write the result from the parts and take them away. Holds one part at a time."""
        writer: Callable[[Parts, Path], None] = {
            ".csv": _write_csv, ".parquet": _write_parquet, ".npz": _write_npz,
        }[self.output.suffix.lower()]
        if dataclasses.replace(self.plan).fingerprint != self.plan.fingerprint:
            raise InputError(
                f"{self.folder}: a file that the definition names has changed while the sweep ran; "
                "delete that folder and start again"
            )
        with replacing(self.output) as scratch:
            writer(self, scratch)
        # The result stands; parts that can't be removed are no reason to fail.
        shutil.rmtree(self.folder, ignore_errors=True)


def _packed(columns: Columns) -> dict[str, np.ndarray]:
    """Columns whose words are places among the few that differ, and those."""
    found: dict[str, np.ndarray] = {}
    for name, values in columns.items():
        if isinstance(values, Words):
            found[name], found[_WORDS + name] = values.places, values.table
        else:
            found[name] = values
    return found


def _head(parts: Parts) -> list[str]:
    return [f"{name} [{unit}]" if unit else name for name, unit in units(parts.plan).items()]


def _write_csv(parts: Parts, path: Path) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file)
        out.writerow(_head(parts))
        for columns in parts.each():
            listed = []
            for values in columns.values():
                cells: list[Any] = values.tolist()
                kind = "U" if isinstance(values, Words) else values.dtype.kind
                if kind == "f":
                    # An empty cell is what every reader of CSV takes for "no value".
                    cells = ["" if cell != cell else cell for cell in cells]
                elif kind == "b":
                    cells = [int(cell) for cell in cells]
                listed.append(cells)
            out.writerows(zip(*listed, strict=True))


def _write_parquet(parts: Parts, path: Path) -> None:
    arrow = arrow_library()
    from pyarrow import parquet

    named = units(parts.plan)
    # Only what repeats is worth a dictionary: half the time, and a sixth of the size.
    repeated = [axis.path for axis in parts.plan.axes] + [
        name for name in named if name.endswith(".governing")]
    writer = None
    try:
        for columns in parts.each():
            arrays = [
                arrow.DictionaryArray.from_arrays(
                    values.places, list(values.among)).dictionary_decode()
                if isinstance(values, Words) else arrow.array(values)
                for values in columns.values()]
            schema = arrow.schema([
                arrow.field(name, array.type, metadata={"unit": named[name]})
                for name, array in zip(columns, arrays, strict=True)
            ])
            if writer is None:
                writer = parquet.ParquetWriter(
                    path, schema, compression="zstd", use_dictionary=repeated)
            writer.write_table(arrow.Table.from_arrays(arrays, schema=schema))
    finally:
        if writer is not None:
            writer.close()


def _write_npz(parts: Parts, path: Path) -> None:
    """An uncompressed NPZ, column by column, without holding a whole column."""
    named = units(parts.plan)
    first = parts.columns(0)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED, allowZip64=True) as archive:

        def entry(name: str, dtype: np.dtype[Any], count: int) -> BinaryIO:
            # A fixed date, so that the same sweep gives the same bytes.
            info = zipfile.ZipInfo(f"{name}.npy", date_time=(1980, 1, 1, 0, 0, 0))
            file = archive.open(info, "w", force_zip64=True)
            np.lib.format.write_array_header_1_0(file, {
                "descr": np.lib.format.dtype_to_descr(dtype), "fortran_order": False,
                "shape": (count,),
            })
            return file  # type: ignore[return-value]

        for name in named:
            with entry(name, np.asarray(first[name][:1]).dtype, parts.plan.rows) as file:
                for number in range(parts.plan.chunks):
                    file.write(np.asarray(parts.some(number, [name])[name]).tobytes())
        shown = np.array([f"{name} [{unit}]" for name, unit in named.items() if unit] or [""])
        with entry("units", shown.dtype, len(shown)) as file:
            file.write(shown.tobytes())
