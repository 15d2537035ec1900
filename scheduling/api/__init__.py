"""The API of scheduling, a module per resource."""
