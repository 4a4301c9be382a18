"""The compiled engine: the reference engine's steps over arrays, compiled by numba."""

from surge_sim.engine.compiled.kept import is_kept as is_kept
