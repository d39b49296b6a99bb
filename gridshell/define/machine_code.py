"""Functions compiled once by numba, kept as machine code, and loaded without it.

Loading numba takes a second, loading the machine code of a function some milliseconds. Code is kept
beside the package or, where that can't be written, in the user's cache folder; where neither can
be written, each process compiles again (a second or two a function).

A compiled function takes arrays by their address and whole numbers, so that nothing of Python is
left in it.
"""

from __future__ import annotations

import ctypes
import functools
import hashlib
import re
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from gridshell import __version__
from gridshell.define.errors import InputError
from gridshell.define.files.cache_folder import cache_folder
from gridshell.define.files.replacing import replacing

ARRAY, WHOLE = "array", "whole"  # kinds of arguments: float64 in C order, and int64

_Function = Callable[..., Any]
_FOLDERS = ("define", "wall", "tube")  # where the text of a compiled function may stand
_KEPT = 4  # files of one function: of texts or processors that take turns
# What the compiler has names of its own for, and leaves to the mathematics library.
_INTRINSIC = re.compile(r"llvm\.(exp|log|pow|sin|cos)\.f64$")
# Nothing is counted: every array belongs to the caller.
_COUNTING = re.compile(
    r"^(define [^\n]*@NRT_(?:inc|dec)ref\([^\n]*\{\n).*?\n\}", re.DOTALL | re.MULTILINE)
_ENDED_WELL = (0, -2)  # what numba's functions return: with a value, and without one
_lock = threading.RLock()


class _Code(NamedTuple):
    """Machine code of one function.

    Attributes:
        name: of the function in it.
        outside: functions that it calls (of the mathematics library).
        machine: an object file.
    """

    name: str
    outside: tuple[str, ...]
    machine: bytes

    def packed(self) -> bytes:
        """As it is kept: checksum, a line of names, object file."""
        content = " ".join((self.name, *self.outside)).encode() + b"\n" + self.machine
        return hashlib.sha256(content).digest() + content


def _unpacked(data: bytes) -> _Code | None:
    """Code out of a file; None where that is not whole."""
    content = data[32:]
    if hashlib.sha256(content).digest() != data[:32]:
        return None
    line, _, machine = content.partition(b"\n")
    name, *outside = line.decode().split()
    return _Code(name, tuple(outside), machine)


class MachineCode:
    """A compiled function, compiled or loaded when it is first called.

    Attributes:
        name: tells it from all others.
        kinds: of its arguments, ARRAY or WHOLE.
        kept: file that the code came from, once it is loaded; None: compiled by this process.
    """

    def __init__(
        self, name: str, kinds: Sequence[str], text: Callable[[], _Function]
    ) -> None:
        """Name a function.

        Args:
            name: tells it from all others.
            kinds: of its arguments.
            text: gives the function that numba compiles; asked only where there is no code yet. An
                array comes to it as a pointer, to be read with `numba.carray`.
        """
        self.name, self.kinds, self._text = name, tuple(kinds), text
        self.kept: Path | None = None
        self._call: _Function | None = None

    def __call__(self, *given: Any) -> None:
        """Run it.

        Raises:
            TypeError: an array is not of float64 in C order.
        """
        call = self._call or self.load()
        words = []
        for kind, value in zip(self.kinds, given, strict=True):
            if kind == ARRAY:
                if value.dtype != np.float64 or not value.flags.c_contiguous:
                    raise TypeError(f"{self.name}: takes arrays of float64 in C order")
                words.append(value.ctypes.data)
            else:
                words.append(int(value))
        status = call(ctypes.byref(ctypes.c_void_p()), ctypes.byref(ctypes.c_void_p()), *words)
        if status not in _ENDED_WELL:
            raise ArithmeticError(f"{self.name}: ended with status {status}")

    def load(self) -> _Function:
        """The function as one to call, loaded or compiled if it is not yet."""
        with _lock:
            if self._call is None:
                code = self._read()
                if code is None:
                    last = self.name.rpartition(".")[2]
                    _tell[0](f"compiling formulas for this machine, once: {last}")
                    code = _compiled(self._text(), self.kinds, self.name)
                    self._keep(code)
                address = _address(code)
                words = [
                    ctypes.c_void_p if kind == ARRAY else ctypes.c_int64 for kind in self.kinds]
                # ctypes lets go of the interpreter's lock, so that threads can share the work.
                self._call = ctypes.CFUNCTYPE(
                    ctypes.c_int32, ctypes.c_void_p, ctypes.c_void_p, *words)(address)
            return self._call

    def _file(self) -> str:
        key = hashlib.sha256(repr((_text_digest(), _processor(), self.kinds)).encode()).hexdigest()
        return f"{self.name}-{key[:24]}.machine"

    def _read(self) -> _Code | None:
        for folder in _folders():
            try:
                code = _unpacked((folder / self._file()).read_bytes())
            except OSError:
                continue
            if code is not None and _resolved(code):
                self.kept = folder / self._file()
                return code
        return None

    def _keep(self, code: _Code) -> None:
        for folder in _folders():
            try:
                folder.mkdir(parents=True, exist_ok=True)
                with replacing(folder / self._file()) as beside:
                    beside.write_bytes(code.packed())
                files = folder.glob(f"{self.name}-{'?' * 24}.machine")
                for old in sorted(files, key=lambda file: -file.stat().st_mtime)[_KEPT:]:
                    old.unlink(missing_ok=True)
                return
            except (OSError, InputError):  # the next, or nowhere
                continue


