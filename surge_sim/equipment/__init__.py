"""The equipment: one thing, its rules, one module. Rules are written once; both engines call them."""
