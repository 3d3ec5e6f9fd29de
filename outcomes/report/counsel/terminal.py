"""For the surgeon."""


def surgeon_view() -> None:
    """Not yet."""
