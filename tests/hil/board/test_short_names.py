"""Arguments under short names: what is renamed, what stays, and what each exception is for."""

import ast
import builtins

import pytest
from twinloop_hil.board import short_names
from twinloop_hil.board.slim import SlimError
from twinloop_hil.firmware_files import PACKAGE

NOTHING = frozenset()


def run(source, named=NOTHING):
    """What a source leaves in `found` when it runs with short arguments."""
    world = {}
    exec(short_names.shorten(source, named), world)
    return world["found"]


def test_arguments_get_words_of_the_rom():
    source = "def far(state, settings):\n    return state[settings] and (lambda mk: mk + 1)(state)"
    assert short_names.shorten(source, NOTHING) == ("def far(self, args):\n    return self[args] and (lambda self: self + 1)(self)")


def test_the_words_cost_nothing(tmp_path):
    """An .mpy file holds none of them as text, but it does hold any other argument."""
    from twinloop_hil.board import image

    def compiled(names):
        (tmp_path / "words.py").write_text(f"def f({', '.join(names)}):\n    pass\n")
        return image.compile_module(tmp_path / "words.py", "words.py")

    assert not [word for word in short_names.WORDS if word.encode() in compiled(short_names.WORDS)]
    assert b"settings" in compiled(["settings"])
    assert not set(short_names.WORDS) & set(dir(builtins))


def test_what_a_call_names_stays():
    """Its negative: renamed, the call fails."""
    source = "def keep(value, limit):\n    return value - limit\nfound = keep(7, limit=2)"
    assert run(source, short_names.named_in_calls([ast.parse(source)])) == 5
    with pytest.raises(TypeError, match="unexpected keyword argument 'limit'"):
        run(source)


def test_the_firmware_names_arguments():
    """Those of chips in port.py, those in main.py; no word is among them."""
    named = short_names.named_in_firmware()
    assert {"value", "separators", "trigger", "callback"} <= named
    assert not named & set(short_names.WORDS)


@pytest.mark.parametrize("call", ["f(**facts)", "eval(text)", "exec(text)", "locals()", "vars()"])
def test_what_may_name_any_argument_is_refused(call):
    with pytest.raises(SlimError):
        short_names.named_in_calls([ast.parse(call)])


# Each leaves in `found` what it does.
INNER = {
    "a comprehension's own variable": "def f(item):\n    return [item for item in (1, 2)], item\nfound = f(5)",
    "an inner argument": "def f(item):\n    return (lambda item: item * 2)(3), item\nfound = f(5)",
    "an inner function's variable": "def f(it):\n    def g():\n        it = 2\n        return it\n    return g(), it\nfound = f(5)",
    "an import": "def f(math):\n    import math\n    return math.floor(2.5)\nfound = f(5)",
    "a fault": "def f(e):\n    try:\n        1 // e\n    except ZeroDivisionError as e:\n        return str(e)\nfound = f(0)",
    "a default from outside": "item = 3\ndef f(item, other=item):\n    return item, other\nfound = f(5)",
    "a word that is taken": "def f(item):\n    self = 4\n    return self, item\nfound = f(5)",
    "a word from outside": "self = 4\ndef f(item):\n    return self, item\nfound = f(5)",
    "an outer argument": "def f(item):\n    return (lambda other: (item, other))(3)\nfound = f(5)",
    "a nonlocal": "def f(item):\n    def g():\n        nonlocal item\n        item = 2\n    g()\n    return item\nfound = f(5)",
    "a class": "def f(item):\n    class C:\n        item = 2\n    return C.item, item\nfound = f(5)",
    "all the rest": "def f(item, *rest, **named):\n    return item, rest, named\nfound = f(5, 6, seven=7)",
}


@pytest.mark.parametrize("case", INNER)
def test_a_renamed_function_does_the_same(case):
    world = {}
    exec(INNER[case], world)
    assert run(INNER[case]) == world["found"]


@pytest.mark.parametrize("case", ["an inner argument", "an import", "a fault", "a nonlocal", "a class"])
def test_names_bound_inside_have_to_stay(case, monkeypatch):
    """Negative: renamed all the same, something else comes out, or nothing does."""
    monkeypatch.setattr(short_names, "bound_inside", lambda parts: set())
    check_broken(case)


@pytest.mark.parametrize("case", ["a word that is taken", "a word from outside"])
def test_words_in_use_have_to_stay(case, monkeypatch):
    monkeypatch.setattr(short_names, "free_words", lambda parts, taken: list(short_names.WORDS))
    check_broken(case)


def check_broken(case):
    world = {}
    exec(INNER[case], world)
    try:
        found = run(INNER[case])
    except (NameError, SyntaxError, AttributeError):
        return
    assert found != world["found"]


def test_every_function_of_the_firmware_keeps_its_shape():
    """Same functions, same number of arguments, and every argument distinct."""
    for path in PACKAGE.rglob("*.py"):
        before, after = ast.parse(path.read_text()), ast.parse(short_names.shorten(path.read_text()))
        for old, new in zip(functions(before), functions(after), strict=True):
            names = [arg.arg for arg in short_names.arguments(new)]
            assert len(names) == len(set(names)) == len(short_names.arguments(old))
            assert {name for name in names if name not in short_names.WORDS} <= short_names.named_in_firmware() | {"_"}


def functions(tree):
    return [node for node in ast.walk(tree) if isinstance(node, (ast.FunctionDef, ast.Lambda))]
