"""What does every test share? Only which files of this folder are not tests."""

collect_ignore = ["run.py"]
