"""Deliberate faults of the tool, and a runner that shows which test notices each of them."""
