"""The line between a phone and the office: it can be cut at any moment, with all that is on it."""

import socket
from contextlib import suppress
from threading import Lock, Thread


class Relay:
    """Hands bytes on to the port of a server. `cut` ends every connection and refuses new ones until `mend`."""

    def __init__(self, port: int) -> None:
        self._to, self._open, self._turn = port, set[socket.socket](), Lock()
        self.port = 0
        self.mend()

    def mend(self) -> None:
        with self._turn:
            self._door = socket.create_server(("localhost", self.port))
        self.port = self._door.getsockname()[1]
        Thread(target=self._let_in, args=[self._door], daemon=True).start()

    def cut(self) -> None:
        """The door first: a browser asks again at once, on what it still has open, and that hands nothing on."""
        with self._turn:
            for line in (self._door, *self._open):
                _end(line)
            self._open.clear()

    def _let_in(self, door: socket.socket) -> None:
        while door.fileno() >= 0:
            with suppress(OSError):
                phone = door.accept()[0]
                office = socket.create_connection(("localhost", self._to))
                self._open |= {phone, office}
                for one, other in ((phone, office), (office, phone)):
                    Thread(target=_hand_on, args=[door, one, other], daemon=True).start()


def _hand_on(door: socket.socket, one: socket.socket, other: socket.socket) -> None:
    """Until one side says that it is through; a line that breaks is ended on both, so that nobody waits at it."""
    try:
        while read := one.recv(65536):
            if door.fileno() < 0:
                raise BrokenPipeError
            other.sendall(read)
        other.shutdown(socket.SHUT_WR)
    except OSError:
        _end(one)
        _end(other)


def _end(line: socket.socket) -> None:
    with suppress(OSError):
        line.shutdown(socket.SHUT_RDWR)
    line.close()
