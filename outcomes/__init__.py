"""Outcomes of lower lid reconstruction: what was recorded, what it shows, and what it cannot show."""

__version__ = "0.2.0"
