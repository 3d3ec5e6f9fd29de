"""The command line: one command a file, which parses, calls and prints."""


def main() -> None:
    """Run one command; the commands are imported then, as further processes import this module too and run none."""
    from outcomes.cli.app import main as run

    run()
