"""Tests of the demand stage."""
