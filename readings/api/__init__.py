"""The API of readings, a module per resource."""
