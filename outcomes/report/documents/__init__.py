"""The report as a page, and the templates of all pages."""
