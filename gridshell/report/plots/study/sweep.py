"""Picture of a sweep: one line or a map of a result over the fields that were varied."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.schema import nearest
from gridshell.report.numbers import axis, column_name, degrees
from gridshell.report.plots import style

_LINES = (
    (style.BLUE, "-"), (style.RED, (0, (6, 2))), (style.GREEN, (0, (1, 1.2))),
    (style.PURPLE, (0, (4, 1.5, 1, 1.5))), (style.ORANGE, (0, (8, 2, 2, 2))),
    (style.INK, (0, (3, 1))),
)
_MOST_PANELS = 6


def read_sweep(path: str | Path) -> tuple[dict[str, np.ndarray], dict[str, str]]:
    """Columns of a sweep's result and their units; .csv, .npz or .parquet.

    Raises:
        InputError: not a sweep's result.
    """
    source = Path(path)
    ending = source.suffix.lower()
    if not source.is_file():
        raise InputError(f"{source}: is not there; make it with 'gridshell sweep'")
    if ending == ".npz":
        with np.load(source, allow_pickle=False) as kept:
            columns = {name: kept[name] for name in kept.files if name != "units"}
            listed = kept["units"].tolist() if "units" in kept.files else []
        units = dict(entry[:-1].split(" [", 1) for entry in listed if entry)
        return columns, units
    if ending == ".parquet":
        from gridshell.study.sweep.store import arrow_library

        arrow_library()
        from pyarrow import parquet

        table = parquet.read_table(source)
        units = {
            field.name: (field.metadata or {}).get(b"unit", b"").decode()
            for field in table.schema
        }
        return {name: table[name].to_numpy() for name in table.column_names}, units
    if ending == ".csv":
        return _read_csv(source)
    raise InputError(f"{source}: ending must be .csv, .npz or .parquet")


def _read_csv(source: Path) -> tuple[dict[str, np.ndarray], dict[str, str]]:
    import csv

    with source.open(encoding="utf-8", newline="") as file:
        rows = csv.reader(file)
        head = next(rows, [])
        cells = list(zip(*rows, strict=True))
    if not head or not cells:
        raise InputError(f"{source}: holds no designs")
    columns, units = {}, {}
    for title, values in zip(head, cells, strict=True):
        name, _, unit = title.partition(" [")
        units[name] = unit.rstrip("]")
        try:
            columns[name] = np.array([float(v) if v else np.nan for v in values])
        except ValueError:
            columns[name] = np.array(values)
    return columns, units


def _varied(columns: dict[str, np.ndarray]) -> list[str]:
    names = list(columns)
    return names[1:names.index("possible")]


_KINDS = {
    "m": "length", "kg": "mass", "rad": "angle", "Pa": "pressure", "N*m^2": "stiffness",
    "N": "force", "N*m": "moment", "Hz": "frequency", "N/m": "line_force",
}


def _shown(values: np.ndarray, unit: str, system: str) -> tuple[np.ndarray, str]:
    """Values in the unit people read, and that unit."""
    if unit == "K":
        return degrees(values, system), "°F" if system == "inch" else "°C"
    if unit not in _KINDS:
        return values, unit
    known = np.abs(values[np.isfinite(values)])
    scale, word = axis(_KINDS[unit], system, float(known.max()) if known.size else 1.0)
    return values * scale, word


def _axis_label(name: str, unit: str) -> str:
    return f"{column_name(name)} [{unit}]" if unit else column_name(name)


def _panels(columns: dict[str, np.ndarray], varied: list[str]) -> tuple[str | None, list[Any]]:
    """The field that tells the panels of a map apart, and its values."""
    words = [n for n in varied if columns[n].dtype.kind in "US"]
    rest = [n for n in varied if n not in words]
    split = words[0] if words else (rest[2] if len(rest) > 2 else None)
    if split is None:
        return None, [None]
    values = list(dict.fromkeys(columns[split].tolist()))
    if len(values) > _MOST_PANELS:
        picks = np.unique(np.linspace(0, len(values) - 1, _MOST_PANELS).astype(int))
        values = [values[i] for i in picks]
    return split, values


def plot_sweep(
    source: str | Path, path: str | Path, result: str = "margin", system: str = "metric"
) -> None:
    """Draw one result of a sweep: a line over one field, or maps over the first two.

    A third field, or words such as the pattern, make panels; where more fields were varied, the
    best (highest; for mass lowest) over the rest is drawn.

    Args:
        source: the sweep's result file.
        path: png, pdf or svg.
        result: the column to draw.
        system: metric or inch.

    Raises:
        InputError: no such column, or the picture can't be written.
    """
    style.check_picture_path(path)
    columns, units = read_sweep(source)
    varied = _varied(columns)
    numeric = [n for n, c in columns.items() if c.dtype.kind in "fi" and n not in varied]
    if result not in numeric or result == "row":
        raise InputError(f"no result {result!r} in {source}; {nearest(result, numeric)}")
    split, values = _panels(columns, varied)
    axes_fields = [n for n in varied if n != split and columns[n].dtype.kind not in "US"]
    if not axes_fields:
        raise InputError(f"{source}: no number was varied, so there is no axis to draw over")
    if len(axes_fields) == 1:
        _lines(
            columns, units, split=split, values=values, field=axes_fields[0], result=result,
            path=path, system=system,
        )
    else:
        rest = [n for n in varied if n != split and n not in axes_fields[:2]]
        said = f" (best over {', '.join(map(column_name, rest))})" if rest else ""
        _maps(
            columns, units, split=split, values=values, fields=axes_fields[:2], result=result,
            path=path, rest=said, system=system,
        )


def _best(keys: list[np.ndarray], found: np.ndarray, low_is_good: bool
          ) -> tuple[list[np.ndarray], np.ndarray]:
    """The best result for each combination of keys, on their grid; NaN where there is none."""
    axes, places = zip(*(np.unique(key, return_inverse=True) for key in keys), strict=True)
    grid = np.full([len(axis) for axis in axes], np.nan)
    index = tuple(places)
    better = np.fmin if low_is_good else np.fmax
    better.at(grid, index, found)
    return list(axes), grid


def _lines(columns: dict[str, np.ndarray], units: dict[str, str], split: str | None,
           values: list[Any], field: str, result: str, path: str | Path,
           system: str) -> None:
    with style.figure(7.5, 4.8) as (drawn, axes):
        unit = ""
        for number, value in enumerate(values):
            rows = slice(None) if split is None else columns[split] == value
            (x,), y = _best([columns[field][rows]], columns[result][rows], result == "mass")
            x, x_unit = _shown(x, units.get(field, ""), system)
            y, unit = _shown(y, units.get(result, ""), system)
            color, dash = _LINES[number % len(_LINES)]
            axes.plot(x, y, color=color, ls=dash, lw=1.8,
                      label=None if split is None else _panel(split, value, units, system))
        if result.endswith("margin"):
            axes.axhline(0.0, color=style.INK, lw=1.0)
        axes.set_xlabel(_axis_label(field, x_unit))
        axes.set_ylabel(_axis_label(result, unit))
        if split is not None:
            axes.legend(frameon=False, fontsize=8.5, handlelength=3)
        style.save(drawn, path)


def _panel(split: str, value: Any, units: dict[str, str], system: str) -> str:
    """What tells one panel or line from the others."""
    return f"{column_name(split)} {_value(value, units, split, system)}"


def _value(value: Any, units: dict[str, str], name: str, system: str) -> str:
    if isinstance(value, str):
        return value
    number, unit = _shown(np.asarray(float(value)), units.get(name, ""), system)
    return f"{float(number):.4g} {unit}".strip()


def _maps(columns: dict[str, np.ndarray], units: dict[str, str], split: str | None,
          values: list[Any], fields: list[str], result: str, path: str | Path,
          rest: str, system: str) -> None:
    count = len(values)
    across = min(count, 3)
    down = -(-count // across)
    found = []
    for value in values:
        rows = slice(None) if split is None else columns[split] == value
        found.append(_best(
            [columns[f][rows] for f in fields], columns[result][rows], result == "mass"))
    every = np.concatenate([grid.ravel() for _, grid in found])
    every, unit = _shown(every[np.isfinite(every)], units.get(result, ""), system)
    if not every.size:
        raise InputError(f"no design of this sweep is possible: no {result} to draw")
    low, high = np.quantile(every, [0.02, 0.98]) if every.size > 50 else (every.min(), every.max())
    from matplotlib.ticker import MaxNLocator

    levels = MaxNLocator(10).tick_values(low, max(high, low + 1e-9 * max(abs(low), 1.0)))
    with style.figure(4.6 * across + 1.2, 4.1 * down + 0.3, down, across, squeeze=False) as (
            drawn, panels):
        colored = None
        for place, axes in enumerate(panels.ravel()):
            if place >= count:
                axes.set_axis_off()
                continue
            (x, y), grid = found[place]
            x, x_unit = _shown(x, units.get(fields[0], ""), system)
            y, y_unit = _shown(y, units.get(fields[1], ""), system)
            z, _ = _shown(grid, units.get(result, ""), system)
            # Lightness runs one way only, so the map reads in grey and to color-blind eyes.
            colored = axes.contourf(x, y, z.T, levels=levels, cmap="cividis", extend="both")
            if np.nanmin(z) < 0 < np.nanmax(z) and result.endswith("margin"):
                axes.contour(x, y, z.T, levels=[0.0], colors=["white"], linewidths=3.4)
                axes.contour(x, y, z.T, levels=[0.0], colors=[style.INK], linewidths=1.6)
                if place == 0:
                    axes.plot([], [], color=style.INK, lw=1.6, label="margin zero")
                    axes.legend(loc="upper left", fontsize=9)
            axes.set_xlabel(_axis_label(fields[0], x_unit))
            axes.set_ylabel(_axis_label(fields[1], y_unit))
            if split is not None:
                axes.set_title(_panel(split, values[place], units, system))
        label = _axis_label(result, unit)
        drawn.colorbar(colored, ax=panels, label=f"{label}{rest}", shrink=0.9)
        style.save(drawn, path)
