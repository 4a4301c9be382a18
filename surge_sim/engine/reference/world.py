"""What the parts of the reference engine may say of the ward (for the type checker only)."""

from __future__ import annotations

from collections.abc import Generator
from typing import TYPE_CHECKING, Any

import simpy

if TYPE_CHECKING:
    from surge_sim.engine.reference.ward import Ward as World
else:
    World = Any

#: a story told in SimPy
Process = Generator[simpy.Event, Any, None]
#: a part of a story that ends with an answer
Answer = Generator[simpy.Event, Any, bool]
