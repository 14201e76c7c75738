"""Frames and calls of the serial link, without I/O: bytes in, bytes out. The host uses them too."""
