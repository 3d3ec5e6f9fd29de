"""Timed outcomes: dated events with death competing, and states seen only at reviews."""
