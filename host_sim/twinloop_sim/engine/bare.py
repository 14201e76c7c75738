"""Rows of numbers as bare addresses, for speed in compiled code.

To numba a numpy array is seven words, passed in every call and counted by reference. Core and plant
are many small functions that take several arrays. With bare addresses a call costs what it costs in
C, and the compiler inlines most of them. Each row has a role. Rows of different roles never
overlap, so the compiler knows that writing to one leaves the others unchanged.
"""

from __future__ import annotations

import operator

from numba.core import types
from numba.core.errors import TypingError
from numba.core.typing.templates import AbstractTemplate, infer_global, signature
from numba.extending import intrinsic, lower_builtin, models, overload, register_model

from ..thermal.rows import behind

# Number type of each role; the first three are the control core's.
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
    "memory": types.int32,
}


class Row(types.Type):
    """A row of numbers by its address, in one of the ROLES."""

    def __init__(self, role: str):
        self.role, self.dtype = role, ROLES[role]
        super().__init__(name=f"Row({role})")


@register_model(Row)
class RowModel(models.PrimitiveModel):
    def __init__(self, manager, kind):
        super().__init__(manager, kind, manager[kind.dtype].get_data_type().as_pointer())


@intrinsic(prefer_literal=True)
def _address(_, array, role):
    if not isinstance(role, types.StringLiteral):
        raise TypingError("the role must be a literal")
    dtype = ROLES[role.literal_value]
    if not isinstance(array, types.Array) or (array.ndim, array.layout, array.dtype) != (1, "C", dtype):
        raise TypingError(f"{role.literal_value}: {array}: allowed a contiguous row of {dtype}")

    def generate(context, builder, call, given):
        return context.make_array(call.args[0])(context, builder, given[0]).data

    return Row(role.literal_value)(array, role), generate


def bare(array, role):
    """Return the array itself; in compiled code, its bare address.

    Args: `array` (contiguous, one axis, of the role's number type; or already bare), `role` (one of
    ROLES, as a literal). The caller must keep the array alive until the bare row is last used.
    Arrays of different roles must not overlap. Indices are not checked and cannot count from the
    end.
    """
    return array


@overload(bare, prefer_literal=True)
def _bare(array, role):
    if isinstance(array, Row):
        return lambda array, role: array
    return lambda array, role: _address(array, role)


@intrinsic
def _further(_, row, count):
    def generate(context, builder, call, given):
        return builder.gep(given[0], [given[1]], inbounds=True)

    return row(row, types.intp), generate


@overload(behind)
def _behind(row, count):
    return (lambda row, count: _further(row, count)) if isinstance(row, Row) else None


@infer_global(operator.getitem)
class Get(AbstractTemplate):
    """row[index]"""

    def generic(self, given, _):
        if isinstance(given[0], Row) and isinstance(given[1], types.Integer):
            return signature(given[0].dtype, given[0], types.intp)
        return None


@infer_global(operator.setitem)
class Set(AbstractTemplate):
    """row[index] = value"""

    def generic(self, given, _):
        if not isinstance(given[0], Row) or not isinstance(given[1], types.Integer):
            return None
        if not self.context.can_convert(given[2], given[0].dtype):
            return None
        return signature(types.none, given[0], types.intp, given[0].dtype)


def tell_apart(builder, access, role: str) -> None:
    """Mark a load or store as touching this role's rows only."""
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
