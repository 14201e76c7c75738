"""Bad lines for the link: one pure function per kind, with the answers that a sound board gives.

A shot is what is sent at once: (bytes, answers), where `answers` is the number of errors that the
board must return. A line with a good CRC is answered with an error; a line without one is only
counted. All lines carry an id that is still free, so that a board which took one for a request
would execute it.
"""

from __future__ import annotations

import binascii
import json
import random
import re

from twinloop.link import calls, frames
from twinloop.link.session import AHEAD, SHIFT

from ...readings import EVENING_MC

# Random lines must not be one of these.
WORDS = frozenset(frames.BARE_WORDS)
LINE_ENDS = (10, 13)
ID_MASK = (1 << SHIFT) - 1


def lines_in(data: bytes) -> int:
    """The number of lines in these bytes, without empty ones."""
    return sum(1 for piece in re.split(rb"[\r\n]", data) if piece)


def requests(request_id: int) -> list[bytes]:
    """Good lines without line feed: executed, they would show in the status but move no relay."""
    other_mc = [value + 5000 for value in EVENING_MC]
    kinds = (
        ("release", []),
        ("inject", [5000, 0, other_mc, []]),
        ("hand", [0, 0, 5]),
        ("maintenance", [5]),
        ("settings.stage", [0, 0, 9000]),
        ("settings.commit", [0, "00000000"]),
    )
    return [calls.request(request_id, method, params)[:-1] for method, params in kinds]


