"""README and docs say what the code does, and are easy to read."""

import ast
import contextlib
import importlib.util
import io
import re
import shlex
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest
from twinloop import fitting, reason_texts
from twinloop_hil import checks
from twinloop_hil.bench import runner
from twinloop_hil.board.actions import parse_changes
from twinloop_hil.boards import problems
from twinloop_hil.firmware_files import board_data
from twinloop_sim import cli, scenarios
from twinloop_sim.pages import names, renewed

ROOT = Path(__file__).parent.parent
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")])
each_page = pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
PROSE_COLUMNS = 100
# A mutant's name and the like: nobody can break the line within it.
LONG_SPAN = 80
PICTURE_BYTES = 150_000
# Where a path in a page may begin.
ROOMS = [ROOT / room for room in ("", "firmware/twinloop", "host_sim/twinloop_sim", "hil/twinloop_hil", "tests/host_sim")]


def code_lines(text):
    """Lines of indented blocks, without their indentation."""
    return re.findall(r"^ {4,}(\S.*)$", text, re.MULTILINE)


def code_spans(text):
    """Code within sentences and tables; one that goes on in the next line is whole."""
    prose = re.sub(r"^(?: {4,}|```).*$", "", text, flags=re.MULTILINE)
    return [" ".join(span.split()) for span in re.findall(r"`([^`]+)`", prose)]


def twinloop_calls(lines):
    """What stands behind `twinloop` in these, comments left out."""
    found = [re.fullmatch(r"(?:\.venv/bin/)?twinloop ([^#]+)(?:#.*)?", line) for line in lines]
    return [match.group(1).strip() for match in found if match]


def prose_lines(text):
    """Lines that can be broken: no table, code block, web address or very long code span."""
    lines = re.sub(r"^```.*?^```$", "", text, flags=re.MULTILINE | re.DOTALL).splitlines()
    broken = [line for line in lines if not line.startswith(("|", "    ")) and "://" not in line]
    return [line for line in broken if not any(len(span) >= LONG_SPAN for span in re.findall(r"`[^`]+`", line))]


def anchors(page):
    """Names of a page's headings, as links spell them."""
    headings = re.findall(r"^#+ (.+)$", page.read_text(), re.MULTILINE)
    return {re.sub(r"[^a-z0-9 _-]", "", heading.lower()).replace(" ", "-") for heading in headings}


# Commands whose next word says what they do.
ACTED = ("board", "virtual")


@cache
def help_of(*command):
    """The help of a subcommand, None when there is no such subcommand."""
    shown = io.StringIO()
    try:
        with contextlib.redirect_stdout(shown):
            cli.build_parser().parse_args([*command, "--help"])
    except SystemExit:
        return shown.getvalue()
    except cli.WrongCallError:
        return None


@cache
def every_help():
    """The help of every subcommand there is, in one text."""
    commands = [name for name in re.findall(r"^    (\w+)", help_of(), re.MULTILINE) if help_of(name)]
    words = [(command, name) for command in ACTED for name in re.findall(r"^    (\w+)", help_of(command), re.MULTILINE)]
    return "\n".join([help_of(name) for name in commands] + [help_of(*two) for two in words if help_of(*two)])


@each_page
def test_prose_is_at_most_100_columns_wide(page):
    """Tables, code blocks and lines with an address excepted."""
    lines = prose_lines(page.read_text())
    assert len(lines) > 10
    assert [line for line in lines if len(line) > PROSE_COLUMNS] == []


def test_names_page_is_the_codes():
    """Settings and plant values in docs/names.md are those of the tables."""
    page = (ROOT / "docs" / "names.md").read_text()
    assert page == renewed(page, names.tables())


@each_page
def test_links_lead_somewhere(page):
    """Every relative link is a file of this tree, with that heading; pictures are small."""
    for picture, target, _, heading in re.findall(r"(!?)\[[^]]*\]\(([^)#]+)(#([^)]+))?\)", page.read_text()):
        if target.startswith("http"):
            continue
        path = page.parent / target
        assert path.exists(), target
        assert not heading or heading in anchors(path), f"{target}#{heading}"
        assert not picture or path.stat().st_size < PICTURE_BYTES, target


@each_page
def test_files_exist(page):
    """Every path in code style is in this tree, except what a run writes."""
    for span in code_spans(page.read_text()):
        if re.fullmatch(r"[a-z_.][\w.-]*(/[\w.-]+)+", span) and not span.startswith(("runs/", ".venv/", "/")):
            assert any((room / span).exists() for room in ROOMS), span


