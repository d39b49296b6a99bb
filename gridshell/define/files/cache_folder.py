"""Where files that can be made again are kept for the next time."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping
from pathlib import Path


def cache_folder(
    kind: str, environment: Mapping[str, str] = os.environ, platform: str = sys.platform
) -> Path:
    """Folder of the user's cache, as the platform has it.

    XDG base directories (freedesktop.org, version 0.8): $XDG_CACHE_HOME if it is an absolute path,
    else ~/.cache; ~/Library/Caches on macOS; %LOCALAPPDATA% on Windows.

    Args:
        kind: of files, the last part of the path.
        environment: environment variables.
        platform: as `sys.platform`.

    >>> cache_folder("unit-cells", {"XDG_CACHE_HOME": "/var/tmp/me"}, "linux").as_posix()
    '/var/tmp/me/gridshell/unit-cells'
    """
    home = Path.home()
    if platform == "win32":
        base = Path(environment.get("LOCALAPPDATA") or home / "AppData" / "Local")
    elif platform == "darwin":
        base = home / "Library" / "Caches"
    else:
        stated = environment.get("XDG_CACHE_HOME", "")
        base = Path(stated) if stated.startswith("/") else home / ".cache"
    return base / "gridshell" / kind
