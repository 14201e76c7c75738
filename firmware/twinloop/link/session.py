"""Who is asking, and whether it is a repetition.

A session begins with `hello`. Its number, 32 random bits, is the upper part of every id, so that
neither a guess nor a line recorded in an earlier session is of this one. The lower part rises with
each request, by less than AHEAD: a host that guesses cannot leave the owner behind. The last id
again with the same CRC is a repetition: it gets the stored answer and is not executed again.
"""

SHIFT = 20
AHEAD = 1000

NEW = 0
REPEATED = 1
STALE = 2
REUSED = 3
FOREIGN = 4


class Session:
    """The board's side of one conversation."""

    def __init__(self):
        self.number = 0
        self.last_id = 0
        self.last_crc = b""
        self.last_answer = b""

    def open(self, number):
        """Begin a session and return its number; requests of older ones are foreign from now on."""
        self.number = number or 1
        self.last_id = self.number << SHIFT
        self.last_crc = b""
        self.last_answer = b""
        return self.number

    def judge(self, request_id, crc):
        """NEW, REPEATED, STALE (older), REUSED (other bytes) or FOREIGN.

        FOREIGN is another session, or an id too far ahead to be the owner's.
        """
        if self.number == 0 or request_id >> SHIFT != self.number:
            return FOREIGN
        if request_id == self.last_id and self.last_answer:
            return REPEATED if crc == self.last_crc else REUSED
        if request_id > self.last_id + AHEAD:
            return FOREIGN
        return NEW if request_id > self.last_id else STALE

    def keep(self, request_id, crc, answer):
        """Remember the answer to the request just executed."""
        self.last_id = request_id
        self.last_crc = crc
        self.last_answer = answer
