"""Plays of the compiled engine as plain Python, for pytest's ``-p``: slow, but nothing to compile.

Numba leaves functions as they are with NUMBA_DISABLE_JIT. What remains is to read the fields of
records by name, and to hand tables over without a pointer.
"""

from __future__ import annotations

from typing import Any

import numba

numba.config.DISABLE_JIT = 1

import numpy as np  # noqa: E402

from surge_sim.engine.compiled import play  # noqa: E402


def with_named_fields(tables: Any) -> Any:
    """Return a named tuple of arrays whose records are read and written as ``row.field``."""
    return tables._replace(
        **{
            name: array.view(np.recarray) if array.dtype.names else array
            for name, array in tables._asdict().items()
        }
    )


play.pointer_to = with_named_fields
play.play_through.signatures = [()]
