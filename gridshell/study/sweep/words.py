"""A column of words: the few that differ, and the place of each row's among them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from gridshell.define.types import IntArray

_LONGEST = "<U80"  # check names and choices are shorter


class Words:
    """Words of many rows. ``numpy.asarray`` gives them as strings.

    Attributes:
        among: the words that differ.
        places: of each row's word among these, (rows,).
    """

    def __init__(self, among: Sequence[str], places: Any) -> None:
        """Words at places.

        Args:
            among: words, each once.
            places: (rows,).
        """
        self.among = tuple(str(word) for word in among)
        self.places: IntArray = np.array(places, np.uint32)

    @classmethod
    def full(cls, count: int, word: str) -> Words:
        """The same word in every row."""
        return cls((word,), np.zeros(count, np.uint32))

    @property
    def table(self) -> np.ndarray:
        """``among`` as an array of strings, whose width is the same in every part of a sweep."""
        return np.array(self.among, _LONGEST)

    def put(self, rows: Any, other: Words) -> None:
        """Set some rows.

        Args:
            rows: which, as an index of an array.
            other: one word for each of them, or one for all.
        """
        known = {word: place for place, word in enumerate(self.among)}
        places = np.array(
            [known.setdefault(word, len(known)) for word in other.among], np.uint32)
        self.among = tuple(known)
        self.places[rows] = places[other.places]

    def __len__(self) -> int:
        return len(self.places)

    def __getitem__(self, rows: Any) -> Any:
        """The word of one row, or `Words` of some."""
        places = self.places[rows]
        return Words(self.among, places) if np.ndim(places) else self.among[int(places)]

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> np.ndarray:
        return np.array(self.among, dtype or _LONGEST)[self.places]

    def __eq__(self, other: object) -> Any:
        return np.asarray(self) == other

    def tolist(self) -> list[str]:
        """All words."""
        listed: list[str] = np.array(self.among, object)[self.places].tolist()
        return listed
