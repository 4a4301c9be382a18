"""The tool against the outside world: theory, published values, other software, open data."""