def flips(request_id: int) -> list[tuple[bytes, int]]:
    """Each kind of request with every single bit flipped."""
    shots = []
    for line in requests(request_id):
        for place in range(8 * len(line)):
            bad = bytearray(line)
            bad[place // 8] ^= 1 << place % 8
            shots.append((bytes(bad) + b"\n", 0))
    return shots


def edits(request_id: int) -> list[tuple[bytes, int]]:
    """Requests with a byte lost, doubled or swapped at every place; cut, split or merged."""
    lines = requests(request_id)
    bad = []
    for number, line in enumerate(lines):
        bad += [line[:place] + line[place + 1 :] for place in range(len(line))]
        bad += [line[: place + 1] + line[place:] for place in range(len(line))]
        bad += [
            line[:place] + line[place + 1 :][:1] + line[place : place + 1] + line[place + 2 :] for place in range(len(line) - 1)
        ]
        bad += [line[:place] for place in range(1, len(line))]
        bad += [line[place:] for place in range(1, len(line))]
        bad += [line[:place] + b"\n" + line[place:] for place in range(1, len(line))]
        bad += [line[:place] + b"\r" + line[place:] for place in range(1, len(line), 4)]
        bad += [line + other for other in lines]
        bad += [line + b" " + lines[number - 1], line + b"\x00" + line, line[: len(line) // 2] + lines[number - 1]]
    return [(line + b"\n", 0) for line in bad if line not in lines]


def near_crcs(payload: bytes, other: bytes) -> list[bytes]:
    """The payload with line ends that are nearly its CRC."""
    good = frames.crc_text(payload)
    value = int(good, 16)
    inverted = b"%08x" % (value ^ 0xFFFFFFFF)
    wide = "".join(chr(0xFEE0 + digit) for digit in good).encode()
    ends = [good.upper(), b"+" + good[1:], b"-" + good[1:], b" " + good[1:], b"0x" + good[2:], b"0X" + good[2:], good[:7], good[1:]]
    ends += [
        b"0" + good,
        good + b"0",
        b"+" + good,
        b"-" + good,
        b"0x" + good,
        good + b" ",
        b" " + good,
        good + b"h",
        good + b"\x00",
    ]
    ends += [good[:4] + b"_" + good[4:], good[:3] + b"_" + good[4:], b"%d" % value, b'"' + good + b'"', good + good]
    ends += [frames.crc_text(other), frames.crc_text(payload + b" "), frames.crc_text(payload + b"\n"), frames.crc_text(b"")]
    ends += [inverted, good[::-1], bytes.fromhex(good.decode())[::-1].hex().encode(), b"%08x" % binascii.crc32(payload, 0xFFFFFFFF)]
    ends += [wide, bytes(digit | 0x80 for digit in good), good[:7] + b"\xb2", b"00000000", b"ffffffff", b"", b"xxxxxxxx"]
    ends += [good[:place] + bytes([good[place] - 32]) + good[place + 1 :] for place in range(8) if good[place] > 96]
    ends += [good[:place] + b"%x" % (int(good[place : place + 1], 16) ^ 1) + good[place + 1 :] for place in range(8)]
    return [payload + b" " + end for end in ends] + [payload + gap + good for gap in (b"", b"\t", b"\xa0", b"  ", b"\x00", b"_")]


def near_misses(request_id: int) -> list[tuple[bytes, int]]:
    """Lines that nearly end with their CRC: in another case, length, notation or order."""
    lines = requests(request_id)
    payloads = [line[:-9] for line in lines]
    payloads += [
        json.dumps({"jsonrpc": "2.0", "id": request_id, "method": "hand", "params": [0, 0, n]}).encode() for n in range(1, 20)
    ]
    shots = []
    for number, payload in enumerate(payloads):
        for line in near_crcs(payload, payloads[number - 1]):
            # Skip lines with a line end inside, and near misses that happen to be right.
            if frames.seal(payload)[:-1] != line and not set(line) & set(LINE_ENDS):
                shots.append((line + b"\n", 0))
    return shots


LENIENT = (
    b"{'jsonrpc':'2.0','id':ID,'method':'METHOD','params':[PARAMS]}",
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS],}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS,]}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[,PARAMS]}',
    b'{,"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0" "id":ID "method":"METHOD" "params":[PARAMS]}',
    b'{"jsonrpc","2.0":"id",ID:"method","METHOD":"params",[PARAMS]}',
    b'{"jsonrpc"::"2.0","id":ID,,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS]]',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS}}',
    b'["jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS]',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS]}}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS]};',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS]} {}',
    b'"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS]',
    b'[{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS]}]',
    b'["jsonrpc","2.0","id",ID,"method","METHOD","params",[PARAMS]]',
    b'"{\\"jsonrpc\\":\\"2.0\\",\\"id\\":ID,\\"method\\":\\"METHOD\\"}"',
    b'{jsonrpc:"2.0",id:ID,method:"METHOD",params:[PARAMS]}',
    b'{"jsonrpc":2.0,"id":ID,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2","id":ID,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0 ","id":ID,"method":"METHOD","params":[PARAMS]}',
    b'{"JSONRPC":"2.0","id":ID,"method":"METHOD","params":[PARAMS]}',
    b'{"id":ID,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS],"extra":1}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS],"result":1}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS],"":1}',
    b'{"jsonrpc":"2.0","id":1,"id":ID,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"id":ID,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"method":"status","method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[],"params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS]}//',
    b'{"jsonrpc":"2.0","id":ID,/**/"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS]}#',
    b'{"jsonrpc":"2.0","id":"ID","method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":[ID],"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID.0,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":IDe0,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":0ID,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":+ID,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":-ID,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":true,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":null,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":NaN,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"method":METHOD,"params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"method":["METHOD"],"params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"method":null,"params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":{}}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":null}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":"PARAMS"}',
    b'{"jsonrpc":"2.0","id":ID,"method":"METHOD","params":{"0":[PARAMS]}}',
    b'{"jsonrpc":"2.0","\\u0069d":ID,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"\\u0032.0","id":ID,"method":"METHOD","params":[PARAMS]}',
    b'{"jsonrpc":"2.0","id":ID,"me\\thod":"METHOD","params":[PARAMS]}',
    b'{1:2,"jsonrpc":"2.0","id":ID,"method":"METHOD","params":[PARAMS]}',
    b"{}",
    b"[]",
    b'""',
    b"ID",
    b"null",
    b"true",
    b"METHOD(PARAMS)",
    b"               ",
)
NUMBERS = (  # noqa: SIM905 - forty items read better in lines
    "0.0 1.0 5.0 5. .5 1e0 1E1 5e+0 50e-1 NaN Infinity -Infinity true false null -0 +1 05 007 00 0x5 0b1 1_0 1073741824 "
    "-1073741824 4294967297 18446744073709551617 "
    "99999999999999999999999999999999999999 1e400 -1e400 - -- 1-2 5L 5u '5' {} \\u0035 0.1e1 ٥"
).split()


def lenient(request_id: int) -> list[tuple[bytes, int]]:
    """Payloads that only a lenient parser takes, with a good CRC: each gets an error."""
    payloads = []
    for method, params in ((b"release", b"0"), (b"hand", b"0,0,5"), (b"maintenance", b"5")):
        for form in LENIENT:
            payloads.append(form.replace(b"ID", b"%d" % request_id).replace(b"METHOD", method).replace(b"PARAMS", params))
    good = '{"jsonrpc":"2.0","id":%d,"method":"hand","params":[%s,%s,%s]}'
    for number in NUMBERS:
        payloads += [(good % (request_id, *triple)).encode() for triple in ((number, 0, 5), (0, number, 5), (0, 0, number))]
        # As an id, a number of up to 52 bits is well spelled.
        if number not in ("1073741824", "4294967297"):
            payloads.append(b'{"jsonrpc":"2.0","id":%s,"method":"release","params":[]}' % number.encode())
    return [(frames.seal(payload), 1) for payload in payloads]


