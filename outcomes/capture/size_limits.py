"""Limits on the size of an input, beyond which it is refused unread.

They lie far above what a clinic fills in, and low enough that a hostile or damaged file cannot exhaust the memory.
Tables are read row by row, so that those of a national register are taken too.
"""

FILE_BYTES = 100_000_000
TABLE_BYTES = 4_000_000_000
TABLE_ROWS = 50_000_000
UNPACKED_BYTES = 200_000_000
PARTS = 2_000
ROWS = 200_000
ROW_LENGTH = 1_000_000
COLUMNS = 500
CELLS = 3_000_000
TEXT_LENGTH = 100_000_000
CELL_LENGTH = 1_000
