"""Tables whose rows get their numbers from the order they stand in.

Only the import runs this file: on a board the numbers and columns are written in its place.
"""


class Table:
    """All things of one kind, a row each, with the same fields."""

    def __init__(self, *fields):
        self.fields = fields
        self.rows = []

    def add(self, *row):
        """Append a row and return its number. Raises ValueError for a row with other fields."""
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
        """A set of rows as words of so many bits, in as many words as all rows take."""
        words = [0] * ((len(self.rows) + bits - 1) // bits)
        for number in numbers:
            words[number // bits] |= 1 << number % bits
        return words


class Words:
    """The words of an array, handed out one after the other."""

    def __init__(self):
        self.taken = 0

    def take(self, count=1):
        """Index of the first of so many words."""
        self.taken += count
        return self.taken - count
