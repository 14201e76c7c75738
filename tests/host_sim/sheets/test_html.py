"""The frame of a page: all text is escaped, numbers stay exact, unknown is never a number."""

import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from twinloop_sim.sheets import html

HOSTILE = "</script><img src=x onerror=alert(1)> \"a\" 'b' & c"


def test_text_is_escaped_and_markup_is_not_escaped_twice():
    inner = html.element("b", HOSTILE)
    outer = html.element("p", inner, title=HOSTILE)
    assert "<img" not in outer
    assert outer.count("&lt;img") == 2
    assert "&amp;lt;" not in outer
    assert 'title="&lt;/script&gt;' in outer


def test_attributes_are_named_left_out_and_valueless():
    made = html.element("td", "x", class_="number", data_key="a.b", id=None, hidden=False, open=True)
    assert made == '<td class="number" data-key="a.b" open>x</td>'


@given(st.text())
def test_no_text_opens_a_tag(text):
    assert "<" not in html.markup(text)


@pytest.mark.parametrize("value", [None, float("nan")])
def test_unknown_is_a_word(value):
    assert html.number("k", value, 1, "°C") == '<data data-key="k" value="">unknown</data>'


def test_a_number_is_rounded_for_reading_and_whole_for_a_machine():
    assert html.number("k", 12.3456, 1, "kWh") == '<data data-key="k" value="12.3456">12.3</data>&nbsp;kWh'
    assert '"0.7655">77<' in html.number("k", 0.7655, 0, "%", scale=100)


def test_zero_has_no_sign_and_minus_is_a_minus():
    assert ">0.0<" in html.number("k", -0.01, 1)
    assert ">\N{MINUS SIGN}0.3<" in html.number("k", -0.26, 1)


def test_a_table_escapes_heads_cells_and_caption():
    made = html.table((HOSTILE, "n"), [[HOSTILE, "1"]], numbers=(1,), caption=HOSTILE, marked=(0,))
    assert "<img" not in made
    assert made.count("&lt;img") == 3
    assert '<tr class="marked">' in made
    assert '<td class="number">1</td>' in made


def test_bars_start_where_the_last_one_ended():
    made = html.bars([("in", 10.0, "gain"), ("out", -4.0, "loss"), ("rest", -6.0, "store")], "kWh")
    spans = re.findall(r"left:([\d.]+)%;width:([\d.]+)%", made)
    assert [(float(left), float(width)) for left, width in spans] == [(0, 100), (60, 40), (0, 60)]
    assert "\N{MINUS SIGN}4.0 kWh" in made


def test_bars_of_nothing_divide_by_nothing():
    made = html.bars([("in", -0.0, "gain")], "kWh")
    assert "0.250%" in made
    assert ">0.0 kWh<" in made


def test_a_data_block_cannot_be_closed_from_inside():
    block = html.json_block("d", {"text": HOSTILE})
    assert block.count("</script") == 1
    body = re.fullmatch(r'<script type="application/json" id="d">(.*)</script>', block).group(1)
    assert json.loads(body) == {"text": HOSTILE}


def test_a_data_block_refuses_nan():
    with pytest.raises(ValueError, match="JSON"):
        html.json_block("d", [float("nan")])


def test_a_script_cannot_end_early():
    assert html.script("a='</script>'").count("</script>") == 1


def test_the_page_forbids_fetching():
    page = html.page(HOSTILE, [html.element("p", "x")])
    assert "default-src &#x27;none&#x27;" in page
    assert "<img" not in page
    assert page.startswith("<!DOCTYPE html>")
