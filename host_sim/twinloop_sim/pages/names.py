"""The generated tables of docs/names.md.

`python -m twinloop_sim.pages.names` rewrites them in place.
"""

from __future__ import annotations

from twinloop.control import settings as cfg

from ..sheets.quantities import show_setting
from ..thermal import parameters as p
from . import renew


def tables() -> str:
    """Settings and plant values as Markdown tables."""
    lines = ["## Settings of the firmware", "", "| code | name | default | allowed | meaning |", "|---|---|---|---|---|"]
    for code, (name, unit, low, high, default, why) in enumerate(cfg.TABLE):
        shown = [show_setting(name, unit, value) for value in (default, low, high)]
        lines.append(f"| {code} | `{name}` | {shown[0]} | {shown[1]} to {shown[2]} | {why} |")
    lines += ["", "## Values of the plant", "", "| name | default | allowed | unit | meaning |", "|---|---|---|---|---|"]
    for row in p.TABLE:
        lines.append(f"| `{row.name}` | {row.default:g} | {row.low:g} to {row.high:g} | {row.unit} | {row.meaning} |")
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    renew("docs/names.md", tables())
