"""A wheel built from this tree, installed in an empty environment, works like the checkout."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def installed(tmp_path_factory):
    """The folder of programs of an environment with only the wheel and its dependencies."""
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(ROOT)],
        check=True,
        capture_output=True,
    )
    wheel = next(folder.glob("twinloop-*.whl"))
    subprocess.run([sys.executable, "-m", "venv", str(folder / "env")], check=True)
    # Compile to bytecode only what the tests import, not thousands of library files.
    pip = [str(folder / "env" / "bin" / "pip"), "install", "--quiet", "--disable-pip-version-check", "--no-compile"]
    subprocess.run([*pip, f"{wheel}[sim]"], check=True, timeout=400)
    return folder / "env" / "bin"


def run(installed, folder, *arguments):
    """The installed command, run in another folder, with no access to this tree."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    call = [str(installed / "twinloop"), *arguments]
    return subprocess.run(call, cwd=folder, env=environment, capture_output=True, text=True, timeout=300)


def test_installed_simulates_like_the_checkout(installed, tmp_path):
    """The same figures, to the last digit of the document."""
    theirs = run(installed, tmp_path, "simulate", "frosty-morning", "--json")
    assert theirs.returncode == 0, theirs.stderr
    facts = json.loads(theirs.stdout)
    assert (tmp_path / facts["files"]["report"]).exists()
    ours = json.loads(
        subprocess.run(
            [sys.executable, "-m", "twinloop_sim.cli", "simulate", "frosty-morning", "--json", "--no-files"],
            capture_output=True,
            text=True,
            check=True,
            timeout=300,
        ).stdout
    )
    for key in ("wall_s", "times_real_time", "files"):
        del facts[key], ours[key]
    assert facts == ours


def test_installed_benches_like_the_checkout(installed, tmp_path):
    """The virtual board runs from the wheel's copy of boot.py, main.py and the board files."""
    bench = run(installed, tmp_path, "bench", "--port", "virtual", "--json", "start-difference", "tank-limit", "step-exception")
    assert bench.returncode == 0, bench.stderr
    facts = json.loads(bench.stdout)
    assert (facts["passed"], facts["failed"]) == (3, 0)
