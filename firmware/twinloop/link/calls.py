"""Requests and answers by JSON-RPC 2.0, and errors that say whose fault it was."""

import json

from . import frames
from .session import FOREIGN, NEW, REPEATED, REUSED, STALE

PROTOCOL = 3
VERSION = "2.0"
MEMBERS = ("jsonrpc", "id", "method", "params")

# The first four are JSON-RPC's own numbers; the rest lie in the range it leaves to the server.
BAD_REQUEST = -32600
NO_METHOD = -32601
BAD_PARAMS = -32602
OWN_FAULT = -32603
OLD_ID = -32001
REUSED_ID = -32002
NO_SESSION = -32003
REFUSED = -32004

VERDICT_ERRORS = {
    STALE: (OLD_ID, "id is older than the last"),
    REUSED: (REUSED_ID, "id was used for another request"),
    FOREIGN: (NO_SESSION, "not this session, or too far ahead: say hello first"),
}


class CallError(Exception):
    """A call that is refused: a code, and one line that names what is wrong."""

    def __init__(self, code, text):
        super().__init__(text)
        self.code = code
        self.text = text


def request(request_id, method, params):
    """The line of a request. Params are a list of integers, texts, and lists of these."""
    message = {"jsonrpc": VERSION, "id": request_id, "method": method, "params": params}
    return frames.seal(json.dumps(message, separators=(",", ":")).encode())


def result_line(request_id, result):
    """The line of a good answer."""
    return frames.seal(json.dumps({"jsonrpc": VERSION, "id": request_id, "result": result}).encode())


def error_line(request_id, code, text):
    """The line of an answer that says what went wrong."""
    fault = {"code": code, "message": text}
    return frames.seal(json.dumps({"jsonrpc": VERSION, "id": request_id, "error": fault}).encode())


def check(message):
    """Id, method and params of a message; CallError if it is not a request of ours."""
    if message is None or message.get("jsonrpc") != VERSION:
        raise CallError(BAD_REQUEST, "not a request")
    for member in message:
        if member not in MEMBERS:
            raise CallError(BAD_REQUEST, "unknown member: " + member[:20])
    request_id = message.get("id")
    method = message.get("method")
    params = message.get("params", [])
    if type(request_id) is not int or request_id < 0 or type(method) is not str or type(params) is not list:
        raise CallError(BAD_REQUEST, "id, method or params of the wrong type")
    return request_id, method, params


def integers(params, least, most):
    """The params, checked to be `least` to `most` integers."""
    if not least <= len(params) <= most:
        raise CallError(BAD_PARAMS, f"takes {least} to {most} params")
    for value in params:
        if type(value) is not int:
            raise CallError(BAD_PARAMS, "params have to be integers")
    return params


def array(params, place, length):
    """Param `place`, checked to be a list of exactly `length` integers."""
    if place >= len(params) or type(params[place]) is not list or len(params[place]) != length:
        raise CallError(BAD_PARAMS, f"param {place + 1} has to be a list of {length}")
    return integers(params[place], length, length)


def within(what, value, low, high):
    """The value, checked to be in a range; `what` begins the sentence: "part has"."""
    if not low <= value <= high:
        raise CallError(BAD_PARAMS, f"{what} to be {low} to {high}")
    return value


def need_written(done):
    """Raise unless the board's memory has taken what was to be written."""
    if not done:
        raise CallError(REFUSED, "the board's memory refuses to be written: nothing was changed")


def answer(line, session, methods, desk):
    """The line to send back for one line, b"" for none, and whether the line was good.

    `methods` maps a name to a function (desk, params) -> result. Returns (answer, good); good is
    False for a line to be counted as corrupt. Only bare words, `hello` and new requests of the open
    session are executed.
    """
    bare = bytes(line)
    payload = frames.unseal(line)
    if payload is None and bare not in frames.BARE_WORDS:
        return b"", False
    request_id = 0
    fresh = False
    try:
        if payload is None:
            return result_line(0, methods["bare " + bare.decode()](desk, [])), True
        request_id, method, params = check(frames.parse(payload))
        if method != "hello":
            verdict = session.judge(request_id, bare[-8:])
            if verdict == REPEATED:
                return session.last_answer, True
            if verdict != NEW:
                raise CallError(VERDICT_ERRORS[verdict][0], VERDICT_ERRORS[verdict][1])
            fresh = True
        if method not in methods or method.startswith("bare "):
            raise CallError(NO_METHOD, "no such method: " + method[:20])
        reply = result_line(request_id, methods[method](desk, params))
    except CallError as fault:
        reply = error_line(request_id, fault.code, fault.text)
    except Exception as fault:
        # A defect of ours while answering: tell the host, and let the station go on.
        reply = error_line(request_id, OWN_FAULT, repr(fault)[:80])
    # Keep only what the session took as new: anything else would let an older line in again.
    if fresh:
        session.keep(request_id, bare[-8:], reply)
    return reply, True
