"""A bench run as plain data: the checks chosen, their results, board, settings and wiring."""

from __future__ import annotations

import platform
import time
from dataclasses import asdict, dataclass, field
from datetime import datetime

from twinloop import VERSION
from twinloop.changes import values_crc
from twinloop.control import settings as cfg

from .. import checks, wires
from ..checks.frame import Bench, Check, Result
from ..firmware_files import board_data


def now() -> datetime:
    """The present time with its time zone."""
    return datetime.now().astimezone()


@dataclass
class Record:
    """A bench run. `early`: what ended it early, or ""; `trouble`: what was not restored, or ""."""

    bench: Bench
    chosen: list[Check]
    begun: datetime = field(default_factory=now)
    begin_s: float = field(default_factory=time.monotonic)
    wall_s: float = 0.0
    results: list[Result] = field(default_factory=list)
    early: str = ""
    trouble: str = ""

    def close(self) -> None:
        """End the run: every check that was not made gets a result that says so."""
        self.wall_s = time.monotonic() - self.begin_s
        left = self.chosen[len(self.results) :]
        if left and not self.early:
            self.early = f"before {left[0].name}"
        self.results += [check.skipped(f"not made: the run ended early, {self.early}") for check in left]

    def document(self) -> dict:
        """The JSON document, with `files` still empty."""
        facts = self.bench.client.facts
        counts = {outcome: sum(result.outcome == outcome for result in self.results) for outcome in ("pass", "fail", "skipped")}
        return {
            "port": self.bench.port,
            "board": {"name": facts["board"], "micropython": facts["interpreter"], "firmware": facts["firmware"]},
            "checks": [result.document() for result in self.results],
            "passed": counts["pass"],
            "failed": counts["fail"],
            "skipped": counts["skipped"],
            "ended_early": self.early,
            "wall_s": round(self.wall_s, 2),
            "files": {},
        }

    def properties(self) -> dict[str, str]:
        """Short facts about board, versions and settings, by name."""
        facts = self.bench.client.facts
        changed = [row[0] for row, value in zip(cfg.TABLE, self.bench.values, strict=True) if value != row[4]]
        return {
            "port": self.bench.port,
            "board": facts["board"],
            "micropython": facts["interpreter"],
            "firmware": facts["firmware"],
            "settings_schema": facts["schema"],
            "settings_crc": values_crc(self.bench.values),
            "settings_changed": ", ".join(changed) or "none",
            "host": f"Twinloop {VERSION}, Python {platform.python_version()} on {platform.system()}",
            "begun": self.begun.isoformat(timespec="seconds"),
            "ended_early": self.early or "no",
        }

    def mains(self) -> str:
        """What is known about mains on the relays."""
        if self.bench.board is not None:
            return "none: the contacts of the virtual board are models"
        if self.bench.operator.off:
            return "confirmed off at every relay contact (--mains-off, or yes at the terminal)"
        return "not confirmed off: checks that move relays were not made"

    def page_facts(self, document: dict) -> dict:
        """The arguments of the report's `BenchRun`: only texts, numbers, lists and dicts."""
        found = {}
        facts_of_board = self.bench.client.facts
        try:
            data = board_data(facts_of_board["board"])
            found = {
                "wiring": [tuple(asdict(row).values()) for row in wires.connections(data)],
                "contacts": wires.contacts(data),
                "wiring_cautions": wires.cautions(data),
            }
        except ValueError:
            # Not one of our boards, so there is no data for its wiring.
            pass
        return {
            **found,
            "document": document,
            "groups": [(name, about) for name, (about, _) in checks.GROUPS.items()],
            "recordings": {result.name: (result.curve, result.marks) for result in self.results if result.curve},
            "properties": self.properties(),
            "settings": list(self.bench.values),
            "begun": f"{self.begun:%Y-%m-%d %H:%M} ({self.begun:%z} from UTC)",
            "mains": self.mains(),
            "trouble": self.trouble,
            "virtual": self.bench.board is not None or facts_of_board["board"] == "virtual",
        }
