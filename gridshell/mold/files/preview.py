"""Pictures of pieces, rendered off screen by VTK (which cadquery brings along).

On a bare Debian machine VTK needs the packages libgl1 and libegl1; without a display it draws in
software.
"""

from __future__ import annotations

import functools
import os
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.types import Array

Scene = tuple[Array, np.ndarray, tuple[float, float, float]]
"""Vertices (v, 3), triangles (n, 3), color."""

SIZE = (1400, 1000)  # pixels
CREASE = 40.0  # deg; edges between facets that turn by more are drawn


def preload() -> None:
    """Load VTK, so that forked children need not each do it."""
    import vtkmodules.util.numpy_support
    import vtkmodules.vtkCommonCore
    import vtkmodules.vtkFiltersCore
    import vtkmodules.vtkIOImage
    import vtkmodules.vtkRenderingOpenGL2  # noqa: F401


def draw_preview(
    scenes: Sequence[Scene], path: Path, toward_eye: tuple[float, float, float]
) -> None:
    """Render meshes to a PNG, seen from a direction, z up.

    Args:
        scenes: meshes with their colors.
        path: of the PNG.
        toward_eye: direction from the scene to the eye.

    Raises:
        OSError: the picture could not be drawn or written.
    """
    import vtkmodules.vtkRenderingOpenGL2  # noqa: F401  registers the drawing backend
    from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray
    from vtkmodules.vtkCommonCore import vtkLogger, vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData
    from vtkmodules.vtkFiltersCore import vtkFeatureEdges, vtkPolyDataNormals
    from vtkmodules.vtkIOImage import vtkPNGWriter
    from vtkmodules.vtkRenderingCore import (
        vtkActor,
        vtkPolyDataMapper,
        vtkRenderer,
        vtkWindowToImageFilter,
    )

    # Without a display VTK says so before it draws in software; that is no news.
    vtkLogger.SetStderrVerbosity(vtkLogger.VERBOSITY_ERROR)
    renderer = vtkRenderer()
    renderer.SetBackground(1.0, 1.0, 1.0)
    for vertices, corners, color in scenes:
        points = vtkPoints()
        points.SetData(numpy_to_vtk(np.ascontiguousarray(vertices), deep=True))
        cells = vtkCellArray()
        cells.SetData(3, numpy_to_vtkIdTypeArray(
            np.ascontiguousarray(corners.ravel(), np.int64), deep=True))
        body = vtkPolyData()
        body.SetPoints(points)
        body.SetPolys(cells)
        normals = vtkPolyDataNormals()
        normals.SetInputData(body)
        normals.SetFeatureAngle(CREASE)
        normals.SplittingOn()
        normals.ConsistencyOff()  # the meshes are: turning none takes half of the time away
        surface = vtkPolyDataMapper()
        surface.SetInputConnection(normals.GetOutputPort())
        actor = vtkActor()
        actor.SetMapper(surface)
        actor.GetProperty().SetColor(*color)
        actor.GetProperty().SetAmbient(0.25)
        actor.GetProperty().SetDiffuse(0.8)
        renderer.AddActor(actor)
        creases = vtkFeatureEdges()
        creases.SetInputData(body)
        creases.BoundaryEdgesOff()
        creases.NonManifoldEdgesOff()
        creases.FeatureEdgesOn()
        creases.SetFeatureAngle(CREASE)
        creases.ColoringOff()
        lines = vtkPolyDataMapper()
        lines.SetInputConnection(creases.GetOutputPort())
        lines.ScalarVisibilityOff()
        edges = vtkActor()
        edges.SetMapper(lines)
        edges.GetProperty().SetColor(0.12, 0.14, 0.18)
        edges.GetProperty().SetLineWidth(1.0)
        edges.GetProperty().LightingOff()
        renderer.AddActor(edges)
    window = _window(os.getpid(), threading.get_ident())
    window.AddRenderer(renderer)
    renderer.UseFXAAOn()
    every = np.concatenate([vertices for vertices, _, _ in scenes])
    center = (every.min(axis=0) + every.max(axis=0)) / 2
    camera = renderer.GetActiveCamera()
    camera.SetFocalPoint(*center)
    camera.SetPosition(*(center + np.array(toward_eye) * 1000))
    camera.SetViewUp(0, 0, 1)
    camera.SetViewAngle(18)
    renderer.ResetCamera()
    _fill(renderer, every)
    window.Render()
    image = vtkWindowToImageFilter()
    image.SetInput(window)
    image.ReadFrontBufferOff()
    image.ShouldRerenderOff()  # it is drawn already
    writer = vtkPNGWriter()
    writer.SetCompressionLevel(1)  # a third larger, in a quarter of the time
    writer.SetFileName(str(path))
    writer.SetInputConnection(image.GetOutputPort())
    writer.Write()
    window.RemoveRenderer(renderer)
    if not path.exists() or path.stat().st_size == 0:
        raise OSError(f"{path.name}: the picture could not be written (is the disk full?)")


@functools.cache
def _window(process: int, thread: int) -> Any:
    """A window off the screen, which takes as long to make as a picture: one for each process and
    thread, which can't share one, and none is ever closed: a forked child must leave alone what it
    inherits."""
    from vtkmodules.vtkRenderingCore import vtkRenderWindow

    window = vtkRenderWindow()
    window.SetOffScreenRendering(1)
    window.SetMultiSamples(0)
    window.SetSize(*SIZE)
    return window


def _fill(renderer: object, points: Array) -> None:
    """Move in until the points, not their bounding sphere, fill the picture."""
    camera = renderer.GetActiveCamera()  # type: ignore[attr-defined]
    sample = points[:: max(1, len(points) // 20000)]
    matrix = camera.GetCompositeProjectionTransformMatrix(SIZE[0] / SIZE[1], -1, 1)
    flat = np.array([[matrix.GetElement(i, j) for j in range(4)] for i in range(4)])
    projected = np.c_[sample, np.ones(len(sample))] @ flat.T
    reach = float(np.abs(projected[:, :2] / projected[:, 3:]).max())
    camera.Zoom(0.94 / reach)
    renderer.ResetCameraClippingRange()  # type: ignore[attr-defined]
