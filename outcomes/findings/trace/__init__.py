"""Trace a printed number to its definition and to the cases behind it."""
