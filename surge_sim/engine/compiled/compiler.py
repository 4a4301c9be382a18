"""The only place that reaches inside the compiler: tables as bare pointers, and kept code.

numba promises none of what is used here, so the newest release that the project allows is one that
the tests have run with. All else in the engine is what numba and llvmlite document.

The tables are handed from function to function as one bare pointer each. As named tuples of arrays
they make playing a hundred times slower, for numba counts who refers to each array at every step,
and take twice as long to compile. Here nobody counts: the tuple and its arrays belong to the caller
of `play_through` and outlive the play.

Behind a pointer an index counts from the front only. Numba would let -1 be the last one, which in
the engine stands for none: where bounds are checked it is found out, and elsewhere it costs less.
"""

from __future__ import annotations

import operator
import pickle
from typing import Any

from llvmlite import ir
from numba import types
from numba.core import cgutils, imputils
from numba.core.caching import NullCache
from numba.core.compiler import CompileResult
from numba.core.datamodel import models
from numba.core.runtime import rtsys
from numba.core.serialize import dumps
from numba.core.typing.templates import AttributeTemplate, signature
from numba.extending import (
    infer_getattr,
    intrinsic,
    lower_builtin,
    lower_getattr_generic,
    register_model,
)

from surge_sim.engine.compiled import code_cache


class Pointer(types.Type):  # type: ignore[misc]
    """Type of a pointer to a named tuple of arrays."""

    def __init__(self, table: Any) -> None:
        self.table = table
        super().__init__(name=f"PointerTo{table.instance_class.__name__}")

    @property
    def key(self) -> Any:
        """Pointers are alike when what they point at is; the name is kept short."""
        return self.table


class Rows(types.Array):  # type: ignore[misc]
    """Type of an array behind a pointer, whose indices count from the front only."""

    def __init__(self, plain: Any) -> None:
        self.plain = plain
        super().__init__(
            plain.dtype, plain.ndim, plain.layout, not plain.mutable, f"rows {plain}", plain.aligned
        )


register_model(Rows)(models.ArrayModel)


@lower_builtin(operator.getitem, Rows, types.Integer)  # type: ignore[untyped-decorator]
@lower_builtin(operator.getitem, Rows, types.BaseTuple)  # type: ignore[untyped-decorator]
@lower_builtin(operator.setitem, Rows, types.Any, types.Any)  # type: ignore[untyped-decorator]
def _from_the_front(context: Any, builder: Any, sig: Any, args: Any) -> Any:
    """Read or write as in a plain array, with an index that has no sign."""
    rows, index, *value = sig.args
    count = (
        types.UniTuple(types.uintp, len(index))
        if isinstance(index, types.BaseTuple)
        else (types.uintp)
    )
    do = operator.setitem if value else operator.getitem
    plain = context.get_function(do, signature(sig.return_type, rows.plain, count, *value))
    return plain(builder, (args[0], context.cast(builder, args[1], index, count), *args[2:]))


@register_model(Pointer)
class _PointerModel(models.PrimitiveModel):  # type: ignore[misc]
    def __init__(self, manager: Any, kind: Pointer) -> None:
        super().__init__(manager, kind, manager[kind.table].get_value_type().as_pointer())


@infer_getattr
class _PointerAttributes(AttributeTemplate):  # type: ignore[misc]
    key = Pointer

    def generic_resolve(self, kind: Pointer, name: str) -> Any:
        """Return the type of a field of the tuple."""
        if name in kind.table.fields:
            return Rows(kind.table.types[kind.table.fields.index(name)])
        return None


@lower_getattr_generic(Pointer)
def _field(context: Any, builder: Any, kind: Pointer, pointer: Any, name: str) -> Any:
    """Read an array from behind the pointer, with no owner."""
    from numba.np import arrayobj

    place = kind.table.fields.index(name)
    array = kind.table.types[place]
    # whoever hands tables over sees to it
    if array.layout != "C":
        raise TypeError(f"{name} is {array}: its rows must follow each other without gaps")
    there = cgutils.gep_inbounds(builder, pointer, 0, place)
    view = context.make_array(array)(context, builder)

    def load(part: str) -> Any:
        # where a table lies is the same throughout a play: so told, code reads it once
        number = view._datamodel.get_field_position(part)
        loaded = builder.load(cgutils.gep_inbounds(builder, there, 0, number))
        loaded.set_metadata("invariant.load", builder.module.add_metadata([]))
        return loaded

    # what can be said without reading is: every read is one thing more to compile
    shape = cgutils.unpack_tuple(builder, load("shape"), array.ndim)
    step = itemsize = context.get_constant(types.intp, arrayobj.get_itemsize(context, array))
    strides = [step]
    for length in shape[:0:-1]:
        step = builder.mul(step, length)
        strides.insert(0, step)
    arrayobj.populate_array(
        view, load("data"), shape, strides, itemsize, cgutils.get_null_value(view.meminfo.type)
    )
    return imputils.impl_ret_borrowed(context, builder, array, view._getvalue())


@intrinsic
def pointer_to(typing: Any, table: Any) -> Any:
    """Point at a named tuple of arrays; good until the calling function returns."""

    def lower(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        there = cgutils.alloca_once_value(builder, args[0])
        # from here on the tuple stays as it is: no load through the pointer may move to before
        same = ir.FunctionType(there.type, [there.type])
        return builder.asm(same, "", "=r,0,~{memory}", [there], side_effect=True)

    return Pointer(table)(table), lower


class Kept(NullCache):  # type: ignore[misc]
    """What a compiled function asks before it compiles, and tells afterwards."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """Return the function as it was kept for these types, or None."""
        code = code_cache.read()
        if code is None:
            code_cache.begin()
            # another process may have kept it meanwhile
            code = code_cache.read()
            if code is None:
                return None
            code_cache.end()
        # all that kept code needs; to load what compiling needs takes a quarter of a second
        rtsys.initialize(target_context)
        try:
            types, parts = pickle.loads(code)
        except (pickle.UnpicklingError, EOFError):
            return None
        if types != str(sig):
            return None
        return CompileResult._rebuild(target_context, *parts)

    def save_overload(self, sig: Any, data: Any) -> None:
        """Keep a function that was compiled."""
        try:
            code_cache.write(dumps((str(sig), data._reduce())))
        finally:
            code_cache.end()


def keep(function: Any) -> Any:
    """Mark a compiled function as the one that is kept.

    numba's own cache is told where to write by a setting of the whole process, which would move
    what an importing program compiles as well.
    """
    function._cache = Kept()
    return function
