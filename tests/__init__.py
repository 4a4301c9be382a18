"""Tests of surge_sim; a package, so that its studies and tables run with ``python -m``."""
