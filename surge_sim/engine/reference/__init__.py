"""The reference engine: the kit cycle told in SimPy, to be read, stopped, looked into."""
