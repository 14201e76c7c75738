"""Hands the board's port to the loop. Whatever fails, the chip starts again instead of idling at a prompt.

`active` names the folder of the firmware in use and, in its second line, the one before it; without that file the firmware lies
beside this one. A firmware that cannot be imported, or that is on trial and does not get to its first good step, is given up for
the one before. `prompt` holds the seconds for which a host asked for the prompt: the relays stay as boot.py left them, safe, and
after that time the chip starts again by itself.
"""

import os
import select
import sys

import machine
import micropython

PROMPT_TOP_S = 900
# After a failed start a host has this long to reach the prompt by an interrupt byte; then the chip tries again.
WINDOW_MS = 2000
# Every chip can do this; the port sets the board's own.
WATCHDOG_MS = 8000
INTERRUPT = 3
NOISE_TOP = 256


def read_lines(name):
    """A small file's lines; none when there is no such file."""
    try:
        with open(name) as file:
            return file.read().split("\n")
    except OSError:
        return []


def fall_back():
    """Make the firmware before this one the active one, if there is one; True when it is."""
    lines = read_lines("active")
    if len(lines) < 2 or lines[1] == "":
        return False
    with open("active.new", "w") as file:
        file.write(lines[1] + "\n")
    os.rename("active.new", "active")
    return True


def open_prompt(seconds):
    """Leave the console to a host, and start again when its time is over."""
    timer = machine.Timer(0 if sys.platform == "esp32" else -1)
    timer.init(mode=machine.Timer.ONE_SHOT, period=1000 * min(seconds, PROMPT_TOP_S), callback=lambda _: machine.reset())
    micropython.kbd_intr(INTERRUPT)


def on_trial():
    """A firmware that is new here has some starts to reach its first good step, else it is given up, however it fails."""
    lines = read_lines("trial")
    if not lines:
        return
    if not lines[0].isdigit() or lines[0] == "0":
        os.remove("trial")
        if fall_back():
            machine.reset()
        return
    with open("trial", "w") as file:
        file.write(str(int(lines[0]) - 1))


def asked_for_prompt():
    """The seconds that a host asked for, 0 when none did; asked once is granted once."""
    lines = read_lines("prompt")
    if not lines:
        return 0
    os.remove("prompt")
    return int(lines[0]) if lines[0].isdigit() else 0


def interrupted():
    """Whether a host sends an interrupt byte within the window."""
    byte = bytearray(1)
    inward = select.poll()
    inward.register(sys.stdin, select.POLLIN)
    # Noise may not hold the window open.
    for _ in range(NOISE_TOP):
        if not inward.poll(WINDOW_MS) or not sys.stdin.buffer.readinto(byte):
            return False
        if byte[0] == INTERRUPT:
            return True
    return False


def run():
    """Import and run the active firmware; returns only by an exception. An import that hangs ends by the watchdog."""
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
        # A heap that was too full once may do the next time.
        if not isinstance(fault, MemoryError):
            fall_back()
        raise
    Loop(Port(board), Store(board.FOLDER)).run()


def main():
    """True when the console is to be left to a host."""
    micropython.kbd_intr(-1)
    seconds = asked_for_prompt()
    if seconds == 0:
        on_trial()
        try:
            run()
        except Exception as fault:
            sys.print_exception(fault)
        if interrupted():
            # The watchdog runs already and cannot be stopped: the prompt is for the next start.
            with open("prompt", "w") as file:
                file.write(str(PROMPT_TOP_S))
        return False
    open_prompt(seconds)
    return True


stay = False
try:
    stay = main()
finally:
    if not stay:
        machine.reset()
