"""Every code has one text, and no two codes share one."""

from twinloop import reason_texts

from ..stations import each


def codes(module, prefix=""):
    """The module's constants with this prefix, by name."""
    return {name: value for name, value in vars(module).items() if name.isupper() and name.startswith(prefix)}


def test_every_reason_has_a_sentence_and_no_two_share_one(shipped):
    texts = reason_texts.REASON_TEXTS
    wanted = set(codes(shipped.reasons).values())
    assert set(texts) == wanted
    assert len(set(codes(shipped.reasons).values())) == len(codes(shipped.reasons))
    assert len(set(texts.values())) == len(texts)


def test_every_cause_has_a_text(shipped):
    texts = reason_texts.CAUSE_TEXTS
    assert set(texts) == set(codes(shipped.state, "CAUSE_").values())
    assert len(set(texts.values())) == len(texts)


def test_every_status_has_a_text(s):
    texts = [reason_texts.STATUS_TEXTS[code] for code in (s.GOOD, s.HELD, s.LOST, s.ABSENT)]
    assert texts == ["good", "held", "lost", "absent"]


def test_every_joint_rule_has_a_sentence_and_its_settings(shipped):
    rules = codes(shipped.settings, "RULE_")
    wanted = {value for name, value in rules.items() if name not in ("RULE_OK", "RULE_RANGE")}
    assert set(reason_texts.RULE_TEXTS) == set(reason_texts.RULE_SETTINGS) == wanted


def test_a_sentence_names_the_settings_that_its_rule_is_about(shipped):
    names = [row[0] for row in shipped.settings.TABLE]
    for rule, concerned in reason_texts.RULE_SETTINGS.items():
        text = reason_texts.RULE_TEXTS[rule]
        if rule != shipped.settings.RULE_OUTDOOR_NEEDED:
            assert [names[code] for code in concerned if names[code] not in text] == []


@each("table", "REASON_TEXTS", "CAUSE_TEXTS", "RULE_TEXTS")
def test_a_text_is_a_phrase_without_a_full_stop(table):
    for text in getattr(reason_texts, table).values():
        assert text == text.strip()
        assert text[0].islower()
        assert not text.endswith(".")


def test_waiting_reasons_are_apart_from_reasons(shipped):
    # source: reasons.py, from 40 on they say what an output waits for, from 60 on what the fan does
    for name, value in codes(shipped.reasons).items():
        assert (40 <= value < 60) == (name.startswith("WAIT_") and name != "WAIT_NOTHING")
