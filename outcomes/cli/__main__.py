"""Run the command line as `python -m outcomes.cli`."""

from outcomes.cli import main

if __name__ == "__main__":
    main()
