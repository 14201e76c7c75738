"""Bridges between a board's terminal and another kind of port."""

import os
import select
import socket
import threading
import tty


class Bridge:
    """Carries bytes between a board's port and a far end, `port`, until it is cut."""

    # Delay of each piece of an answer.
    delay_s = 0.0
    # Most bytes taken from the far end at once.
    piece = 4096

    def __init__(self, board_port: str):
        self.board_fd = os.open(board_port, os.O_RDWR | os.O_NOCTTY)
        self.ended = threading.Event()
        self.open_far_end()
        self.thread = threading.Thread(target=self.carry, daemon=True)
        self.thread.start()

    def __enter__(self):
        return self

    def __exit__(self, *exc):
        self.cut()

    def carry(self):
        while not self.ended.is_set():
            far = self.far_fd()
            ends = [self.board_fd] + ([far] if far >= 0 else [])
            poll = select.poll()
            for fd in ends:
                poll.register(fd, select.POLLIN)
            for fd, event in poll.poll(20):
                try:
                    # Nobody has the far end open: a read would block once it is opened again.
                    data = os.read(fd, self.piece if fd == far else 4096) if event & select.POLLIN else b""
                    if fd == far and not data:
                        self.far_gone()
                    elif fd == far:
                        self.pass_on(data)
                    elif far >= 0:
                        self.ended.wait(self.delay_s)
                        os.write(far, data)
                except OSError:
                    self.far_gone()

    def pass_on(self, data):
        """Write to the board what came from the far end."""
        os.write(self.board_fd, data)

    def cut(self):
        """Cut the bridge, like a pulled cable."""
        if not self.ended.is_set():
            self.ended.set()
            self.thread.join()
            self.close_far_end()
            os.close(self.board_fd)


class SecondTerminal(Bridge):
    """A second pseudo-terminal."""

    def open_far_end(self):
        """Open it raw, so that every byte passes."""
        self.inner, self.outer = os.openpty()
        tty.setraw(self.outer)
        self.port = os.ttyname(self.outer)
        os.close(self.outer)

    def far_fd(self):
        """The inner end, which the client does not see."""
        return self.inner

    def far_gone(self):
        """Wait: no client has the terminal open."""
        self.ended.wait(0.01)

    def close_far_end(self):
        """Close the inner end, which kills the client's."""
        os.close(self.inner)


class Served(Bridge):
    """A board served over TCP, to one client at a time."""

    def open_far_end(self):
        """Listen on this machine only."""
        self.server = socket.create_server(("127.0.0.1", 0))
        self.server.settimeout(0.02)
        self.client = None
        self.port = f"socket://127.0.0.1:{self.server.getsockname()[1]}"

    def far_fd(self):
        """The connected client, or -1."""
        if self.client is None:
            try:
                self.client, _ = self.server.accept()
                self.client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            except TimeoutError:
                return -1
        return self.client.fileno()

    def far_gone(self):
        """Close the connection: the client has hung up."""
        if self.client is not None:
            self.client.close()
            self.client = None

    def close_far_end(self):
        """Hang up and stop serving."""
        self.far_gone()
        self.server.close()


class Slow(Served):
    """A board served over TCP whose far end takes all at once, and passes it on slowly."""

    piece = 200

    def __init__(self, board_port: str, bytes_per_s: float):
        self.bytes_per_s = bytes_per_s
        super().__init__(board_port)

    def pass_on(self, data):
        """Write to the board at this rate."""
        os.write(self.board_fd, data)
        self.ended.wait(len(data) / self.bytes_per_s)
