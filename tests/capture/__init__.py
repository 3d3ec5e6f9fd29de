"""Tests of the way from a person or a sheet to checked rows: wrong input is refused, right input is taken as it was meant."""
