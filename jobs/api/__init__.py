"""The API of jobs, a module per resource."""