def complete_call(call):
    """Parse a call from a code block and look up its names, without running it."""
    options = cli.build_parser().parse_args(shlex.split(call))
    if options.command in ("simulate", "tune") and not (options.scenario or "").endswith(".toml"):
        # A file of your own is not there.
        own = options.command == "tune" or not options.weather or "." in options.weather
        keys = {} if own else {"weather": options.weather}
        scenarios.load(options.scenario or scenarios.DEFAULT, options.changes, keys)
    elif options.command == "bench":
        runner.choose(options.checks)
    elif options.command == "board" and options.action == "settings":
        parse_changes(options.changes)
    elif options.command == "wiring" or (options.command, getattr(options, "action", "")) == ("board", "flash"):
        board_data(options.board)


def test_calls_in_code_blocks_are_complete():
    """Every `twinloop` line parses; its scenarios, settings, checks and boards exist."""
    calls = [call for page in PAGES for call in twinloop_calls(code_lines(page.read_text()))]
    assert len(calls) > 40
    for call in calls:
        complete_call(call)


@pytest.mark.parametrize("call", ["simulat", "simulate --sett a=1", "simulate nowhere", "board flash teapot", "bench no-check"])
def test_a_call_that_does_not_exist_is_noticed(call):
    """Negative: each of these would fail the test above."""
    with pytest.raises((cli.WrongCallError, runner.WrongCallError, ValueError)):
        complete_call(call)


@each_page
def test_calls_in_sentences_exist(page):
    """Every subcommand and every option that a sentence names in code style is known."""
    spans = code_spans(page.read_text())
    for call in twinloop_calls(spans):
        words = call.split()
        shown = help_of(*words[: 2 if words[0] in ACTED and len(words) > 1 else 1])
        assert shown is not None, call
        for option in re.findall(r"--[a-z-]+", call):
            assert option in shown, call
    for option in re.findall(r"--[a-z-]+", " ".join(span for span in spans if span.startswith("--"))):
        assert re.search(rf"{option}\b", every_help()), option


def test_python_programs_exist():
    """Every module run by `python -m` and every script exists, with the options named."""
    text = "\n".join(page.read_text() for page in PAGES)
    modules = set(re.findall(r"python\s+-m\s+(\w[\w.]*\w)", text))
    assert len(modules) > 3
    for module in modules:
        assert importlib.util.find_spec(module), module
    scripts = re.findall(r"python (tests/\S+\.py)(.*)", text)
    assert scripts
    for script, options in scripts:
        shown = subprocess.run([sys.executable, ROOT / script, "--help"], capture_output=True, text=True, timeout=60).stdout
        assert set(re.findall(r"--[a-z-]+", options)) <= set(re.findall(r"--[a-z-]+", shown)), script


def test_quoted_messages_are_the_codes():
    """What the installation guide tells a builder to look for is what a command prints."""
    section = (ROOT / "docs" / "install.md").read_text().split("## When something is wrong")[1]
    commands = [path.read_text() for path in (ROOT / "hil" / "twinloop_hil").glob("**/*.py")]
    printed = "\n".join([*commands, *reason_texts.ALARM_TEXTS, fitting.AT_THE_BOARD])
    quoted = re.findall(r"^\| [^|]*?`([^`]+)`", section, re.MULTILINE)
    assert len(quoted) == 12
    for words in quoted:
        status, _, cause = words.rstrip(")").partition(" (")
        if cause:
            assert status in reason_texts.STATUS_TEXTS and cause in reason_texts.CAUSE_TEXTS.values(), words
        else:
            assert re.sub(r"\d+$", "", words) in printed, words


def test_example_of_the_model_page_runs():
    """The Python of docs/model.md is complete, and its station warms the tank."""
    text = (ROOT / "docs" / "model.md").read_text()
    lines = re.findall(r"^    (import numpy.*?)\n\n\S", text, re.MULTILINE | re.DOTALL)
    assert len(lines) == 1
    program = "\n".join(line.removeprefix("    ") for line in lines[0].splitlines())
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=120)
    assert run.returncode == 0, run.stderr
    assert re.fullmatch(r"1\.\d\d kWh to the tank, top at \d\d\.\d C\n", run.stdout), run.stdout


def test_make_targets_exist():
    """Every `make` target that a page names in code style is in the Makefile."""
    makefile = (ROOT / "Makefile").read_text()
    code = [line for page in PAGES for part in (code_lines, code_spans) for line in part(page.read_text())]
    targets = {match.group(1) for line in code if (match := re.match(r"make ([a-z]+)", line))}
    assert {"demo", "test"} <= targets
    for target in targets:
        assert re.search(rf"^{target}:", makefile, re.MULTILINE), target


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
