"""Random faults planted over the whole package: how many of them the tests notice."""
