#!/usr/bin/env python3
"""A wall unit as a node, written from the wire format in DEVELOPERS.md alone.

usage: wall_unit.py HOST:PORT DEVICE TOKEN

It answers the questions of `roomrig live` as the unit inside the room would: an edge of a button
is sent at once, or when the gap since the last one has elapsed and the contact still differs.
Nothing but the standard library is needed; the MessagePack that nodes speak is small.
"""

import socket
import struct
import sys

VERSION = 1
EDGE_GAP_MS = 50
BUTTONS = 8


def pack(value):
    """The MessagePack form of nil, a boolean, an unsigned integer, a string or a list of those."""
    if value is None:
        return b"\xc0"
    if value is True:
        return b"\xc3"
    if value is False:
        return b"\xc2"
    if isinstance(value, int):
        if value < 0x80:
            return bytes([value])
        for code, form in ((0xCC, ">B"), (0xCD, ">H"), (0xCE, ">I"), (0xCF, ">Q")):
            if value < 1 << 8 * struct.calcsize(form):
                return bytes([code]) + struct.pack(form, value)
        raise ValueError(value)
    if isinstance(value, str):
        text = value.encode()
        if len(text) < 32:
            return bytes([0xA0 | len(text)]) + text
        return b"\xda" + struct.pack(">H", len(text)) + text
    head = bytes([0x90 | len(value)]) if len(value) < 16 else b"\xdc" + struct.pack(">H", len(value))
    return head + b"".join(pack(item) for item in value)


def unpack(data, at=0):
    """The value at this place, and the place after it."""
    code = data[at]
    at += 1
    if code < 0x80:
        return code, at
    if code in (0xC0, 0xC2, 0xC3):
        return {0xC0: None, 0xC2: False, 0xC3: True}[code], at
    if 0xCC <= code <= 0xCF:
        form = {0xCC: ">B", 0xCD: ">H", 0xCE: ">I", 0xCF: ">Q"}[code]
        return struct.unpack_from(form, data, at)[0], at + struct.calcsize(form)
    if 0xA0 <= code <= 0xBF or 0xD9 <= code <= 0xDB:
        length, at = length_of(code, code & 0x1F, {0xD9: ">B", 0xDA: ">H", 0xDB: ">I"}, data, at)
        return data[at : at + length].decode(), at + length
    if 0x90 <= code <= 0x9F or code in (0xDC, 0xDD):
        length, at = length_of(code, code & 0x0F, {0xDC: ">H", 0xDD: ">I"}, data, at)
        items = []
        for _ in range(length):
            item, at = unpack(data, at)
            items.append(item)
        return items, at
    raise ValueError(f"unexpected byte {code:#x}")


def length_of(code, short, forms, data, at):
    """The length of a string or a list, and the place after it."""
    if code not in forms:
        return short, at
    form = forms[code]
    return struct.unpack_from(form, data, at)[0], at + struct.calcsize(form)


class Connection:
    """Messages over a stream: four bytes of length, then the message."""

    def __init__(self, host, port):
        self.stream = socket.create_connection((host, port))
        self.stream.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)

    def send(self, message):
        body = pack(message)
        self.stream.sendall(struct.pack(">I", len(body)) + body)

    def receive(self):
        """The next message; None when the connection has ended."""
        head = self.exactly(4)
        body = head and self.exactly(struct.unpack(">I", head)[0])
        return body and unpack(body)[0]

    def exactly(self, count):
        data = b""
        while len(data) < count:
            more = self.stream.recv(count - len(data))
            if not more:
                return None
            data += more
        return data


class WallUnit:
    """Contacts, what was told of them, and gaps that run: one bit for each button."""

    def __init__(self, name, sequence):
        self.name = name
        self.sequence = sequence
        self.closed = self.told = self.waiting = 0
        self.dead = False

    def answer(self, word, values):
        """The effects of one question."""
        if word == "stimulus":
            _light, kind, *value = values
            if kind in ("press", "release"):
                return self.edge(value[0], kind == "press")
            if kind == "teach-in":
                return [ignored("no-power")] if self.dead else [self.frame("teach-in")]
        if word == "timer":
            _light, timer = values
            button = int(timer.removeprefix("edge gap "))
            self.waiting &= ~(1 << button)
            if (self.closed ^ self.told) >> button & 1:
                return self.tell(button)
        if word == "power":
            return self.power(values[0])
        return []

    def edge(self, button, down):
        bit = 1 << button
        if bool(self.closed & bit) == down:
            return [ignored("no-change")]
        self.closed ^= bit
        if self.dead:
            return [ignored("no-power")]
        if self.waiting & bit:
            return [ignored("dead-time")]
        return self.tell(button)

    def tell(self, button):
        bit = 1 << button
        self.told ^= bit
        self.waiting |= bit
        kind = "down" if self.closed & bit else "up"
        return [self.frame(kind, button), ["start", f"edge gap {button}", EDGE_GAP_MS]]

    def power(self, on):
        if on != self.dead:
            return [ignored("no-change")]
        self.dead = not on
        self.told = self.closed
        self.waiting = 0
        stops = [["stop", f"edge gap {button}"] for button in range(BUTTONS)]
        return [["note", None, "power", on], *stops]

    def frame(self, kind, *carried):
        frame = [VERSION, self.name, self.sequence, kind, *carried]
        self.sequence = (self.sequence + 1) % 256
        return ["send", frame]


def ignored(why):
    return ["note", None, "ignored", why]


def main():
    address, name, token = sys.argv[1:]
    host, port = address.rsplit(":", 1)
    connection = Connection(host, int(port))
    connection.send(["hello", VERSION, name, token])
    word, *rest = connection.receive() or ["nothing"]
    if word != "welcome":
        sys.exit(f"the host says {word}: {rest}")
    _version, _room, _mode, sequence = rest
    unit = WallUnit(name, sequence)
    while (message := connection.receive()) is not None:
        word, *rest = message
        if word == "cut":
            sys.exit(f"cut off: {rest[0]}")
        number, moment, *values = rest
        connection.send(["done", number, moment, unit.answer(word, values)])


if __name__ == "__main__":
    main()
