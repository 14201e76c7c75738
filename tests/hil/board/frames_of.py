"""The frames of the functions in an .mpy file, read from the file."""

SINGLE_TYPES = (1, 2, 3, 4)
TEXT_TYPES = (5, 6)
TUPLE_TYPE = 10


def words(body):
    """Words of arguments, locals and stack of each function, the module's own first."""
    count, place = number(body, 4)
    objects, place = number(body, place)
    for _ in range(count):
        length, place = number(body, place)
        # An odd one is a number in MicroPython's own list; a text ends with a zero.
        place += 0 if length & 1 else (length >> 1) + 1
    for _ in range(objects):
        place = behind_object(body, place)
    found = []
    assert collect(body, place, found) == len(body)
    return found


def number(body, place):
    """A number of seven bits a byte, and the place behind it."""
    value = 0
    while True:
        value = value << 7 | body[place] & 127
        place += 1
        if body[place - 1] < 128:
            return value, place


def behind_object(body, place):
    """The place behind a constant object."""
    kind = body[place]
    if kind in SINGLE_TYPES:
        return place + 1
    length, place = number(body, place + 1)
    if kind != TUPLE_TYPE:
        return place + length + (kind in TEXT_TYPES)
    for _ in range(length):
        place = behind_object(body, place)
    return place


def collect(body, place, found):
    """Add the frames of a function and of those in it; returns the place behind them."""
    kind, place = number(body, place)
    found.append(frame(body, place))
    place += kind >> 3
    if kind & 4:
        inside, place = number(body, place)
        for _ in range(inside):
            place = collect(body, place, found)
    return place


def frame(body, place):
    """The words of one function: four bits of its first byte, two of each byte that goes on."""
    size = body[place] >> 3 & 15
    shift = 0
    while body[place] & 128:
        place += 1
        size |= (body[place] & 0x30) << shift
        shift += 2
    return size + 1
