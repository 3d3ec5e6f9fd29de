"""Tables: one model, one module a table, one writer a format."""
