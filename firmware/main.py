"""Hands the board's port to the loop, nothing else; whatever fails, the chip starts again instead of idling at a prompt."""

import machine

try:
    import board
    from twinloop.loop import Loop
    from twinloop.port import Port
    from twinloop.store import Store

    Loop(Port(board), Store(board.FOLDER)).run()
finally:
    machine.reset()
