"""One writer a table format."""
