"""Two writers and ten readers at once, in short form; for longer: python tests/store/contention.py 60."""

import pytest

from tests.store.clinic import made
from tests.store.contention import contend, judged

SECONDS = 5


@pytest.mark.slow
def test_two_writers_and_ten_readers_lose_nothing_and_are_told_when_they_must_wait(tmp_path):
    path = made(tmp_path)
    wrong, done = judged(path, *contend(path, SECONDS))
    assert wrong == []
    assert done["read"] > 0
    assert done["stored"] + done["refused, each with a sentence"] > 0
