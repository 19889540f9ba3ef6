"""The mixed-integer linear program. The only place that knows pulp."""
