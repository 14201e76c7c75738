"""Rows of 32-bit integers as the compiled control core sees them: an address each, nothing else.

An array of numpy is seven words to numba, handed on in every call and counted by reference. The core's functions are many, small,
and take three of them; with the bare address a call costs what it costs in C, and the compiler puts most of them in line by itself.
State, settings and inputs are told apart, so that it also knows that writing one does not change the others.
"""

from __future__ import annotations

import operator

from llvmlite import ir
from numba.core import cgutils, types
from numba.core.errors import TypingError
from numba.core.typing.templates import AbstractTemplate, infer_global, signature
from numba.extending import intrinsic, lower_builtin, models, overload, register_model

ROLES = ("state", "settings", "inputs")


class Ints(types.Type):
    """A row of int32 by its address. `role` (one of ROLES): rows of different roles do not overlap."""

    def __init__(self, role: str):
        self.role = role
        super().__init__(name=f"Ints({role})")


@register_model(Ints)
class IntsModel(models.PrimitiveModel):
    """One address."""

    def __init__(self, manager, kind):
        super().__init__(manager, kind, ir.PointerType(ir.IntType(32)))


def address_of(role: str):
    """An intrinsic that gives the address of a contiguous int32 array, in this role."""

    @intrinsic
    def address(_, ints):
        """The first entry's address."""
        if not isinstance(ints, types.Array) or (ints.ndim, ints.layout, ints.dtype) != (1, "C", types.int32):
            raise TypingError(f"{role}: {ints}: allowed a contiguous row of int32")

        def generate(context, builder, call, given):
            return context.make_array(call.args[0])(context, builder, given[0]).data

        return Ints(role)(ints), generate

    return address


_ADDRESSES = {role: address_of(role) for role in ROLES}
_state, _settings, _inputs = (_ADDRESSES[role] for role in ROLES)


def as_state(ints):
    """The row itself; compiled, its bare address."""
    return ints


def as_settings(ints):
    """The row itself; compiled, its bare address."""
    return ints


def as_inputs(ints):
    """The row itself; compiled, its bare address."""
    return ints


overload(as_state)(lambda ints: lambda ints: _state(ints))
overload(as_settings)(lambda ints: lambda ints: _settings(ints))
overload(as_inputs)(lambda ints: lambda ints: _inputs(ints))


@infer_global(operator.getitem)
class GetInt(AbstractTemplate):
    """ints[index]"""

    def generic(self, given, _):
        """int32, as from an array."""
        if isinstance(given[0], Ints) and isinstance(given[1], types.Integer):
            return signature(types.int32, given[0], types.intp)
        return None


@infer_global(operator.setitem)
class SetInt(AbstractTemplate):
    """ints[index] = value"""

    def generic(self, given, _):
        """Cut to 32 bits, as into an array."""
        if isinstance(given[0], Ints) and isinstance(given[1], types.Integer):
            return signature(types.none, given[0], types.intp, types.int32)
        return None


def tell_apart(builder, access, role: str) -> None:
    """Mark a load or store: it touches this row and none of the others."""
    module = builder.module
    domain = module.add_metadata(["twinloop rows"])
    scopes = {name: module.add_metadata([f"twinloop {name}", domain]) for name in ROLES}
    access.set_metadata("alias.scope", module.add_metadata([scopes[role]]))
    access.set_metadata("noalias", module.add_metadata([scope for name, scope in scopes.items() if name != role]))


@lower_builtin(operator.getitem, Ints, types.intp)
def get_int(context, builder, call, given):
    """A load."""
    value = builder.load(builder.gep(given[0], [given[1]], inbounds=True))
    tell_apart(builder, value, call.args[0].role)
    return value


@lower_builtin(operator.setitem, Ints, types.intp, types.int32)
def set_int(context, builder, call, given):
    """A store."""
    done = builder.store(given[2], builder.gep(given[0], [given[1]], inbounds=True))
    tell_apart(builder, done, call.args[0].role)
    return context.get_dummy_value()
