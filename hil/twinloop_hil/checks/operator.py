"""The person at the board: questions that only eyes, ears and a handheld thermometer can answer."""

from __future__ import annotations

import sys


class Operator:
    """Asks at the terminal. `present`: somebody can answer; `off`: mains is confirmed to be off."""

    def __init__(self, present: bool, off: bool = False, ask=input, out=None):
        self.present = present
        self.off = off
        self.asked_mains = off
        self.ask = ask
        self.out = out

    @classmethod
    def at_terminal(cls, off: bool) -> Operator:
        """The person at this terminal, if there is one; questions go to standard error."""
        present = sys.stdin is not None and sys.stdin.isatty() and sys.stderr.isatty()
        return cls(present, off, out=sys.stderr)

    def line(self, question: str) -> str:
        """The answer to a question; empty when the terminal is closed."""
        print(f"{question} ", end="", file=self.out, flush=True)
        try:
            return self.ask().strip()
        except EOFError:
            self.present = False
            return ""

    def yes(self, question: str) -> bool:
        """Whether the answer is yes; asks again unless it is y or n. A closed terminal means no."""
        while self.present:
            answer = self.line(f"{question} [y/n]").lower()
            if answer in ("y", "yes"):
                return True
            if answer in ("n", "no"):
                return False
        return False

    def number(self, question: str) -> float | None:
        """The number in the answer; None for an empty line or a closed terminal."""
        while self.present:
            answer = self.line(f"{question} (leave empty to skip)")
            if not answer:
                return None
            try:
                return float(answer.replace(",", "."))
            except ValueError:
                print(f"  {answer!r} is not a number", file=self.out)
        return None

    def mains_off(self) -> bool:
        """Whether mains is off; asked once."""
        if not self.asked_mains and self.present:
            self.asked_mains = True
            self.off = self.yes(
                "Relays are about to move. Is mains disconnected from every relay contact and every read-back wire?"
            )
        return self.off
