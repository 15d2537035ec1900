"""Django's PostgreSQL backend over the private server of this checkout."""
