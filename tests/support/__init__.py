"""What several tests need: a real PostgreSQL, a browser, a closed network."""
