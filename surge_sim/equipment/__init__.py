"""The equipment: one thing, its rules, one module; both engines call the same rules."""
