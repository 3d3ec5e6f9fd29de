"""Limits on the size of an input, beyond which it is refused unread.

They lie far above what a clinic fills in, and low enough that a hostile or damaged file cannot exhaust the memory.
"""

FILE_BYTES = 100_000_000
TABLE_BYTES = 30_000_000
UNPACKED_BYTES = 200_000_000
PARTS = 2_000
ROWS = 200_000
COLUMNS = 500
CELLS = 3_000_000
TEXT_LENGTH = 100_000_000
CELL_LENGTH = 1_000
