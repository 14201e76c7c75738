"""Functions written into their only callers: what is, what stays, and what each rule is for."""

import pytest
from twinloop_hil.board import image, once, short_names
from twinloop_hil.firmware_files import PACKAGE

from .frames_of import words

FRAME_WORDS = 11
NOTHING: frozenset[str] = frozenset()
CORE = sorted(path.relative_to(PACKAGE.parent).as_posix() for path in (PACKAGE / "control").glob("*.py"))


def results(source):
    """What `look` does to a list for some numbers: its answer, and the list afterwards."""
    world, found = {}, []
    exec(source, world)
    for value in (-2, 0, 1, 5):
        state = [value, 7, 3]
        found.append((world["look"](state, value), state))
    return found


GOES = {
    "a value": "def twice(x):\n    'Twice.'\n    return x + x\ndef look(state, n):\n    return twice(n) * 3\n",
    "a choice": (
        "def way(state, n):\n    if n > 3:\n        return 9\n    if state[0] < 0:\n        return state[1]\n"
        "    return n\ndef look(state, n):\n    return way(state, n) + 1\n"
    ),
    "a truth": (
        "def due(state, n):\n    if n > 3:\n        return False\n    if not state[0]:\n        return True\n"
        "    return state[0] > 0\ndef look(state, n):\n    return 1 if n != 1 and due(state, n) else 2\n"
    ),
    "a kept truth": (
        "def due(n):\n    if n > 3:\n        return False\n    return n\ndef look(state, n):\n    return (n and due(n), n)\n"
    ),
    "statements": (
        "def note(state, n):\n    total = n * 2\n    if total > 3:\n        state[0] = total\n    state[2] += 1\n"
        "def look(state, n):\n    for part in range(2):\n        if n:\n            note(state, part)\n    return n\n"
    ),
    "a reading": "def half(x):\n    return x // 2\ndef look(state, n):\n    return half(state[1])\n",
    "one in another": (
        "def inner(n):\n    return n + 1\ndef outer(n):\n    return inner(n) * 2\ndef look(state, n):\n    return outer(n)\n"
    ),
}


@pytest.mark.parametrize("name", GOES)
def test_it_goes_and_does_the_same(name):
    source = GOES[name]
    short = once.write_once(source, NOTHING)
    assert short.count("def ") == 1
    assert results(short) == results(source)


STAYS = {
    "two callers": "def f(n):\n    return n\ndef look(state, n):\n    return f(n) + f(2)\n",
    "no caller but a table": "def f(n):\n    return n\nT = (f,)\ndef look(state, n):\n    return T[0](n)\n",
    "a return in the middle": (
        "def f(state, n):\n    if n:\n        return\n    state[0] = 1\ndef look(state, n):\n    f(state, n)\n    return 1\n"
    ),
    "a step before the answer": "def f(n):\n    m = n + 1\n    return m\ndef look(state, n):\n    return f(n)\n",
    "a name of both": (
        "def f(state, n):\n    part = n\n    state[0] = part\ndef look(state, n):\n    part = 4\n    f(state, n)\n    return part\n"
    ),
    "a global that is a local there": "m = 5\ndef f(n):\n    return n + m\ndef look(state, n):\n    m = 1\n    return f(n) + m\n",
    "an argument that it sets": (
        "def f(state, n):\n    n += 1\n    state[0] = n\ndef look(state, n):\n    f(state, n)\n    return n\n"
    ),
    "an argument read too late": (
        "def f(state, n):\n    state[0] = 8\n    state[1] = n\ndef look(state, n):\n    f(state, state[0])\n    return n\n"
    ),
    "an argument read twice": "def f(n):\n    return n + n\ndef look(state, n):\n    return f(state[0] + 1)\n",
    "a call as the argument": (
        "def f(state, n):\n    return state[0] * 2 + n\ndef add(state):\n    state[0] += 1\n    return 1\n"
        "def look(state, n):\n    return f(state, add(state)) + add(state)\n"
    ),
    "a default": "def f(n=2):\n    return n\ndef look(state, n):\n    return f(n)\n",
    "a named argument": "def f(n, m):\n    return n - m\ndef look(state, n):\n    return f(m=n, n=2)\n",
    "a call in a comprehension": "def f(n):\n    return n\ndef look(state, n):\n    return [f(k) for k in state]\n",
    "itself": "def f(n):\n    return n if n < 9 else f(n - 1)\ndef look(state, n):\n    return n\n",
}


@pytest.mark.parametrize("name", STAYS)
def test_it_stays(name):
    source = STAYS[name]
    short = once.write_once(source, NOTHING)
    assert "def f(" in short
    assert results(short) == results(source)


@pytest.mark.parametrize(
    "name",
    [
        *("a name of both", "a global that is a local there", "an argument that it sets"),
        *("an argument read too late", "a call as the argument"),
    ],
)
def test_what_goes_wrong_without_the_rule(name, monkeypatch):
    """The negative: the function goes into its caller, which then fails or does something else."""
    monkeypatch.setattr(once.Place, "means_the_same", lambda place: True)
    short = once.write_once(STAYS[name], NOTHING)
    assert "def f(" not in short
    assert failed(short) or results(short) != results(STAYS[name])


def failed(source):
    """Whether a source cannot run at all."""
    try:
        results(source)
    except (NameError, UnboundLocalError):
        return True
    return False


def test_what_another_module_mentions_stays():
    source = GOES["a value"]
    assert "def twice" in once.write_once(source, frozenset({"twice"}))
    assert "untold" not in short_names.on_boards().mentioned
    assert "run_timer" in short_names.on_boards().mentioned


def largest_frame(name):
    """Words of a module's largest frame but its own, which is there at the start only."""
    # Past the cache: a test changes how it is compiled.
    body = image.compile_text.__wrapped__((PACKAGE.parent / name).read_text(), name)
    return max(words(body)[1:], default=0)


@pytest.mark.parametrize("name", CORE)
def test_no_frame_of_the_core_goes_to_the_heap(name):
    if name != "twinloop/control/tables.py":
        assert largest_frame(name) <= FRAME_WORDS, "a function written in its caller: once.KEPT can keep it"


@pytest.mark.parametrize("name", sorted(once.KEPT))
def test_each_function_kept_would_make_a_frame_too_large(name, monkeypatch):
    """The negative: in its caller it makes the frame larger than that."""
    (module,) = [path for path in CORE if f"\ndef {name}(" in (PACKAGE.parent / path).read_text()]
    monkeypatch.setattr(once, "KEPT", once.KEPT - {name})
    assert largest_frame(module) > FRAME_WORDS
