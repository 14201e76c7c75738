"""`twinloop wiring BOARD`: the wiring as a table and a drawing, from the firmware's board data."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

from ..firmware_files import board_data
from ..wires import cautions, connections, contacts, far_ends
from .drawing import draw


def table(data: dict) -> str:
    rows = connections(data)
    lines = [f"{data['NAME']}: pins as the chip numbers them", ""]
    width = max(len(row.to) for row in rows)
    for group in dict.fromkeys(row.group for row in rows):
        lines.append(group)
        lines += [f"  {row.pin:>8}  {row.to:{width}}  {row.fit}".rstrip() for row in rows if row.group == group]
    lines += ["", "far ends", *(f"  {group}: {'; '.join(words)}" for group, words in far_ends(data).items()), "", "contacts"]
    lines += [f"  {name:18} {contact:32} {load}" for name, contact, load in contacts(data)]
    return "\n".join([*lines, "", *(f"! {text}" for text in cautions(data))])


def main(options) -> int:
    """Print the table, write the drawing. Raises ValueError for an unknown or faulty board."""
    data = board_data(options.board)
    if options.out is not None and not options.out.strip():
        raise ValueError("--out: empty; name a file")
    path = Path(f"wiring-{Path(options.board).stem}.svg" if options.out is None else options.out)
    if path.is_file() and not path.read_bytes().startswith(b"<svg"):
        raise ValueError(f"--out {path}: is there already, and is no drawing; name another file")
    try:
        path.write_text(draw(data["NAME"], connections(data), contacts(data), far_ends(data), cautions(data)), encoding="utf-8")
    except (OSError, ValueError) as fault:
        raise ValueError(f"--out {path}: cannot be written ({getattr(fault, 'strerror', None) or fault})") from None
    if options.json:
        rows = [asdict(row) for row in connections(data)]
        relays = [{"output": name, "contact": contact, "load": load} for name, contact, load in contacts(data)]
        facts = {"board": data["NAME"], "connections": rows, "contacts": relays, "cautions": cautions(data)}
        print(json.dumps({**facts, "files": {"drawing": str(path)}}, indent=2))
    else:
        print(table(data))
        print(f"\ndrawing: {path}")
    return 0
