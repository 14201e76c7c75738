"""Rows of numbers as compiled code sees them: an address each, nothing else.

An array of numpy is seven words to numba, handed on in every call and counted by reference. Control core and plant are many small
functions that take several; with the bare address a call costs what it costs in C, and the compiler puts most of them in line by
itself. Each row has a role, and rows of different roles never overlap, so that it also knows that writing one changes no other.
"""

from __future__ import annotations

import operator

from numba.core import types
from numba.core.errors import TypingError
from numba.core.typing.templates import AbstractTemplate, infer_global, signature
from numba.extending import intrinsic, lower_builtin, models, overload, register_model

# What a row may hold, by its role; the first three are the control core's.
ROLES = {
    "state": types.int32,
    "settings": types.int32,
    "inputs": types.int32,
    "plant": types.float64,
    "values": types.float64,
    "drive": types.float64,
    "flux": types.float64,
    "felt": types.float64,
    "trace": types.float64,
    "command": types.int64,
}


class Row(types.Type):
    """A row of numbers by its address. Args: `role` (one of ROLES)."""

    def __init__(self, role: str):
        self.role, self.dtype = role, ROLES[role]
        super().__init__(name=f"Row({role})")


@register_model(Row)
class RowModel(models.PrimitiveModel):
    """One address."""

    def __init__(self, manager, kind):
        super().__init__(manager, kind, manager[kind.dtype].get_data_type().as_pointer())


@intrinsic(prefer_literal=True)
def _address(_, array, role):
    # The address of an array's first entry.
    if not isinstance(role, types.StringLiteral):
        raise TypingError("the role has to be written out")
    dtype = ROLES[role.literal_value]
    if not isinstance(array, types.Array) or (array.ndim, array.layout, array.dtype) != (1, "C", dtype):
        raise TypingError(f"{role.literal_value}: {array}: allowed a contiguous row of {dtype}")

    def generate(context, builder, call, given):
        return context.make_array(call.args[0])(context, builder, given[0]).data

    return Row(role.literal_value)(array, role), generate


def bare(array, role):
    """Return the array itself; in compiled code its bare address.

    Args: `array` (contiguous, one axis, of the role's kind of number; or already bare), `role` (one of ROLES, written out). The
    array has to be kept by the caller, or used after the last look at its bare row; arrays of different roles must not overlap; an
    index is not checked and not counted from the end.
    """
    return array


@overload(bare, prefer_literal=True)
def _bare(array, role):
    if isinstance(array, Row):
        return lambda array, role: array
    return lambda array, role: _address(array, role)


@infer_global(operator.getitem)
class Get(AbstractTemplate):
    """row[index]"""

    def generic(self, given, _):
        """The number, of the same type as from an array."""
        if isinstance(given[0], Row) and isinstance(given[1], types.Integer):
            return signature(given[0].dtype, given[0], types.intp)
        return None


@infer_global(operator.setitem)
class Set(AbstractTemplate):
    """row[index] = value"""

    def generic(self, given, _):
        """The number is converted as into an array."""
        if not isinstance(given[0], Row) or not isinstance(given[1], types.Integer):
            return None
        if not self.context.can_convert(given[2], given[0].dtype):
            return None
        return signature(types.none, given[0], types.intp, given[0].dtype)


def tell_apart(builder, access, role: str) -> None:
    """Mark a load or store: it touches this row and none of the other roles."""
    module = builder.module
    domain = module.add_metadata(["twinloop rows"])
    scopes = {name: module.add_metadata([f"twinloop {name}", domain]) for name in ROLES}
    access.set_metadata("alias.scope", module.add_metadata([scopes[role]]))
    access.set_metadata("noalias", module.add_metadata([scope for name, scope in scopes.items() if name != role]))


@lower_builtin(operator.getitem, Row, types.intp)
def _load(context, builder, call, given):
    value = builder.load(builder.gep(given[0], [given[1]], inbounds=True))
    tell_apart(builder, value, call.args[0].role)
    return value


@lower_builtin(operator.setitem, Row, types.intp, types.Number)
def _store(context, builder, call, given):
    done = builder.store(given[2], builder.gep(given[0], [given[1]], inbounds=True))
    tell_apart(builder, done, call.args[0].role)
    return context.get_dummy_value()