def deep(request_id: int) -> list[tuple[bytes, int]]:
    """Brackets and braces nested as deeply as fits, with a good CRC: each gets an error."""
    head = b'{"jsonrpc":"2.0","id":%d,"method":"release","params":[' % request_id
    room = frames.REQUEST_TOP - len(head) - 2
    payloads = []
    for level in range(2, room // 2 + 1):
        payloads += [head + b"[" * level + b"]" * level + b"]}", head + b"[" * level, b"[" * (2 * level), b'{"a":' * level]
        if 6 * level < room:
            payloads += [head + b'{"a":' * level + b"0" + b"}" * level + b"]}", b'{"a":' * level + b"0" + b"}" * level]
            payloads.append(head + b'"]",[' * level + b"]" * level + b"]}")
    return [(frames.seal(payload), 1) for payload in payloads if len(payload) <= frames.REQUEST_TOP]


def too_long(request_id: int) -> list[tuple[bytes, int]]:
    """Good requests, but longer than the receive buffer: only counted."""
    line = b'{"jsonrpc":"2.0","id":%d,"method":"release","params":[]' % request_id
    return [(frames.seal(line.ljust(length) + b"}"), 0) for length in range(frames.REQUEST_TOP, frames.REQUEST_TOP + 300)]


# Keys that open a prompt, a raw prompt or a raw paste where the interpreter has the console.
PROMPT_KEYS = (
    b"\r\x03\x03\r\x01",
    b"\x03",
    b"\x04",
    b"\x02",
    b"\x03\x04\x03\x04",
    b"\x05A\x01",
    b"\x01import machine\rmachine.reset()\r\x04",
    b"\x05import machine\x04",
    b"\r\n>>> import machine\r\n",
    b"\x01\x01\x01\x04\x04\x02\x03",
)


def control_bytes(request_id: int, rng: random.Random) -> list[tuple[bytes, int]]:
    """Every non-text byte alone, around and in good lines, sealed; prompt keys; noise."""
    line = requests(request_id)[0]
    payload = line[:-9]
    shots = []
    for byte in (*range(32), *range(127, 256)):
        if byte in LINE_ENDS:
            continue
        noise = bytes([byte])
        shots += [(bad + b"\n", 0) for bad in (noise, noise * 9, noise + line, line + noise, line[:20] + noise + line[20:])]
        for place in (0, 20, len(payload)):
            shots.append((frames.seal(payload[:place] + noise + payload[place:]), 1))
    for keys in PROMPT_KEYS * 20:
        shots.append((keys + b"\n", 0))
    for _ in range(500):
        noise = rng.randbytes(rng.randrange(1, 40))
        if not set(re.split(rb"[\r\n]", noise)) & WORDS:
            shots.append((noise + b"\n", 0))
    return shots


def as_they_were(lines: list[bytes]) -> list[tuple[bytes, int]]:
    """Good lines that were executed long ago or belong to a past session: each gets an error."""
    return [(line, 1) for line in lines]


def reused(request_id: int) -> list[tuple[bytes, int]]:
    """Other requests with the id of the last executed one: each gets an error."""
    return [(calls.request(request_id, "hand", [0, 0, number]), 1) for number in range(1, 200)]


def foreign(request_id: int) -> list[tuple[bytes, int]]:
    """Requests of sessions that are not open: each gets an error."""
    session = request_id >> SHIFT
    others = [number for number in range(0, 600, 7) if number != session]
    # One bit off, too, and the right session far ahead.
    others += [session ^ 1 << bit for bit in range(32)]
    ids = [number << SHIFT | request_id & ID_MASK for number in others] + [request_id + AHEAD + 1, request_id | ID_MASK]
    return [(calls.request(number, "hand", [0, 0, 5]), 1) for number in ids]


def short(count: int, rng: random.Random) -> list[tuple[bytes, int]]:
    """Many short lines, to reach the number; control bytes are a kind of their own."""
    alphabet = bytes((*range(32, 127), *range(128, 256)))
    shots = []
    while len(shots) < count:
        line = bytes(rng.choices(alphabet, k=rng.randrange(1, 7)))
        if line not in WORDS:
            shots.append((line + b"\n", 0))
    return shots
