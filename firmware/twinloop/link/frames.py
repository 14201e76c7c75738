"""One line a message: the payload, a space, and its CRC-32 as exactly eight lower-case hex digits.

The CRC is CRC-32/ISO-HDLC over the bytes before the space. It is compared as bytes, so that `A0`, ` a0` and `+a0` are all wrong.
A line without a good CRC changes nothing and gets no answer, except for the bare words a person can type.
"""

import binascii
import json

# An ESP32 receives into 260 bytes and drops what overflows without a word: a request with its CRC has to fit well.
REQUEST_TOP = 200
# Params are a list, and what is in it may be one. Deeper ones cost no parser its stack: MicroPython's does not recurse.
LISTS_TOP = 2
INTEGER_TOP = (1 << 30) - 1
BARE_WORDS = (b"hello", b"status", b"help")
# A message as our own host spells it.
USUAL = '{"jsonrpc":%s,"id":%s,"method":%s,"params":%s}'


def crc_text(payload):
    """CRC-32 of the payload as eight lower-case hex digits, bytes."""
    return b"%08x" % (binascii.crc32(payload) & 0xFFFFFFFF)


def seal(payload):
    """The line that carries this payload, with its line feed."""
    return payload + b" " + crc_text(payload) + b"\n"


def unseal(line):
    """The payload of a line without its line feed, or None when the CRC is missing or wrong."""
    if len(line) < 10 or line[-9] != 32:
        return None
    payload = bytes(line[:-9])
    return payload if bytes(line[-8:]) == crc_text(payload) else None


def plain(value, lists):
    """Whether a parsed value is made of texts, integers in range, and lists in each other, so many at most, only.

    That leaves no map, no float, no truth value and no null.
    """
    if type(value) is int:
        return -INTEGER_TOP <= value <= INTEGER_TOP
    if type(value) is list:
        for item in value:
            if lists == 0 or not plain(item, lists - 1):
                return False
        return lists > 0
    return type(value) is str


def usual(message):
    """The payload of a message as our own host spells it, where the message has just its members."""
    get = message.get
    params = json.dumps(get("params"), separators=(",", ":"))
    return (USUAL % (json.dumps(get("jsonrpc")), get("id"), json.dumps(get("method")), params)).encode()


def spelled(message, payload):
    """Whether a payload spells its message in the one way that there is, spaces and the order of the members aside.

    MicroPython's parser takes much that is not JSON, such as `[1 2,]`, `{"a",007]` and a name given twice. What it understood is
    written down again and compared.
    """
    if usual(message) == payload:
        return True
    names = sorted(message, key=lambda name: payload.find(b'"' + name.encode() + b'"'))
    members = [json.dumps(name) + ":" + json.dumps(message[name], separators=(",", ":")) for name in names]
    return ("{" + ",".join(members) + "}").encode().replace(b" ", b"") == payload.replace(b" ", b"")


def parse(payload):
    """The message of a payload as a dict, or None when it is not one: too deep, not JSON to the letter, not a map, not plain."""
    # Control bytes and bytes above 126 have no business in a message; they are refused before any decoder sees them.
    if min(payload) < 32 or max(payload) > 126:
        return None
    try:
        message = json.loads(payload.decode())
    except (ValueError, KeyError, IndexError, RuntimeError, MemoryError):
        return None
    if type(message) is not dict:
        return None
    for name in message:
        if type(name) is not str or not plain(message[name], LISTS_TOP):
            return None
    return message if spelled(message, payload) else None
