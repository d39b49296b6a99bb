"""Formulas that numba compiles where many designs ask for them; loaded only then.

A formula is a function of numbers that numpy arrays can take the place of. For one design or a few
it runs as it stands. For many, `for_many` runs the same text compiled in one loop over the designs,
which spares the memory traffic of an array for every operation. So a formula may not branch on an
array, nor call what the compiler does not know (numpy's elementwise functions, arithmetic, other
formulas).

Where machine code is kept, and how it is loaded: `gridshell.define.machine_code`.
"""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable
from typing import Any, ParamSpec, TypeVar

import numpy as np

from gridshell.define.machine_code import ARRAY, WHOLE, MachineCode, loaded

P = ParamSpec("P")
R = TypeVar("R")
_Function = Callable[..., Any]

# Designs from which loading machine code pays, and from which it pays once some is loaded.
_MANY, _SOME = 20_000, 16
_FORMULAS: dict[_Function, _Function] = {}  # what formulas are called as -> their own text


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
        tables: how many of its arguments, the last, are tables that every design reads from: none
            or two.
    """
    def mark(function: Callable[P, R]) -> Callable[P, R]:
        plain: _Function = function
        names = tuple(inspect.signature(function).parameters.values())

        @functools.wraps(function)
        def called(*given: Any, **named: Any) -> Any:
            values = given + tuple(
                named[one.name] if one.name in named else one.default for one in names[len(given):])
            count = len(values) - tables
            numbers = values[:count]
            size = max([getattr(value, "size", 1) for value in numbers])
            if size < (_SOME if loaded() else _MANY):
                return plain(*values)
            shape = np.broadcast(*numbers).shape
            rows = np.empty((count, *shape))
            for row, value in enumerate(numbers):
                rows[row] = value
            rows = rows.reshape(count, -1)
            found = np.empty((results, rows.shape[1]))
            read = values[count:]
            _loop(function, count, results, tuple(table.shape for table in read))(
                rows, found, rows.shape[1], *read)
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
def _loop(
    function: _Function, arguments: int, results: int, tables: tuple[tuple[int, ...], ...]
) -> MachineCode:
    """The compiled loop of a formula over the columns of a table.

    Args:
        function: of one design.
        arguments: its numbers, the rows of the table.
        results: its answers, the rows of a second one.
        tables: shapes of the two tables that every design reads from, or none.
    """
    def text() -> _Function:
        from numba import carray
        from numba.extending import register_jitable

        _register()
        inlined = register_jitable(forceinline=True)
        one, read = inlined(function), column_reader()
        if results == 1:
            def store(found: Any, i: Any, answer: Any) -> None:
                found[0, i] = answer
        else:
            def store(found: Any, i: Any, answer: Any) -> None:
                for k in range(results):
                    found[k, i] = answer[k]
        store = inlined(store)
        if tables:
            first, second = tables

            def over(rows_at: Any, found_at: Any, count: Any, one_at: Any, other_at: Any) -> None:
                rows = carray(rows_at, (arguments, count))
                found = carray(found_at, (results, count))
                both = carray(one_at, first), carray(other_at, second)
                for i in range(count):
                    store(found, i, one(*(read(rows, i, arguments) + both)))
        else:
            # The same loop without tables: numba takes no function with a varying signature.
            def over(rows_at: Any, found_at: Any, count: Any) -> None:  # type: ignore[misc]
                rows = carray(rows_at, (arguments, count))
                found = carray(found_at, (results, count))
                for i in range(count):
                    store(found, i, one(*read(rows, i, arguments)))
        return over

    shapes = "".join(f"-{'x'.join(map(str, shape))}" for shape in tables)
    return MachineCode(
        f"{function.__module__}.{function.__qualname__}{shapes}",
        (ARRAY, ARRAY, WHOLE) + (ARRAY,) * len(tables), text)


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
