"""How long this computer held things up: what a figure in real time may contain besides the board.

A sampler sleeps for a moment again and again: how late it wakes is what this process had to wait.
The virtual board is a process of this computer too; on Linux the system says how long it was ready
to run but had no processor.
"""

from __future__ import annotations

import threading
import time

SLEEP_S = 0.005


def starved_s(pid: int) -> float:
    """Seconds that a process has waited for a processor since its start; 0 where nobody says."""
    try:
        with open(f"/proc/{pid}/schedstat", encoding="ascii") as file:
            return int(file.read().split()[1]) / 1e9
    except (OSError, IndexError, ValueError):
        return 0.0


class Delays:
    """Measures while its context lasts. `late_s`: the longest delay of this process.

    `starved_s`: how long the virtual board waited for a processor, in all; 0 for a real board.
    """

    def __init__(self, board):
        self.board = board
        self.late_s = 0.0
        self.starved_s = 0.0
        self.pid, self.before_s = 0, 0.0
        self.over = threading.Event()
        self.sampler = threading.Thread(target=self.sample, daemon=True)

    def __enter__(self) -> Delays:
        self.pid, self.before_s = self.starved()
        self.sampler.start()
        return self

    def __exit__(self, *exc) -> None:
        self.over.set()
        self.sampler.join()
        self.count()

    @classmethod
    def known(cls, starved_s: float) -> Delays:
        """Delays that were measured elsewhere."""
        found = cls(None)
        found.starved_s = starved_s
        return found

    @property
    def held_s(self) -> float:
        """The most by which a figure may be too long."""
        return self.late_s + self.starved_s

    def starved(self) -> tuple[int, float]:
        """The virtual board's process, and how long it has waited since its start."""
        pid = self.board.process.pid if self.board is not None else 0
        return pid, starved_s(pid) if pid else 0.0

    def count(self) -> None:
        """Add what the board has waited since the last look; a restart is another process."""
        pid, now_s = self.starved()
        self.starved_s += max(0.0, now_s - (self.before_s if pid == self.pid else 0.0))
        self.pid, self.before_s = pid, now_s

    def sample(self) -> None:
        """Sleep and look until the context is over."""
        while True:
            begin = time.monotonic()
            over = self.over.wait(SLEEP_S)
            self.late_s = max(self.late_s, time.monotonic() - begin - SLEEP_S)
            if over:
                return
            self.count()
