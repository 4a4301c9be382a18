"""The mark of a rule: plain Python on whole numbers that compiled code may call too."""

from __future__ import annotations

from collections.abc import Callable
from typing import ParamSpec, TypeVar

from numba.extending import register_jitable

Args = ParamSpec("Args")
Result = TypeVar("Result")


def rule(function: Callable[Args, Result]) -> Callable[Args, Result]:
    """Mark a function as a rule of the equipment.

    A rule takes and gives whole numbers (or arrays of them), uses ``+ - * //`` and comparisons
    only, and so gives the same bits in Python and compiled.
    """
    # only compiled code calls it there: a way in from C would have to be compiled too
    marked: Callable[Args, Result] = register_jitable(no_cfunc_wrapper=True)(function)
    return marked
