"""Studies that measure how often claims are right; each is a module that runs by itself."""
