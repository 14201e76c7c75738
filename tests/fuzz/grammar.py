"""Lines for the link with a good CRC, drawn at random from a grammar of its calls.

Most are what a host could send. The rest have one thing wrong: a value out of range, a type, a
length, an id, an envelope. The grammar learns from the answers (session, sequence, CRC, step
number), so that it gets past the first checks.
"""

from __future__ import annotations

import json
import random
import string

from twinloop.control import settings as cfg
from twinloop.control import state as s
from twinloop.link import calls, frames

EDGES = (0, 1, -1, 2, 3, 7, 8, 100, 255, 511, 3600, 60000, 75000, 1 << 20, (1 << 30) - 1, -(1 << 30) + 1, 1 << 30, 1 << 31, 1 << 62)
WORDS = ("", "0", "00000000", "hello", "tank_low", "x" * 90, "../../main.py", "\\u0000", "28ff", "zz" * 8)
FOLLOWED_BY = {
    "inject": ("advance",),
    "advance": ("advance", "inject"),
    "settings.stage": ("settings.commit", "settings.stage", "probes.stage"),
    "probes.stage": ("restore", "settings.stage"),
}
NEXT_STEP = "next step is "
# They end much of what went before.
SELDOM = ("hello", "prompt", "release")
BARE = (b"hello", b"status", b"help", b"hell", b"HELLO", b"stat us")


