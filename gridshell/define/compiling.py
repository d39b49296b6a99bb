"""Formulas that numba compiles where many designs ask for them; loaded only then.

A formula is a function of numbers that numpy arrays can take the place of. For one design or a few
it runs as it stands. For many, `for_many` runs the same text compiled in one loop over the designs,
which spares the memory traffic of an array for every operation. So a formula may not branch on an
array, nor call what the compiler does not know (numpy's elementwise functions, arithmetic, other
formulas).

Machine code is kept beside its source, or in the user's cache folder, or, where neither can be
written, compiled again by each process (a second or so a formula).
"""

from __future__ import annotations

import functools
import hashlib
import inspect
import math
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

import numpy as np

P = ParamSpec("P")
R = TypeVar("R")
_Function = Callable[..., Any]

# Designs from which loading the compiler pays, and from which it pays once it is loaded.
_MANY, _SOME = 20_000, 16
_FORMULAS: dict[_Function, _Function] = {}  # what formulas are called as -> their own text
_FOLDERS = ("define", "wall", "tube")  # where the text of a compiled formula may stand


def formula(function: Callable[P, R]) -> Callable[P, R]:
    """Mark a function that formulas of `for_many` call."""
    _FORMULAS[function] = function
    return function


def for_many(
    results: int = 1, tables: int = 0
) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Mark a formula that is compiled for many designs.

    All of its arguments are numbers or arrays that broadcast, but for tables at the end.

    Args:
        results: how many numbers it returns (more than one as a tuple).
        tables: how many of its arguments, the last, are arrays that every design reads from.
    """
    def mark(function: Callable[P, R]) -> Callable[P, R]:
        plain: _Function = function
        names = tuple(inspect.signature(function).parameters.values())

        @functools.wraps(function)
        def called(*given: Any, **named: Any) -> Any:
            values = given + tuple(
                named[one.name] if one.name in named else one.default for one in names[len(given):])
            count = len(values) - tables
            size = max(getattr(value, "size", 1) for value in values[:count])
            if size < (_SOME if "numba" in sys.modules else _MANY):
                return plain(*values)
            shape = np.broadcast_shapes(*(np.shape(value) for value in values[:count]))
            rows = np.empty((count, math.prod(shape)))
            for row, value in zip(rows, values[:count], strict=True):
                row.reshape(shape)[...] = value
            found = np.empty((results, rows.shape[1]))
            _loop(function, count, results)(rows, found, values[count:])
            parts = tuple(part.reshape(shape) for part in found)
            return parts if results > 1 else parts[0]

        _FORMULAS[called] = function
        return called

    return mark


def everywhere(condition: Any) -> bool:
    """Whether a condition holds for all designs: of one in compiled code, of an array outside."""
    return bool(np.all(condition))


def where(condition: Any, yes: Any, no: Any) -> Any:
    """`numpy.where`, of which the compiler makes a choice between two numbers."""
    return np.where(condition, yes, no)[()]


def whole(value: Any) -> Any:
    """A number without its fraction, to find a place in a table by."""
    return np.asarray(value).astype(np.int64)[()]


@functools.cache
def _loop(function: _Function, arguments: int, results: int) -> _Function:
    """The compiled loop of a formula over the columns of a table."""
    from numba.extending import register_jitable

    _register()
    one = register_jitable(forceinline=True)(function)
    fixed = column_reader()
    if results == 1:
        def over(rows: Any, found: Any, tables: Any) -> None:
            for i in range(rows.shape[1]):
                found[0, i] = one(*(fixed(rows, i, arguments) + tables))
    else:
        def over(rows: Any, found: Any, tables: Any) -> None:
            for i in range(rows.shape[1]):
                parts = one(*(fixed(rows, i, arguments) + tables))
                for k in range(results):
                    found[k, i] = parts[k]
    over.__name__ = function.__name__
    over.__qualname__ = f"{function.__module__}.{function.__qualname__}"
    return compiled(over)


@functools.cache
def column_reader() -> _Function:
    """For compiled code: ``read(table, i, count)``, the first numbers of column i as a tuple.

    What numba offers for this copies the whole tuple for every number.
    """
    from numba.core import cgutils, types
    from numba.core.errors import RequireLiteralValue
    from numba.extending import intrinsic

    @intrinsic
    def read(context: Any, table: Any, i: Any, count: Any) -> Any:
        if not isinstance(count, types.IntegerLiteral):
            raise RequireLiteralValue("a known number of fields")

        def load(target: Any, builder: Any, signature: Any, given: Any) -> Any:
            kind = signature.args[0]
            array = target.make_array(kind)(target, builder, given[0])
            places = [target.get_constant(types.intp, k) for k in range(count.literal_value)]
            return target.make_tuple(builder, signature.return_type, [
                builder.load(cgutils.get_item_pointer(
                    target, builder, kind, array, (place, given[1])))
                for place in places])

        several = types.UniTuple(table.dtype, count.literal_value)
        return several(table, types.intp, count), load

    answer: _Function = read
    return answer


@functools.cache
def _register() -> None:
    """Make every formula known to the compiler."""
    from numba.extending import overload

    @overload(everywhere)
    def _everywhere(condition: Any) -> _Function:
        def one(condition: Any) -> Any:
            return condition

        return one

    @overload(where, jit_options={"forceinline": True})
    def _where(condition: Any, yes: Any, no: Any) -> _Function:
        def choice(condition: Any, yes: Any, no: Any) -> Any:
            return yes if condition else no

        return choice

    @overload(whole)
    def _whole(value: Any) -> _Function:
        def place(value: Any) -> Any:
            return int(value)

        return place

    for called, function in _FORMULAS.items():
        def text(*args: Any, _function: _Function = function, **named: Any) -> _Function:
            return _function

        overload(called, strict=False, jit_options={"forceinline": True})(text)


@functools.cache
def _digest() -> str:
    """Of the text of all formulas: machine code of another text is never run."""
    package = Path(__file__).parent.parent
    total = hashlib.sha256()
    for folder in _FOLDERS:
        for path in sorted((package / folder).rglob("*.py")):
            total.update(path.read_bytes())
    return total.hexdigest()


def compiled(function: _Function) -> _Function:
    """A function compiled, and kept where some folder can be written.

    Division by zero gives infinity as in numpy, and nothing is put in another order: results are
    numpy's to the last digits. The interpreter's lock is released, so that threads can share the
    work.

    Args:
        function: of a module, or a loop whose qualified name tells it from others.
    """
    from numba import njit
    from numba.core.caching import FunctionCache

    class Cache(FunctionCache):
        def _index_key(self, sig: Any, codegen: Any) -> tuple[Any, ...]:
            return sig, codegen.magic_tuple(), (function.__qualname__, _digest())

    make: _Function = Cache
    found: Any = njit(function, error_model="numpy", nogil=True)
    try:
        found._cache = make(function)
    except RuntimeError:  # no folder can be written
        pass
    answer: _Function = found
    return answer
