"""Drawn demand held against the words of the file, by code that imports no stage of the model."""
