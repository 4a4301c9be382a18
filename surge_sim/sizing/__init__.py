"""Sizing: what to add to a stock so that it meets its target, in which order, for which money."""
