"""The case for a purchase: what a sizing left, with what follows from buying and from not buying."""
