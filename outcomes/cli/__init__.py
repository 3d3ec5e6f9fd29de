"""The command line: one command a file, which parses, calls and prints."""

from outcomes.cli.app import main

__all__ = ["main"]
