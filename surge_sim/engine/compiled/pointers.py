"""The tables handed from function to function as one pointer each.

A named tuple would be taken apart into its hundreds of parts at every call, which makes compiling
ten times slower.
"""

from __future__ import annotations

from typing import Any

from numba import types
from numba.experimental import structref

from surge_sim.demand.work import WorkArrays
from surge_sim.engine.compiled.state import Entries, Fixed, State


class _Pointer(types.StructRef):  # type: ignore[misc]
    def preprocess_fields(self, fields: Any) -> Any:
        """Keep the fields' types as they are, but never as literals."""
        return tuple((name, types.unliteral(kind)) for name, kind in fields)


@structref.register
class StateType(_Pointer):
    """Type of the state's pointer."""


@structref.register
class FixedType(_Pointer):
    """Type of the pointer to what stays as it is."""


@structref.register
class EntriesType(_Pointer):
    """Type of the pointer to the trace's columns."""


@structref.register
class WorkType(_Pointer):
    """Type of the pointer to the work draws."""


class StatePointer(structref.StructRefProxy):  # type: ignore[misc]
    """Pointer to the state."""


class FixedPointer(structref.StructRefProxy):  # type: ignore[misc]
    """Pointer to what stays as it is."""


class EntriesPointer(structref.StructRefProxy):  # type: ignore[misc]
    """Pointer to the trace's columns."""


class WorkPointer(structref.StructRefProxy):  # type: ignore[misc]
    """Pointer to the work draws."""


for _proxy, _type, _tuple in (
    (StatePointer, StateType, State),
    (FixedPointer, FixedType, Fixed),
    (EntriesPointer, EntriesType, Entries),
    (WorkPointer, WorkType, WorkArrays),
):
    structref.define_constructor(_proxy, _type, list(_tuple._fields))
    structref.define_attributes(_type)
