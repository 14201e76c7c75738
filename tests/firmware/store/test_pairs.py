"""Two copies: the newest good one is never written, and a refused save changes nothing."""

from array import array

import pytest
from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.store import COPIES, METER_COPIES, PROBE_COPIES, Store, probe_rows

from .refusing import KINDS, Flash


def values_with(number):
    values = array("i", [0] * cfg.SETTINGS)
    cfg.load_defaults(values)
    values[cfg.START_DIFFERENCE] = 8000 + number
    return values


def save_settings(store, number):
    return store.save_settings(values_with(number))


def load_settings(folder):
    values = values_with(0)
    Store(folder).load_settings(values)
    return values[cfg.START_DIFFERENCE] - 8000


def save_probes(store, number):
    rows = probe_rows()
    rows.set_offset(s.TAP, number)
    return store.save_probes(rows)


def load_probes(folder):
    return Store(folder).load_probes().offsets_mk(s.TAP)[0]


def save_meter(store, number):
    state = array("i", [number] * s.STATE)
    return store.save_meter(state[s.METER_MS :])


def load_meter(folder):
    state = array("i", [0] * s.STATE)
    Store(folder).load_meter(state)
    return state[s.HEAT_WH]


CASES = {
    "settings": (COPIES, save_settings, load_settings),
    "probes": (PROBE_COPIES, save_probes, load_probes),
    "meter": (METER_COPIES, save_meter, load_meter),
}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("saves", [1, 2, 3])
@pytest.mark.parametrize("case", CASES)
def test_a_refused_save_spares_the_good_copy(tmp_path, monkeypatch, case, saves, kind):
    """Refused twice, the next start finds the old; accepted then, it finds the new."""
    flash = Flash(monkeypatch)
    names, save, load = CASES[case]
    folder = f"{tmp_path}/"
    store = Store(folder)
    for number in range(1, saves + 1):
        assert save(store, number)
    pair = getattr(store, case)
    newest = tmp_path / names[pair.newest]
    before = newest.read_bytes()
    for refusal in (1, 2):
        flash.kind = kind
        assert save(store, 90 + refusal) is False
        flash.kind = ""
        assert (pair.sequence, store.failing) == (saves, 1)
        assert newest.read_bytes() == before
        assert load(folder) == saves
    assert store.failures >= 2
    assert save(store, 99)
    assert store.failing == 0
    assert load(folder) == 99
    assert pair.good() == 2


@pytest.mark.parametrize("case", CASES)
def test_a_refusal_of_the_first_save_leaves_nothing_half(tmp_path, monkeypatch, case):
    """Without any copy before it, too."""
    flash = Flash(monkeypatch)
    _, save, load = CASES[case]
    for flash.kind in KINDS:
        store = Store(f"{tmp_path}/")
        assert save(store, 5) is False
        assert load(f"{tmp_path}/") == 0


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("swapped", [0, 1])
def test_the_newest_copy_is_spared_wherever_it_lies(tmp_path, case, swapped):
    """Files put back by hand under each other's names: still the older one is written."""
    names, save, load = CASES[case]
    folder = f"{tmp_path}/"
    store = Store(folder)
    for number in (1, 2):
        save(store, number)
    bodies = [(tmp_path / name).read_bytes() for name in names]
    for name, body in zip(names, bodies[::-1] if swapped else bodies, strict=True):
        (tmp_path / name).write_bytes(body)
    again = Store(folder)
    pair = getattr(again, case)
    pair.load()
    newest = tmp_path / names[pair.newest]
    before = newest.read_bytes()
    assert save(again, 3)
    assert newest.read_bytes() == before
    assert load(folder) == 3


@pytest.mark.parametrize("case", CASES)
def test_a_cut_at_any_byte_leaves_old_or_new(tmp_path, case):
    """The copy being written is torn at every length, with the old rest behind it or none."""
    names, save, load = CASES[case]
    folder = f"{tmp_path}/"
    store = Store(folder)
    for number in (1, 2):
        save(store, number)
    written = tmp_path / names[1 - getattr(store, case).newest]
    before = written.read_bytes()
    save(store, 3)
    body = written.read_bytes()
    assert len(body) == len(before)
    found = set()
    for length in range(len(body) + 1):
        for rest in (b"", before[length:], b"\xff" * (len(body) - length)):
            written.write_bytes(body[:length] + rest)
            found.add(load(folder))
    assert found == {2, 3}
    written.write_bytes(body)
    assert load(folder) == 3
