"""The case for a purchase: what a sizing left, and what follows from buying or not buying."""
