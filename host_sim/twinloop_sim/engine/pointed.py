"""Compiled loops reach core and plant through addresses: each is compiled once for all loops.

A loop calls functions outside of it by their names. Those of the core jump to where a cell points,
and the cells are set for every call of a loop: one loop serves every core, and an edit of the core
compiles the core, and no loop again. The plant's step is called directly.
"""

from __future__ import annotations

import ctypes
import functools
import threading
from types import SimpleNamespace

import numba
from llvmlite import binding, ir
from numba.core import cgutils, types
from numba.extending import intrinsic

from .bare import Row, bare

NAMES = ("step", "wake")
ROWS = (Row("state"), Row("settings"), Row("inputs"))
NOTHING = types.void(*ROWS)
PLANT = types.void(*map(Row, ("plant", "values", "drive", "command", "flux")), types.float64)
_cells = (ctypes.c_int64 * len(NAMES))()
# Held while a loop runs: another thread may have another core.
_turn = threading.RLock()


def type_of(given):
    """The C function's type, from what it is given."""
    return ir.FunctionType(ir.VoidType(), [value.type for value in given])


def jump_through(cell: int):
    """A C function that calls what this cell points to."""

    @intrinsic
    def through(_, state, settings, inputs):
        def generate(context, builder, call, given):
            place = ir.Constant(ir.IntType(64), cell)
            function = builder.load(builder.inttoptr(place, type_of(given).as_pointer().as_pointer()))
            builder.call(function, given)
            return context.get_dummy_value()

        return NOTHING, generate

    return numba.cfunc(NOTHING)(lambda state, settings, inputs: through(state, settings, inputs))


@functools.cache
def outside() -> SimpleNamespace:
    """What compiled loops call as `step` and `wake`: once for a process, before any is loaded."""
    found = SimpleNamespace(jumps=[])
    for place, name in enumerate(NAMES):
        jump = jump_through(ctypes.addressof(_cells) + place * ctypes.sizeof(ctypes.c_int64))
        binding.add_symbol(symbol_of(name), jump.address)
        # The linker keeps the address only.
        found.jumps.append(jump)
        setattr(found, name, caller(name))
    return found


def symbol_of(name: str) -> str:
    return f"twinloop_core_{name}"


def caller(name: str):
    """A compiled function that calls the C function of this name; takes rows as arrays or bare."""

    @intrinsic
    def by_name(_, state, settings, inputs):
        return NOTHING, call_of(name)

    def call(state, settings, inputs):
        by_name(bare(state, "state"), bare(settings, "settings"), bare(inputs, "inputs"))

    return numba.njit(call, error_model="numpy", forceinline=True, no_cfunc_wrapper=True)


def call_of(name: str):
    """Generates the call of the C function of this name."""

    def generate(context, builder, call, given):
        builder.call(cgutils.get_or_insert_function(builder.module, type_of(given), symbol_of(name)), given)
        return context.get_dummy_value()

    return generate


def plant_caller(entry):
    """A function like the plant's step, to be compiled, that calls this compiled one."""
    binding.add_symbol(symbol_of("plant"), address_of(entry, PLANT))

    @intrinsic
    def by_name(_, plant, values, drive, command, flux, dt_s):
        return PLANT, call_of("plant")

    def advance(plant, values, drive, command, flux, dt_s):
        here, built, now = bare(plant, "plant"), bare(values, "values"), bare(drive, "drive")
        by_name(here, built, now, bare(command, "command"), bare(flux, "flux"), dt_s)

    return advance


def address_of(entry, signature=NOTHING) -> int:
    """Where the machine code of a compiled function of bare rows begins."""
    entry.compile(signature.args)
    result = entry.get_compile_result(signature)
    return result.library.get_pointer_to_function(result.fndesc.llvm_cfunc_wrapper_name)


class Loop:
    """A compiled loop with the core that it calls; `entries` are compiled when it first runs."""

    def __init__(self, loop, entries):
        self.loop = loop
        self.entries = entries
        self.addresses: list[int] = []

    def __call__(self, *arguments):
        with _turn:
            self.addresses = self.addresses or [address_of(entry) for entry in self.entries]
            _cells[:] = self.addresses
            return self.loop(*arguments)
