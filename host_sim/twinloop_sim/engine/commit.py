"""Which code a run was made with."""

from __future__ import annotations

import subprocess
from pathlib import Path

import twinloop

from .compiled import sources_hash


def commit_of() -> str:
    """The commit of this checkout, or the hash of the installed firmware."""
    folder = Path(twinloop.__file__).resolve().parent
    if any((parent / ".git").exists() for parent in folder.parents):
        call = ["git", "-C", str(folder), "rev-parse", "--short", "HEAD"]
        try:
            return subprocess.run(call, capture_output=True, text=True, check=True, timeout=10).stdout.strip()
        except (OSError, subprocess.SubprocessError):
            pass
    return f"firmware {sources_hash(folder / 'control')}"
