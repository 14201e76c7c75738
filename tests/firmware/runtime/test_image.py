"""A board's compiled files act like the sources on 64-bit and 32-bit MicroPython, and fit.

Step by step they are compared in test_every_runtime.py.
"""

import ast
import json
import shutil

import pytest
from twinloop import loop
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop_hil import firmware_files
from twinloop_hil.board import image, short_names, slim

from . import interpreters

# The design's bound for the live heap after start on a 32-bit MicroPython.
HEAP_TOP_BYTES = 100_000
GOOD = [61000, 30000, 35000, 55000, 40000, 20000, 30000, 52000, 20000, 15000]
ROM = "2801020304050607"
CHIPS = (s.TANK_HIGH, s.LOOP_SUPPLY, s.LOOP_RETURN, s.EXCHANGER)
# Every call of the link, also refused, in an order in which most have an effect.
REQUESTS = (
    *(("hello", []), ("status", []), ("settings.get", [0]), ("settings.get", [1]), ("settings.get", [9]), ("probes", [0])),
    *(("settings.stage", [0, cfg.START_DIFFERENCE, 9000, cfg.DUMP_TRAVEL, 5000]), ("settings.commit", ["sequence", "crc"])),
    *(("settings.stage", ["sequence", cfg.STOP_DIFFERENCE, 15000]), ("settings.commit", ["sequence", "crc"])),
    *(("scan", []), ("identify", [s.TANK_LOW, ROM]), ("identify", [s.TANK_HIGH, "xy"]), ("calibrate", [s.TANK_LOW, 250])),
    *(("identify", [sensor, ROM.replace("01", f"{sensor:02x}")]) for sensor in CHIPS),
    *(
        ("calibrate", [s.TANK_LOW, 9000]),
        ("probes", [1]),
        ("probes", [2]),
        ("probes.stage", [s.LOOP_SUPPLY, ROM.replace("07", "99"), 100, 50]),
    ),
    *(("settings.stage", ["sequence", cfg.STOP_DIFFERENCE, 2500]), ("restore", ["sequence", "crc", "rows"])),
    *(("relay", [2, 1, 5000]), ("relay", [0, 1, 5000]), ("relay", [4, 1, 5000]), ("relay", [9, 1, 1]), ("release", [])),
    *(("inject", [9000, 7, GOOD, []]), ("advance", [1, 5000, GOOD, [], [4000, 0]]), ("advance", [3, 5000, GOOD, []])),
    *(("advance", [2, 60000, GOOD, [1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 9, 1]]), ("inject", [9000, 99, GOOD, []]), ("release", [])),
    *(("turns", 1500), ("status", [])),
    *(
        ("hand", [1, 1, 60]),
        ("hand", [3, 1, 60]),
        ("hand", [4, 1, 60]),
        ("purge", [30]),
        ("maintenance", [20]),
        ("purge", [9]),
        ("hand", [0, 0, 0]),
    ),
    *(
        ("meter", []),
        ("filter", []),
        ("self_check", []),
        ("log", [1]),
        ("log", [0]),
        ("log", [1]),
        ("nonsense", []),
        ("status", []),
    ),
    *(("commission", []), ("prompt", [9999]), ("prompt", [60])),
)


@pytest.fixture(scope="module")
def compiled(tmp_path_factory):
    return interpreters.board_files(tmp_path_factory.mktemp("image"))


@interpreters.each_runtime
def test_a_pass_takes_nothing_from_the_heap(runtime, compiled):
    """The loop as it is on a board."""
    run, way = interpreters.RUNTIMES[runtime]
    found = interpreters.document(compiled / "loop_passes.py", compiled, compiled / "firmware", run, way)
    assert (found["silent"], found["stray"], found["steps"]) == (0, 0, 500)


def what_leaves(run, program, firmware, folder, requests=REQUESTS):
    """What the whole board writes down in this folder, and how many lines of each kind."""
    folder.mkdir()
    (folder / "requests").write_text("".join(json.dumps(request) + "\n" for request in requests))
    counted = json.loads(run(program, firmware, folder / "requests", folder / "record"))
    return (folder / "record").read_text(), counted


