"""Does work that is shared between processors come back as if one had done it, and does a failure reach who asked?"""

import os

import pytest

from outcomes.parallel import OneByOne, processors


def test_another_process_does_what_is_asked():
    with processors("json") as elsewhere:
        assert elsewhere.submit(divmod, 7, 2).result() == (3, 1)
        assert elsewhere.submit(os.getpid).result() != os.getpid()


def test_one_processor_is_enough(monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    with processors() as elsewhere:
        assert isinstance(elsewhere, OneByOne)
        assert elsewhere.submit(os.getpid).result() == os.getpid()


def test_what_fails_there_is_raised_here_and_nothing_is_left_running():
    with pytest.raises(ZeroDivisionError), processors() as elsewhere:
        elsewhere.submit(divmod, 1, 0).result()
    with pytest.raises(RuntimeError):
        elsewhere.submit(divmod, 1, 1)
