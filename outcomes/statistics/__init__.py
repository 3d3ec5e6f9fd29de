"""Estimators, one family a file: arrays in, a small frozen result out."""

import numpy as np

UNUSED = ("f2py", "testing")  # of NumPy, for its own builders and tests


def _import_special_functions() -> None:
    """Import SciPy's special functions without what is unused: SciPy takes every name of NumPy, also those imported when asked for."""
    unused = [name for name in UNUSED if name not in vars(np)]
    for name in unused:
        setattr(np, name, None)
    import scipy.special  # noqa: F401

    for name in unused:
        if getattr(np, name) is None:
            delattr(np, name)


_import_special_functions()
