"""Hands the board's port to the loop. Whatever fails, the chip restarts, never idling at a prompt.

A flash that refuses to be written, or holds garbage in these small files, does not stop the start.

`active` names the folder of the firmware in use and, in its second line, the one before it. Without
that file the firmware lies beside this one. A firmware that cannot be imported, or fails its trial,
is rolled back to the one before.

`prompt` holds the seconds for which a host asked for the prompt. The relays then stay as boot.py
left them, safe, and the chip restarts by itself when the time is over. `planned` marks a restart
that the loop does not count: the one that ends a prompt, or a rollback.

After a crash an interrupt byte opens the prompt as well; in service only with the jumper closed.
"""

import os
import select
import sys

import machine
import micropython

PROMPT_TOP_S = 900
# After a failed start a host has this long to send an interrupt byte; then the chip tries again.
WINDOW_MS = 2000
# Every chip supports this; the port sets the board's own.
WATCHDOG_MS = 8000
INTERRUPT = 3
ENOENT = 2
NOISE_TOP = 256


def read_lines(name):
    """The lines of a small file; none if it does not exist, one empty line if it is no text."""
    try:
        with open(name) as file:
            return file.read().split("\n")
    except OSError:
        return []
    except ValueError:
        return [""]


def missing(name):
    """Whether there is no such file."""
    try:
        os.stat(name)
    except OSError as fault:
        return fault.args[0] == ENOENT
    return False


def refused(work, *arguments):
    """Whether the flash refuses this."""
    try:
        work(*arguments)
    except OSError:
        return True
    return False


def write(name, text):
    """Write a small file."""
    with open(name, "w") as file:
        file.write(text)


def fall_back():
    """Make the previous firmware the active one; True if there is one and it worked."""
    lines = read_lines("active")
    if len(lines) < 2 or lines[1] == "":
        return False
    if refused(write, "active.new", lines[1] + "\n") or refused(os.rename, "active.new", "active"):
        return False
    refused(write, "planned", "")
    return True


def open_prompt(seconds):
    """Leave the console to a host, and restart when its time is over."""
    timer = machine.Timer(0 if sys.platform == "esp32" else -1)
    timer.init(mode=machine.Timer.ONE_SHOT, period=1000 * min(seconds, PROMPT_TOP_S), callback=lambda _: machine.reset())
    micropython.kbd_intr(INTERRUPT)


def on_trial():
    """Roll back a new firmware that fails to complete one step within a few boots."""
    lines = read_lines("trial")
    if not lines:
        return
    if not lines[0].isdigit() or lines[0] == "0":
        # In this order: a cut in between leaves no firmware on trial without its trial.
        back = fall_back()
        refused(os.remove, "trial")
        if back:
            machine.reset()
        return
    refused(write, "trial", str(int(lines[0]) - 1))


def asked_for_prompt():
    """The seconds at the prompt that a host asked for, or 0. A request is granted once.

    It is granted by one rename, or not at all: one that cannot be taken away would be granted at
    every start. The same step marks the restart that ends the prompt as planned.
    """
    lines = read_lines("prompt")
    if not lines or refused(os.rename, "prompt", "planned"):
        return 0
    return int(lines[0]) if lines[0].isdigit() else 0


def barred():
    """Whether no interrupt byte opens the prompt: in service, unless the bench jumper is closed.

    A flag that is there, but cannot be read, bars too. Without a board's data there is no firmware
    to protect.
    """
    try:
        import board  # pyright: ignore[reportMissingImports] - the data of one board, put there by flashing

        jumper = machine.Pin(board.BENCH_JUMPER, machine.Pin.IN, machine.Pin.PULL_UP)
        # The jumper last: its pull-up needs a moment.
        return not missing(board.FOLDER + "service") and jumper.value() != 0
    except Exception as fault:
        return isinstance(fault, MemoryError)


def interrupted():
    """Whether a host sends an interrupt byte before the console has been quiet for WINDOW_MS."""
    byte = bytearray(1)
    inward = select.poll()
    inward.register(sys.stdin, select.POLLIN)
    # Noise must not hold the window open.
    for _ in range(NOISE_TOP):
        if not inward.poll(WINDOW_MS) or not sys.stdin.buffer.readinto(byte):
            return False
        if byte[0] == INTERRUPT:
            return True
    return False


def run():
    """Import and run the active firmware; returns only by an exception.

    The watchdog ends an import that hangs.
    """
    machine.WDT(timeout=WATCHDOG_MS)
    lines = read_lines("active")
    if lines and lines[0]:
        sys.path.insert(0, lines[0])
    try:
        import board  # pyright: ignore[reportMissingImports] - the data of one board, put there by flashing
        from twinloop.loop import Loop
        from twinloop.port import Port
        from twinloop.store import Store
    except Exception as fault:
        # A heap that was too full once may not be next time.
        if not isinstance(fault, MemoryError):
            fall_back()
        raise
    Loop(Port(board), Store(board.FOLDER)).run()


def main():
    """Run the firmware or open the prompt; True when the console is left to a host."""
    micropython.kbd_intr(-1)
    seconds = asked_for_prompt()
    if seconds == 0:
        on_trial()
        try:
            run()
        except Exception as fault:
            sys.print_exception(fault)
        if not barred() and interrupted():
            # The watchdog already runs and cannot be stopped, so the prompt has to wait for the
            # next start.
            refused(write, "prompt", str(PROMPT_TOP_S))
        return False
    open_prompt(seconds)
    return True


stay = False
try:
    stay = main()
finally:
    if not stay:
        machine.reset()
