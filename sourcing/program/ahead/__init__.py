"""Ahead of the solver: what no plan of least cost can hold is left out; each step keeps every plan of least cost."""
