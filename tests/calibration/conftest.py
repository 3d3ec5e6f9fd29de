"""Nothing in this folder is a test: it is run by hand."""

collect_ignore_glob = ["*.py"]
