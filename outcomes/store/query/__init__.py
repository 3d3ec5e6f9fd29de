"""Questions in SQL: the catalogue of those that come with the program, the documented views, and the process that answers."""
