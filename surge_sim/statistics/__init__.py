"""Logs of surges in, tables with their intervals out."""
