"""The compiled engine: the reference engine's steps over arrays, compiled by numba."""
