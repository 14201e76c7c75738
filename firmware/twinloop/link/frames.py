"""Frames of the link: one line per message, the payload, a space and its CRC-32.

The CRC is CRC-32/ISO-HDLC over the bytes before the space, as exactly eight lower-case hex digits.
It is compared as bytes, so `A0`, ` a0` and `+a0` are all wrong. A line without a good CRC changes
nothing and gets no answer, except the bare words that a person can type.
"""

import binascii
import json

# An ESP32 receives into 260 bytes and silently drops what overflows: a request and its CRC must
# fit.
REQUEST_TOP = 200
# Params are a list that may hold lists. Deeper nesting costs no stack to parse: MicroPython's
# parser does not recurse.
LISTS_TOP = 2
INTEGER_TOP = (1 << 30) - 1
# An id is wider: the session's 32 bits, and 20 that count. Any JSON parser takes it exactly.
ID_TOP = (1 << 52) - 1
BARE_WORDS = (b"hello", b"status", b"help")
# The payload as our host serialises it.
USUAL = '{"jsonrpc":%s,"id":%s,"method":%s,"params":%s}'


def crc_text(payload):
    """CRC-32 of the payload as bytes: eight lower-case hex digits."""
    return b"%08x" % (binascii.crc32(payload) & 0xFFFFFFFF)


def seal(payload):
    """The line that carries this payload, with its line feed."""
    return payload + b" " + crc_text(payload) + b"\n"


def unseal(line):
    """The payload of a line without its line feed, or None if the CRC is missing or wrong."""
    if len(line) < 10 or line[-9] != 32:
        return None
    payload = bytes(line[:-9])
    return payload if bytes(line[-8:]) == crc_text(payload) else None


def plain(value, lists):
    """Whether a value is a text, an integer in range, or lists of these, at most `lists` deep.

    That leaves out maps, floats, truth values and null.
    """
    if type(value) is int:
        return -INTEGER_TOP <= value <= INTEGER_TOP
    if type(value) is list:
        for item in value:
            if lists == 0 or not plain(item, lists - 1):
                return False
        return lists > 0
    return type(value) is str


def fits(name, value):
    """Whether a member may have this value: a plain one, but an id may be wider."""
    if name == "id" and type(value) is int:
        return 0 <= value <= ID_TOP
    return plain(value, LISTS_TOP)


def usual(message):
    """The payload as our host serialises it, for a message with exactly our members."""
    get = message.get
    params = json.dumps(get("params"), separators=(",", ":"))
    return (USUAL % (json.dumps(get("jsonrpc")), get("id"), json.dumps(get("method")), params)).encode()


def spelled(message, payload):
    """Whether the payload is the one spelling of its message, but for spaces and order of members.

    MicroPython's parser accepts much that is not JSON, such as `[1 2,]`, `{"a",007]` and a name
    given twice. So what it understood is serialised again and compared.
    """
    if usual(message) == payload:
        return True
    names = sorted(message, key=lambda name: payload.find(b'"' + name.encode() + b'"'))
    members = [json.dumps(name) + ":" + json.dumps(message[name], separators=(",", ":")) for name in names]
    return ("{" + ",".join(members) + "}").encode().replace(b" ", b"") == payload.replace(b" ", b"")


def parse(payload):
    """The message of a payload as a dict, or None.

    None stands for nesting too deep, not JSON to the letter, not a map, or values that are not
    plain.
    """
    # Control bytes and bytes above 126 do not belong in a message: refuse them before any decoder
    # sees them.
    if min(payload) < 32 or max(payload) > 126:
        return None
    try:
        message = json.loads(payload.decode())
    except (ValueError, KeyError, IndexError, RuntimeError, MemoryError):
        return None
    if type(message) is not dict:
        return None
    for name in message:
        if type(name) is not str or not fits(name, message[name]):
            return None
    return message if spelled(message, payload) else None
