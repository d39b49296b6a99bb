"""Memory for many arrays, one after another."""

from __future__ import annotations

import ctypes
import functools
import sys

_KEPT = 64 << 20  # bytes
_AT_ONCE = 16 << 20  # bytes taken from the system beyond what is needed
_ARRAY = 32 << 20  # bytes of one array, up to which it comes out of what is kept
_TRIM, _PAD, _MAP = -1, -2, -3  # numbers of these three in glibc's malloc.h


@functools.cache
def keep_freed_memory() -> None:
    """Have this process keep what arrays free for the next ones, up to 64 MB.

    An array operation on some thousand designs takes microseconds; taking its memory from the
    system anew, page by page and zeroed, takes as long. Of a scatter study that was 7 %. Nothing
    happens where the C library is not glibc.
    """
    if sys.platform != "linux":
        return
    try:
        settle = ctypes.CDLL(None).mallopt
    except (OSError, AttributeError):
        return
    for what, amount in ((_TRIM, _KEPT), (_PAD, _AT_ONCE), (_MAP, _ARRAY)):
        settle(what, amount)
