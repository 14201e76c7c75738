"""Tables that number their rows, and words that are handed out once."""

import pytest

from ..stations import each


@pytest.fixture
def table(shipped):
    found = shipped.tables.Table("name", "kind")
    for number in range(9):
        assert found.add(f"row {number}", number % 3) == number
    return found


def test_columns_stand_in_the_order_of_the_rows(table):
    assert table.column("kind") == (0, 1, 2, 0, 1, 2, 0, 1, 2)
    assert table.column("name")[8] == "row 8"


def test_rows_are_found_by_a_field(table):
    assert table.where("kind", 1) == (1, 4, 7)
    assert table.where("kind", 5) == ()


@each("row", ("a",), ("a", 1, 2))
def test_a_row_of_other_fields_is_refused(row, table):
    with pytest.raises(ValueError, match="a: takes name, kind"):
        table.add(*row)


@each("bits, words", (30, [0b100010001]), (9, [0b100010001]), (8, [0b00010001, 1]), (3, [0b001, 0b010, 0b100]))
def test_a_set_of_rows_is_bits_in_words(bits, words, table):
    assert table.words((0, 4, 8), bits) == words
    assert table.words((), bits) == [0] * len(words)


def test_every_word_is_handed_out_once(shipped):
    words = shipped.tables.Words()
    taken = [words.take(), words.take(3), words.take(), words.take(2)]
    assert taken == [0, 1, 4, 5]
    assert words.taken == 7
