"""What of this folder is not a test? All of it: it is run by hand."""

collect_ignore_glob = ["*.py"]