class Grammar:
    """Draws lines; `learn` takes each answer. `without` are methods that are never called."""

    def __init__(self, seed: int, methods: list[str], without: tuple[str, ...] = ()):
        self.rng = random.Random(seed)
        self.methods = sorted(name for name in methods if name not in without and not name.startswith("bare "))
        self.without = without
        self.session_base = 0
        self.last = 0
        self.sequence = 0
        self.crc = "00000000"
        self.rows_crc = "00000000"
        self.step = 0
        self.lost = True
        self.asked = ""

    def learn(self, answer: dict) -> None:
        """Take over what an answer tells: session, sequence, CRC, number of the step."""
        result = answer.get("result")
        if isinstance(result, dict):
            if "session" in result:
                self.session_base = self.last = session_base(result["session"])
            self.sequence = result.get("sequence", self.sequence)
            if self.asked == "probes.stage":
                self.rows_crc = result.get("crc", self.rows_crc)
            else:
                self.crc = result.get("crc", self.crc)
        elif isinstance(result, list) and len(result) == 5 and isinstance(result[0], int):
            self.step = result[0]
        elif "error" in answer:
            self.lost = answer["error"]["code"] == calls.NO_SESSION
            text = answer["error"]["message"]
            if text.startswith(NEXT_STEP):
                self.step = int(text[len(NEXT_STEP) :]) - 1

    def number(self, low: int, high: int) -> int:
        """Mostly a number in range, sometimes at an edge or far out."""
        if self.rng.random() < 0.85:
            return self.rng.randint(low, high)
        return self.rng.choice((low, high, low - 1, high + 1, *EDGES))

    def text(self) -> str:
        """Hex digits, a word, or printable characters."""
        kind = self.rng.random()
        if kind < 0.5:
            return "".join(self.rng.choices("0123456789abcdef", k=self.rng.choice((8, 8, 16, 16, 15, 40))))
        if kind < 0.8:
            return self.rng.choice(WORDS)
        return "".join(self.rng.choices(string.printable[:94], k=self.rng.randrange(20)))

    def readings(self) -> list:
        """Temperatures, causes and flow, as inject and advance take them."""
        values = [self.number(-20000, 130000) for _ in range(s.SENSORS)]
        causes = [] if self.rng.random() < 0.6 else [self.number(0, 9) for _ in range(2 * self.rng.randrange(6))]
        return [values, causes] + ([[self.number(0, 9000), self.number(0, 3)]] if self.rng.random() < 0.3 else [])

    def staged(self) -> list:
        """The base sequence, then codes and values, mostly within their ranges."""
        params = [self.sequence]
        for _ in range(self.rng.choice((1, 1, 1, 2, 5, 21))):
            code = self.rng.randrange(cfg.SETTINGS)
            low, high, default = cfg.TABLE[code][2:5]
            some = (high - low) // 20
            params += [self.number(code, code), self.number(*self.rng.choice(((low, high), (default - some, default + some))))]
        return params

    def params(self, method: str) -> list:
        """What this method takes."""
        number = self.number
        seconds = self.rng.choice((0, 5, 5, 60, 900, 3600))
        kinds = {
            "settings.get": lambda: [number(0, 2)],
            "settings.stage": self.staged,
            "settings.commit": lambda: [self.sequence, self.crc],
            "probes.stage": lambda: [number(0, s.SENSORS - 1), self.text(), number(-5000, 5000), number(-5000, 5000)],
            "restore": lambda: [self.sequence, self.crc, self.rows_crc],
            "inject": lambda: [number(100, 30000), number(0, (1 << s.OUTPUTS) - 1), *self.readings()],
            "advance": lambda: [self.step + 1, number(1, 60000), *self.readings()],
            "relay": lambda: [number(0, s.OUTPUTS - 1), number(0, 1), number(100, 30000)],
            "hand": lambda: [number(0, s.OUTPUTS - 1), number(0, 1), number(seconds, seconds)],
            "purge": lambda: [number(seconds, seconds)],
            "maintenance": lambda: [number(seconds, seconds)],
            "prompt": lambda: [number(1, 900)],
            "probes": lambda: [number(0, 1)],
            "log": lambda: [number(0, 3)],
            "identify": lambda: [number(0, s.SENSORS - 1), self.text()],
            "calibrate": lambda: [number(0, s.SENSORS - 1), number(-5000, 5000)],
        }
        return kinds[method]() if method in kinds else []

    def anything(self, depth: int = 0):
        """Any value of JSON."""
        kinds = [lambda: self.number(-100, 100), self.text, lambda: None, lambda: True, lambda: 1.5, lambda: -0.0]
        if depth < 4:
            kinds += [lambda: [self.anything(depth + 1) for _ in range(self.rng.randrange(4))]]
            kinds += [lambda: {self.text(): self.anything(depth + 1)}]
        return self.rng.choice(kinds)()

    def spoiled(self, params: list) -> list:
        """Params with one thing wrong."""
        params = list(params)
        kind = self.rng.randrange(5)
        place = self.rng.randrange(len(params) + 1)
        if kind == 0:
            return params[:place]
        if kind == 1:
            return [*params[:place], self.anything(), *params[place:]]
        if kind == 2 and params:
            params[place - 1] = self.anything()
        elif kind == 3 and params and isinstance(params[place - 1], list):
            params[place - 1] = params[place - 1] + [self.anything()]
        elif kind == 4:
            return [params]
        return params

    def next_id(self) -> int:
        """Mostly the next id; sometimes the last, an older, a later, or another session's."""
        kind = self.rng.random()
        if kind < 0.95:
            self.last += 1 if kind < 0.93 else self.rng.randrange(20)
            return self.last
        return self.rng.choice((self.last, self.last - 1, self.last + 1000000, self.session_base, self.rng.getrandbits(30)))

    def payload(self) -> bytes:
        """One request, or something that resembles one."""
        method = self.rng.choice(self.methods) if self.rng.random() < 0.97 else self.text()
        if method in SELDOM and self.rng.random() < 0.9:
            method = self.rng.choice(("settings.stage", "settings.commit", "hand"))
        if self.asked in FOLLOWED_BY and self.rng.random() < 0.5:
            method = self.rng.choice(FOLLOWED_BY[self.asked])
        if method in self.without:
            method = "status"
        self.asked = method
        params = self.params(method)
        if self.rng.random() < 0.15:
            params = self.spoiled(params)
        message = {"jsonrpc": "2.0", "id": self.next_id(), "method": method, "params": params}
        if self.rng.random() < 0.04:
            member = self.rng.choice((*message, "extra"))
            if self.rng.random() < 0.5:
                message.pop(member, None)
            else:
                message[member] = self.anything()
        if message.get("method") in self.without:
            return b"[]"
        separators = (",", ":") if self.rng.random() < 0.9 else (", ", ": ")
        text = json.dumps(message, separators=separators).encode()
        return self.mangled(text) if self.rng.random() < 0.03 else text

    def mangled(self, text: bytes) -> bytes:
        """The text with a few bytes changed; the CRC will be right all the same."""
        other = bytearray(text)
        for _ in range(self.rng.randrange(1, 4)):
            other[self.rng.randrange(len(other))] = self.rng.choice(b'{}[]",:0129 -+.eE\\ntf\xc3\x00')
        return bytes(byte for byte in other if byte not in (10, 13))

    def line(self) -> bytes:
        """What is sent at once: a line, rarely a piece of one, two, or a bare word."""
        kind = self.rng.random()
        if kind < 0.01:
            return self.rng.choice(BARE) + b"\n"
        line = frames.seal(self.payload())
        if kind < 0.02:
            return line[: self.rng.randrange(len(line))] + b"\n" + line
        if kind < 0.03:
            return line + line
        if kind < 0.04:
            return line[:-1] + self.rng.choice((b"\r\n", b"\r", b"\n\n"))
        return line


def session_base(session: int) -> int:
    """The id before the first of a session."""
    from twinloop.link.session import SHIFT

    return session << SHIFT
