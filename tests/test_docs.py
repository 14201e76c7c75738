"""The documents say what the code does."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest
from twinloop_hil import checks
from twinloop_hil.boards import problems
from twinloop_hil.firmware_files import board_data
from twinloop_sim.pages import names

ROOT = Path(__file__).parent.parent
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")])


def test_names_page_is_the_codes():
    """Settings and plant values in docs/names.md are those of the tables."""
    page = (ROOT / "docs" / "names.md").read_text()
    assert page == names.renewed(page)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page):
    """Every relative link is a file of this tree."""
    for target in re.findall(r"\]\(([^)#]+)", page.read_text()):
        if not target.startswith("http"):
            assert (page.parent / target).exists(), target


def test_commands_of_the_readme_exist():
    """Every subcommand and option that README and the installation guide name is known to the command."""
    text = (ROOT / "README.md").read_text() + (ROOT / "docs" / "install.md").read_text() + (ROOT / "docs" / "bench.md").read_text()
    calls = re.findall(r"^    twinloop ([^#\n]+)", text, re.MULTILINE)
    assert len(calls) > 5
    for call in calls:
        command = call.split()[: 2 if call.startswith("board") else 1]
        run = subprocess.run(
            [sys.executable, "-m", "twinloop_sim.cli", *command, "--help"], capture_output=True, text=True, timeout=60
        )
        assert run.returncode == 0
        for option in re.findall(r"--[a-z-]+", call):
            assert option in run.stdout, f"{command} {option}"


def test_example_of_the_model_page_runs():
    """The Python of docs/model.md is complete, and its station warms the tank."""
    text = (ROOT / "docs" / "model.md").read_text()
    lines = re.findall(r"^    (import numpy.*?)\n\n\S", text, re.MULTILINE | re.DOTALL)
    assert len(lines) == 1
    program = "\n".join(line.removeprefix("    ") for line in lines[0].splitlines())
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=120)
    assert run.returncode == 0, run.stderr
    assert re.fullmatch(r"1\.\d\d kWh to the tank, top at \d\d\.\d C\n", run.stdout), run.stdout


def test_make_targets_of_the_readme_exist():
    """Every `make` target that a page names is in the Makefile."""
    makefile = (ROOT / "Makefile").read_text()
    for page in PAGES:
        for target in re.findall(r"\bmake ([a-z]+)\b", page.read_text()):
            if target in ("demo", "test", "lint", "bench", "storm", "year", "mutants", "hil"):
                assert f"\n{target}:" in makefile, f"{page.name}: make {target}"


def test_examples_of_the_bench_page_work(tmp_path):
    """Its board data is good on a Pico, its test runs, and its groups are those of the bench."""
    page = (ROOT / "docs" / "bench.md").read_text()
    pins = re.search(r"^    READ_BACK = (\(.*\)) ", page, re.MULTILINE).group(1)
    assert problems({**board_data("pico"), "READ_BACK": ast.literal_eval(pins)}) == []
    assert re.findall(r"^\| `([a-z-]+)` \|", page, re.MULTILINE) == list(checks.GROUPS)
    example = re.search(r"^    (def test_.*?)\n\n    pytest", page, re.MULTILINE | re.DOTALL).group(1)
    path = tmp_path / "test_example.py"
    path.write_text("\n".join(line.removeprefix("    ") for line in example.splitlines()))
    run = subprocess.run([sys.executable, "-m", "pytest", "-q", path], capture_output=True, text=True, timeout=60, cwd=tmp_path)
    assert run.returncode == 0 and "1 passed" in run.stdout, run.stdout
