"""Sizing: the cheapest stock that keeps the target, with evidence."""
