"""Charts: one builder a chart, drawn in the size of a page or of print."""
