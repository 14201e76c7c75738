"""Which port to use when none is named: that of the only board that is plugged in."""

from __future__ import annotations

from serial.tools import list_ports

# USB vendors of boards and their serial chips: Raspberry Pi, Espressif, Silicon Labs, WCH, FTDI.
VENDORS = {0x2E8A, 0x303A, 0x10C4, 0x1A86, 0x0403}


def is_board(port) -> bool:
    """Whether the USB vendor of a port makes boards."""
    return port.vid in VENDORS


def candidates() -> list:
    """The ports that look like a board."""
    return [port for port in list_ports.comports() if is_board(port)]


def chosen(named: str | None) -> str:
    """The named port, or that of the only board. Raises ValueError when neither is there."""
    if named is not None:
        if not named.strip():
            raise ValueError("--port: empty; give a serial device, a pyserial URL, or `virtual`")
        return named
    found = [port.device for port in candidates()]
    if len(found) == 1:
        return found[0]
    if not found:
        raise ValueError("--port: no board is plugged in; name its port, or give `--port virtual` for the virtual board")
    raise ValueError(f"--port: found {', '.join(found)}; name one of them (`twinloop board list` shows all ports)")
