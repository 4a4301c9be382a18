"""Exercises: a surge that a group manages, with every choice computed."""
