"""Tables whose rows are numbered by their order.

This runs at import only. On a board the finished numbers and columns take its place.
"""


class Table:
    """Things of one kind: a row each, all with the same fields."""

    def __init__(self, *fields):
        self.fields = fields
        self.rows = []

    def add(self, *row):
        """Append a row and return its number. Raises ValueError for the wrong number of fields."""
        if len(row) != len(self.fields):
            raise ValueError(f"{row[0]}: takes {', '.join(self.fields)}")
        self.rows.append(row)
        return len(self.rows) - 1

    def column(self, field):
        """One field of every row, as a tuple."""
        place = self.fields.index(field)
        return tuple([row[place] for row in self.rows])

    def where(self, field, value):
        """The numbers of the rows that have this value in that field, as a tuple."""
        return tuple([number for number, found in enumerate(self.column(field)) if found == value])

    def words(self, numbers, bits):
        """A set of rows as bits, `bits` of them to a word, in as many words as all rows take."""
        words = [0] * ((len(self.rows) + bits - 1) // bits)
        for number in numbers:
            words[number // bits] |= 1 << number % bits
        return words


class Words:
    """Hands out the words of an array one after the other."""

    def __init__(self):
        self.taken = 0

    def take(self, count=1):
        """Index of the first of `count` words."""
        self.taken += count
        return self.taken - count
