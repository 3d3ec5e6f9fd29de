"""Work that is shared between processors comes back as if one had done it, and a failure reaches the caller."""

import os
import time
from functools import partial

import pytest

from outcomes.parallel import OneByOne, processors, shared


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


def test_shared_tasks_give_their_results_in_order_wherever_they_were_done():
    with processors() as elsewhere:
        assert shared(elsewhere, [partial(divmod, number, 7) for number in range(30)]) == [
            divmod(number, 7) for number in range(30)
        ]
    assert shared(OneByOne(), [partial(divmod, number, 7) for number in range(3)]) == [(0, 0), (0, 1), (0, 2)]


def test_this_process_takes_its_part_of_the_tasks_and_leaves_some():
    with processors() as elsewhere:
        elsewhere.submit(os.getpid).result()
        places = shared(elsewhere, [partial(_place, 0.02) for _ in range(20)])
    assert {os.getpid()} < set(places)


def _place(seconds):
    time.sleep(seconds)
    return os.getpid()


def test_a_shared_task_that_fails_is_raised_here():
    with pytest.raises(ZeroDivisionError), processors() as elsewhere:
        shared(elsewhere, [partial(divmod, 1, number) for number in range(5)])