_tell: list[Callable[[str], None]] = [lambda line: None]


def tell_of_compiling(say: Callable[[str], None]) -> None:
    """Have a line said before each function that is compiled, which takes seconds.

    Args:
        say: takes the line.
    """
    _tell[:] = [say]


def loaded() -> bool:
    """Whether this process has the machine code of some function."""
    return _engine.cache_info().currsize > 0


def _folders() -> Iterator[Path]:
    yield Path(__file__).parent / "__pycache__"
    yield cache_folder("machine-code")


@functools.cache
def _text_digest() -> str:
    """Of the text of all that may be compiled: machine code of another text is never run."""
    package = Path(__file__).parent.parent
    total = hashlib.sha256(__version__.encode())  # for a package without its text
    for folder in _FOLDERS:
        for path in sorted((package / folder).rglob("*.py")):
            total.update(path.read_bytes())
    return total.hexdigest()


@functools.cache
def _processor() -> tuple[str, ...]:
    """What machine code belongs to, and the compiler that makes it."""
    from llvmlite import __version__, binding

    return (
        binding.get_process_triple(), binding.get_host_cpu_name(),
        binding.get_host_cpu_features().flatten(), __version__,
    )


@functools.cache
def _machine() -> Any:
    """The machine that code is made for."""
    from llvmlite import binding

    binding.initialize_native_target()
    binding.initialize_native_asmprinter()
    triple, name, features, _ = _processor()
    return binding.Target.from_triple(triple).create_target_machine(
        cpu=name, features=features, opt=3, jit=True)


@functools.cache
def _engine() -> Any:
    """What holds loaded code in memory."""
    from llvmlite import binding

    return binding.create_mcjit_compiler(binding.parse_assembly(""), _machine())


def _resolved(code: _Code) -> bool:
    """Whether this process has all that the code calls; numba brings some along elsewhere."""
    from llvmlite import binding

    _engine()
    return all(binding.address_of_symbol(name) for name in code.outside)


def _address(code: _Code) -> int:
    from llvmlite import binding

    engine = _engine()
    engine.add_object_file(binding.ObjectFileRef.from_data(code.machine))
    engine.finalize_object()
    address: int = engine.get_function_address(code.name)
    return address


def _compiled(text: _Function, kinds: Sequence[str], name: str) -> _Code:
    """Compile a function.

    Division by zero gives infinity as in numpy, and nothing is put in another order: results are
    numpy's to the last digits.
    """
    from llvmlite import binding
    from numba import njit, types

    signature = types.void(*(
        types.CPointer(types.float64) if kind == ARRAY else types.int64 for kind in kinds))
    made: Any = njit(signature, error_model="numpy")(text)
    result = made.overloads[made.signatures[0]]
    module = binding.parse_assembly(
        _COUNTING.sub(r"\1  ret void\n}", result.library.get_llvm_str()))
    # Its callers from Python go, and with them all that only they use.
    wanted = result.fndesc.mangled_name
    for one in (*module.functions, *module.global_variables):
        if not one.is_declaration and one.name != wanted:
            one.linkage = "internal"
    passes = binding.create_new_module_pass_manager()
    passes.add_global_dead_code_eliminate_pass()
    passes.run(module, binding.create_pass_builder(
        _machine(), binding.create_pipeline_tuning_options(speed_level=3)))
    module.get_function(wanted).name = name
    declared = [one.name for one in module.functions if one.is_declaration]
    outside = {
        _INTRINSIC.sub(r"\1", one) for one in declared
        if not one.startswith("llvm.") or _INTRINSIC.match(one)}
    return _Code(name, tuple(sorted(outside)), _machine().emit_object(module))
