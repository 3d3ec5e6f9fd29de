"""A real terminal in which a test types and reads."""

from __future__ import annotations

import contextlib
import os
import pty
import re
import select
import signal
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
_ESCAPES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]")


class Terminal:
    """One command on a terminal of its own; `typed` are the lines that were typed and not left empty."""

    def __init__(self, *arguments: object, folder: Path) -> None:
        self.main, side = pty.openpty()
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "TERM": "dumb", "COLUMNS": "200"}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "outcomes.cli", *map(str, arguments)],
            cwd=folder, stdin=side, stdout=side, stderr=side, env=environment, start_new_session=True, close_fds=True,
            preexec_fn=_own_terminal,  # noqa: PLW1509 - the tests start no threads
        )  # fmt: skip
        os.close(side)
        self.seen = ""
        self.place = 0
        self.typed: list[str] = []

    def expect(self, words: str, *, within: float = 60.0) -> str:
        """Read until the words appear after what was expected before; gives what was read up to them."""
        end = time.monotonic() + within
        while (found := self.seen.find(words, self.place)) < 0:
            assert time.monotonic() < end, f"no {words!r} in {self.seen[self.place :]!r}"
            assert self._read() or words in self.seen[self.place :], (
                f"ended without {words!r}: {self.seen[self.place :]!r}"
            )
        before, self.place = self.seen[self.place : found], found + len(words)
        return before

    def _read(self) -> bool:
        if not select.select([self.main], [], [], 0.2)[0]:
            return True
        try:
            read = os.read(self.main, 65536)
        except OSError:  # the side of the program is closed
            return False
        self.seen += _ESCAPES.sub("", read.decode(errors="replace")).replace("\r\n", "\n")
        return bool(read)

    def type(self, text: str) -> None:
        if text:
            self.typed.append(text)
        os.write(self.main, f"{text}\n".encode())

    def answer(self, *pairs: tuple[str, str]) -> None:
        """For each pair, wait for the words of a question and type the answer."""
        for words, text in pairs:
            self.expect(words)
            self.type(text)

    def interrupt(self) -> None:
        """Press the interrupt key until the program stops, as a signal between a prompt and its reading waits for the next."""
        end = time.monotonic() + 60
        while self.process.poll() is None and time.monotonic() < end:
            os.write(self.main, b"\x03")
            later = time.monotonic() + 2
            while self.process.poll() is None and time.monotonic() < later and self._read():
                pass

    def ended(self) -> int:
        """The exit code, once everything was read."""
        end = time.monotonic() + 60
        while self._read() and time.monotonic() < end:
            if self.process.poll() is not None and not select.select([self.main], [], [], 0.2)[0]:
                break
        code = self.process.wait(timeout=60)
        os.close(self.main)
        return code

    def kill(self) -> None:
        """End the command, if it has not ended."""
        if self.process.poll() is None:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait(timeout=60)


def _own_terminal() -> None:
    """Make the terminal the controlling one of the new session, so that its interrupt key reaches the program."""
    import fcntl
    import termios

    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
