"""Rooms stay small, and imports between them point one way."""

import os
import shutil
import subprocess
import sys
import tomllib
from collections import Counter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
ROOMS = ("firmware", "host_sim", "hil", "tests")
FILES = [path for room in ROOMS for path in sorted((ROOT / room).rglob("*.py"))]
FILES_TOP = 20
LINES_TOP = 500
CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
LAYERS = {contract["name"]: contract for contract in CONTRACTS if contract["type"] == "layers"}


def test_no_folder_is_crowded():
    """At most 20 Python files are beside each other."""
    counts = Counter(path.parent.relative_to(ROOT).as_posix() for path in FILES)
    assert {folder: count for folder, count in counts.items() if count > FILES_TOP} == {}


def test_no_file_is_long():
    """A Python file has at most 500 lines."""
    lines = {path.relative_to(ROOT).as_posix(): len(path.read_text().splitlines()) for path in FILES}
    assert {path: count for path, count in lines.items() if count > LINES_TOP} == {}


@pytest.fixture(scope="module")
def copy(tmp_path_factory):
    """A copy of everything that lint-imports reads."""
    folder = tmp_path_factory.mktemp("rooms")
    shutil.copy(ROOT / "pyproject.toml", folder)
    for room in ("firmware", "host_sim", "hil"):
        shutil.copytree(ROOT / room, folder / room, ignore=shutil.ignore_patterns("__pycache__"))
    return folder


def module_file(folder, module):
    """The file of a module in the copy."""
    room = {"twinloop": "firmware", "twinloop_sim": "host_sim", "twinloop_hil": "hil"}[module.split(".")[0]]
    path = folder / room / module.replace(".", "/")
    return path / "__init__.py" if path.is_dir() else path.with_suffix(".py")


@pytest.mark.parametrize("name", LAYERS)
def test_an_import_back_up_fails(name, copy):
    """A bottom room that imports a top room breaks the contract of its layers, and no other."""
    container, layers = LAYERS[name]["containers"][0], LAYERS[name]["layers"]
    top, bottom = (layer.split("|")[0].strip() for layer in (layers[0], layers[-1]))
    path = module_file(copy, f"{container}.{bottom}")
    text = path.read_text()
    path.write_text(f"{text}\nimport {container}.{top}\n")
    paths = os.pathsep.join(str(copy / room) for room in ("firmware", "host_sim", "hil"))
    call = [Path(sys.executable).with_name("lint-imports"), "--no-cache"]
    run = subprocess.run(call, cwd=copy, env={**os.environ, "PYTHONPATH": paths}, capture_output=True, text=True, timeout=120)
    path.write_text(text)
    assert run.returncode == 1, run.stderr
    assert f"{name} BROKEN" in run.stdout
    assert f"{container}.{bottom} -> {container}.{top}" in run.stdout
    assert all(f"{other} KEPT" in run.stdout for other in LAYERS if other != name)
