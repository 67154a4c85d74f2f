"""The door: one module a resource; decode, call, encode."""
