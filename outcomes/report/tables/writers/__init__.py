"""The writers of tables, one file format each."""
