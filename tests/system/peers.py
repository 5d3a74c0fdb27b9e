"""Peers at the other end of a connection that the daemon makes: right ones, and ones that lie, hang, drip or pour."""
import socket
import struct
import threading
import time


class Peer:
    """A TCP server with a thread for each connection; `talk(link)` is what it does with one."""

    def __init__(self):
        self.server = socket.create_server(("127.0.0.1", 0))
        self.port, self.connections, self.sent = self.server.getsockname()[1], 0, 0
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self):
        while True:
            link, _ = self.server.accept()
            self.connections += 1
            threading.Thread(target=self._talk, args=(link,), daemon=True).start()

    def _talk(self, link):
        with link:
            try:
                self.talk(link)
            except OSError:
                pass

    def pour(self, link, block, limit):
        """Sends the block again and again until so many bytes were taken or the other side has had enough."""
        while self.sent < limit:
            link.sendall(block)
            self.sent += len(block)


class ModbusPeer(Peer):
    """Modbus TCP (MODBUS Messaging on TCP/IP V1.0b): answers a read with what `registers` holds, or lies."""

    def __init__(self, registers, lie=""):
        self.registers, self.lie, self.asked = registers, lie, []
        super().__init__()

    def talk(self, link):
        while head := link.recv(12):
            number, _, _, unit, function, first, count = struct.unpack(">HHHBBHH", head)
            self.asked.append((unit, function, first, count))
            body = b"".join(struct.pack(">H", self.registers.get(first + i, 0)) for i in range(count))
            answer = struct.pack(">BBB", unit, function, len(body)) + body
            if self.lie == "length":
                link.sendall(struct.pack(">HHH", number, 0, 65535) + answer)
            elif self.lie == "count":
                link.sendall(struct.pack(">HHH", number, 0, len(answer)) + struct.pack(">BBB", unit, function, 250) + body)
            elif self.lie == "another":
                link.sendall(struct.pack(">HHH", number ^ 0x55, 0, len(answer)) + struct.pack(">BBB", unit + 1, 6, len(body)) + body)
            elif self.lie == "flood":
                self.pour(link, struct.pack(">HHH", number, 0, len(answer)) + answer, 300 << 20)
            elif self.lie == "drip":
                for byte in struct.pack(">HHH", number, 0, len(answer)) + answer:
                    link.sendall(bytes([byte]))
                    time.sleep(1)
            else:
                link.sendall(struct.pack(">HHH", number, 0, len(answer)) + answer)


class Receiver(Peer):
    """What a webhook meets: "hang" (nothing comes back), "drip" (a byte a second, for ever), "redirect" (to itself, for
    ever), "pour" (a gigabyte of an answer), "headers" (headers without end), "later" (429 with a Retry-After of a day)."""

    def __init__(self, kind):
        self.kind = kind
        super().__init__()

    def talk(self, link):
        link.recv(65536)
        if self.kind == "hang":
            time.sleep(600)
        elif self.kind == "drip":
            for byte in b"HTTP/1.1 200 OK\r\n" + b"X-Slow: y\r\n" * 1000:
                link.sendall(bytes([byte]))
                time.sleep(1)
        elif self.kind == "redirect":
            link.sendall(f"HTTP/1.1 307 Temporary Redirect\r\nLocation: http://127.0.0.1:{self.port}/again\r\nContent-Length: 0\r\nConnection: close\r\n\r\n".encode())
        elif self.kind == "pour":
            link.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 1073741824\r\n\r\n")
            self.pour(link, b"x" * 65536, 1 << 30)
        elif self.kind == "headers":
            link.sendall(b"HTTP/1.1 200 OK\r\n")
            self.pour(link, b"X-More: " + b"y" * 8000 + b"\r\n", 1 << 30)
        elif self.kind == "later":
            link.sendall(b"HTTP/1.1 429 Too Many Requests\r\nRetry-After: 86400\r\nContent-Length: 0\r\nConnection: close\r\n\r\n")


class MailTrap(Peer):
    """What a mail server may do: "hang" after the greeting, "drip" its greeting, "pour" lines without end."""

    def __init__(self, kind):
        self.kind = kind
        super().__init__()

    def talk(self, link):
        if self.kind == "drip":
            for byte in b"220-" + b"slow " * 1000:
                link.sendall(bytes([byte]))
                time.sleep(1)
        if self.kind == "pour":
            self.pour(link, b"220-" + b"x" * 500 + b"\r\n", 1 << 30)
        link.sendall(b"220 here\r\n")
        time.sleep(600)
