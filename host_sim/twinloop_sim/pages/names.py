"""The generated tables of docs/names.md.

`python -m twinloop_sim.pages.names` rewrites them in place.
"""

from __future__ import annotations

from twinloop.control import settings as cfg

from ..sheets.quantities import show_setting
from ..thermal import parameters as p
from . import renew

COLD = """A station starts cold after a change of a setting with a star: pumps and valve off, the valve
driven home, sensors trusted anew. It goes on with any other as it runs."""


def tables() -> str:
    """Settings and plant values as Markdown tables."""
    lines = ["## Settings of the firmware", "", COLD, "", "| code | name | default | allowed | meaning |", "|---|---|---|---|---|"]
    for code, (name, unit, low, high, default, why) in enumerate(cfg.TABLE):
        shown = [show_setting(name, unit, value) for value in (default, low, high)]
        star = "*" if code in cfg.COLD_CODES else ""
        lines.append(f"| {code}{star} | `{name}` | {shown[0]} | {shown[1]} to {shown[2]} | {why} |")
    lines += ["", "## Values of the plant", "", "| name | default | allowed | unit | meaning |", "|---|---|---|---|---|"]
    for row, _ in p.ROWS:
        lines.append(f"| `{row.name}` | {row.default:g} | {row.low:g} to {row.high:g} | {row.unit} | {row.meaning} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    renew("docs/names.md", tables())
