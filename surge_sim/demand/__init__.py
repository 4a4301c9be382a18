"""Demand: one surge's needs with every draw, complete before the equipment runs."""
