"""Logs of surges in, tables with honest intervals out."""
