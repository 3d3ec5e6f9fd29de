"""How large may an input be before it is refused unread?

Far above what a clinic can fill in a lifetime, and low enough that a hostile or broken file cannot exhaust the machine.
"""

FILE_BYTES = 100_000_000
UNPACKED_BYTES = 200_000_000
PARTS = 2_000
ROWS = 200_000
COLUMNS = 500
CELLS = 6_000_000
CELL_LENGTH = 1_000
