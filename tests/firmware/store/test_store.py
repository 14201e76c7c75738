"""Settings on flash in two copies: a cut at any byte leaves the old or the new ones."""

from array import array

import pytest
from twinloop.control import settings as cfg
from twinloop.store import COPIES, FRESH, STORED, UNUSABLE, Store, firmware_hash, pack

from .refusing import KINDS, Flash


def defaults():
    values = array("i", [0] * cfg.SETTINGS)
    cfg.load_defaults(values)
    return values


def test_a_fresh_store_gives_the_defaults(tmp_path):
    values = array("i", [0] * cfg.SETTINGS)
    assert Store(f"{tmp_path}/").load_settings(values) == FRESH
    assert values == defaults()


@pytest.mark.parametrize("saves", [1, 2, 3])
def test_a_cut_at_any_byte_leaves_old_or_new(tmp_path, saves):
    """The copy being written is torn at every length; the other is whole."""
    store = Store(f"{tmp_path}/")
    values = defaults()
    for count in range(saves):
        values[cfg.START_DIFFERENCE] = 8000 + 100 * count
        store.save_settings(values)
    old = values[cfg.START_DIFFERENCE]
    values[cfg.START_DIFFERENCE] = 9900
    body = pack(values, store.sequence + 1)
    name = COPIES[(store.sequence + 1) % 2]
    whole_before = (tmp_path / name).read_bytes() if (tmp_path / name).exists() else b""
    for length in range(len(body) + 1):
        for rest in (b"", whole_before[length:]):
            (tmp_path / name).write_bytes(body[:length] + rest)
            seen = array("i", [0] * cfg.SETTINGS)
            assert Store(f"{tmp_path}/").load_settings(seen) == STORED
            assert seen[cfg.START_DIFFERENCE] in (old, 9900)
    assert seen[cfg.START_DIFFERENCE] == 9900


def test_both_copies_bad_is_said(tmp_path):
    """Defaults, with a code that says why."""
    for name in COPIES:
        (tmp_path / name).write_bytes(b"rubbish")
    values = array("i", [0] * cfg.SETTINGS)
    assert Store(f"{tmp_path}/").load_settings(values) == UNUSABLE
    assert values == defaults()


def test_any_flipped_bit_is_refused(tmp_path):
    body = bytearray(pack(defaults(), 7))
    pair = Store(f"{tmp_path}/").settings
    for place in range(len(body)):
        body[place] ^= 16
        assert pair.sequence_of(bytes(body)) == 0
        body[place] ^= 16
    assert pair.sequence_of(bytes(body)) == 7
    for length in range(12):
        assert pair.sequence_of(bytes(length)) == 0


def test_saves_take_turns(tmp_path):
    store = Store(f"{tmp_path}/")
    values = defaults()
    for count in range(5):
        values[cfg.START_DIFFERENCE] = 8000 + 100 * count
        store.save_settings(values)
        again = Store(f"{tmp_path}/")
        seen = array("i", [0] * cfg.SETTINGS)
        again.load_settings(seen)
        assert seen == values
        assert again.sequence == count + 1


def test_firmware_hash_sees_every_byte(tmp_path):
    """Names, bytes and order count; the host's caches do not."""
    (tmp_path / "control").mkdir()
    (tmp_path / "control" / "a.py").write_text("x = 1\n")
    (tmp_path / "b.py").write_text("y = 1\n")
    first = firmware_hash(str(tmp_path))
    (tmp_path / "__pycache__").mkdir()
    (tmp_path / "__pycache__" / "b.py").write_text("cache")
    assert firmware_hash(str(tmp_path)) == first
    (tmp_path / "control" / "a.py").write_text("x = 2\n")
    assert firmware_hash(str(tmp_path)) != first


FLAGS = {
    "resets": (lambda store: store.save_resets(1, 0), lambda store: store.save_resets(1, 1), lambda store: store.resets()),
    "fault": (lambda store: store.save_fault("raised"), lambda store: store.save_fault("hung up"), lambda store: store.fault()),
    "prompt": (lambda store: store.ask_prompt(60), lambda store: store.ask_prompt(90), lambda store: store.read("prompt")),
}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("flag", FLAGS)
def test_a_torn_flag_is_the_old_one(tmp_path, monkeypatch, flag, kind):
    """What is written is written beside the file, and takes its place when it is whole."""
    monkeypatch.chdir(tmp_path)
    store = Store("")
    first, second, look = FLAGS[flag]
    first(store)
    old = look(store)
    flash = Flash(monkeypatch)
    flash.kind = kind
    second(store)
    assert (look(store), store.failing) == (old, 1)
    flash.kind = ""
    second(store)
    assert look(store) != old
    assert store.failing == 0


def test_a_board_in_service_stays_there(tmp_path, monkeypatch):
    """The flag is not written again, so it cannot be torn; a refused one leaves the bench."""
    flash = Flash(monkeypatch)
    for flash.kind in KINDS:
        assert not Store(f"{tmp_path}/").commission()
        assert not Store(f"{tmp_path}/").in_service()
    flash.kind = ""
    assert Store(f"{tmp_path}/").commission()
    tries = flash.tries
    assert Store(f"{tmp_path}/").commission()
    assert flash.tries == tries
    assert Store(f"{tmp_path}/").in_service()
