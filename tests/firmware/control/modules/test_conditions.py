"""Conditions by number, in the one word that they take today and in several."""

import pytest
from twinloop_hil.sequences import relay_script

from .. import stations, syntax_edits
from ..protections import library


@pytest.fixture(scope="module")
def narrow():
    """A core whose words hold seven conditions each."""
    return syntax_edits.without(syntax_edits.moved("conditions.BITS", 7 - 30))


def check_each(core):
    """Set and clear each condition; no other one may change."""
    arrays = stations.calm_arrays(core)
    names = [name for name, value in vars(core.conditions).items() if type(value) is int and name not in stations.NO_CONDITIONS]
    assert len(names) == len(core.conditions.CONDITION_NAMES) == len(set(core.conditions.CONDITION_NAMES))
    for name in names:
        core.rules.mark(arrays.state, getattr(core.conditions, name))
        assert stations.conditions(core, arrays) == {name}
        core.rules.mark(arrays.state, getattr(core.conditions, name))
        core.rules.clear(arrays.state, getattr(core.conditions, name))
        assert stations.conditions(core, arrays) == set()


def test_conditions_are_apart(shipped):
    assert shipped.conditions.CONDITION_WORDS == 2
    check_each(shipped)


def test_conditions_of_several_words_are_apart(narrow):
    assert narrow.conditions.CONDITION_WORDS == 5
    check_each(narrow)


def test_several_words_decide_the_same(narrow):
    """Every fifth sequence holds on words of seven conditions."""
    for sequence in library.SEQUENCES[::5]:
        assert relay_script.Run(narrow, sequence).run().failures == []