def sources_in(folder):
    """The firmware's sources with a board's data, as they are."""
    shutil.copytree(interpreters.FIRMWARE / "twinloop", folder / "twinloop", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(firmware_files.board_path("pico"), folder / "board.py")
    return folder


@interpreters.each_runtime
def test_all_that_leaves_a_board_is_the_same(runtime, compiled, tmp_path):
    """Bytes to every chip, relays, answers, files, states: of the sources and of the image."""
    assert {method for method, _ in REQUESTS} >= {name for name in loop.METHODS if not name.startswith("bare ")}
    run, _ = interpreters.RUNTIMES[runtime]
    wanted, counted = what_leaves(run, "whole_board.py", sources_in(tmp_path / "sources"), tmp_path / "of_sources")
    assert what_leaves(run, compiled / "whole_board.py", compiled / "firmware", tmp_path / "of_image")[0] == wanted
    # The run reaches what it is for: chips, relays, flash and every call.
    assert counted.keys() == {"wire", "spi", "i2c", "bus", "pin", "watchdog", "fed", "restart", "answer", "state", "file"}
    assert wanted.count('"result"') > 25 and wanted.count('"error"') > 8


# An edit that reaches a name of the firmware by another way, and what the board then says if the
# slimmer does not know of it.
REACHED = {
    "an argument by name": ("desk.take(values, causes, flow)", "desk.take(values, flow=flow, causes=causes)", "unexpected keyword"),
    "an attribute by text": ('"wait": state', '"wait": 0 * getattr(desk, "moved_at") + state', "no attribute"),
    "a chip's attribute": ('"wait": state', '"wait": 0 * loop.port.console.byte + state', "no attribute"),
    "another module's constant": ('"wait": state', '"wait": 0 * len(calls.MEMBERS) + state', "no attribute"),
}


@pytest.mark.parametrize("knows", [True, False])
@pytest.mark.parametrize("case", REACHED)
def test_a_name_that_is_reached_has_to_stay(case, knows, compiled, tmp_path):
    """The board does the same if the slimmer knows of it; negative: otherwise it fails."""
    old, new, told = REACHED[case]
    texts = {name: (image.PACKAGE.parent / name).read_text() for name in image.package_modules()}
    assert texts["twinloop/desk.py"].count(old) == 1
    before = short_names.look_up([*map(ast.parse, texts.values())])
    texts["twinloop/desk.py"] = texts["twinloop/desk.py"].replace(old, new)
    known = short_names.look_up([*map(ast.parse, texts.values())]) if knows else before
    shutil.copytree(compiled / "firmware", tmp_path / "firmware")
    for name, text in texts.items():
        path = tmp_path / "firmware" / name
        path.with_suffix(".mpy").unlink()
        path.write_text(image.board_source(text, image.module_name(name), known))
    text = slim.slim((interpreters.HERE / "whole_board.py").read_text(), "test_program")
    (tmp_path / "program.py").write_text(short_names.shorten_program(text, known))
    few = [request for request in REQUESTS if request[0] in ("hello", "status", "inject")]
    run, program = interpreters.run_unix, tmp_path / "program.py"
    edited = what_leaves(run, program, tmp_path / "firmware", tmp_path / "edited", few)[0]
    wanted = what_leaves(run, compiled / "whole_board.py", compiled / "firmware", tmp_path / "image", few)[0]
    assert (edited == wanted) == knows
    assert (told in edited) != knows


def test_it_fits_into_a_32_bit_board(compiled):
    """Real port, store, loop, all drivers and the display, after a garbage collection."""
    found = interpreters.document("heap_after_start.py", compiled, compiled / "firmware", interpreters.run_wasm)
    assert found["display"]
    assert 40_000 < found["started"] < HEAP_TOP_BYTES


def test_a_traceback_names_module_and_function(compiled):
    """Without line numbers, by the short name that the module's users give it; no two share one."""
    (compiled / "fails.py").write_text(
        "import sys\nsys.path.insert(0, sys.argv[1])\nfrom twinloop.link import frames\n"
        "try:\n    frames.unseal(None)\nexcept TypeError as fault:\n    sys.print_exception(fault, sys.stdout)\n"
    )
    (compiled / "nothing").touch()
    told = interpreters.run_unix(compiled / "fails.py", compiled / "firmware", compiled / "nothing", compiled / "nothing")
    assert 'File "frames", line 1, in unseal' in told
    stems = [path.stem for path in (compiled / "firmware").rglob("*.mpy") if path.stem != "__init__"]
    assert len(stems) == len(set(stems))
