#!/usr/bin/env python3
"""The chart that a mail carries: from a real mail server, decoded without the library that wrote it. What was read and
the band are there; where nothing was read there is nothing."""
import email
import email.policy
import struct
import zlib

from kitchen_rig import Instrument, Kitchen, MailServer, main, wait_for
from reload_test import Feed
from told_test import KITCHEN

CHANNEL = """
[[channel]]
name = "mail"
kind = "email"
server = "smtp://127.0.0.1:{mail}"
from = "hall@village.example"
to = "cook@village.example"
"""
PAPER, AREA, INK = (255, 255, 255), (222, 232, 240), (16, 24, 32)
LEFT, RIGHT, TOP, BOTTOM = 74, 628, 12, 210  # within the frame


def pixels_of(png):
    """Rows of colours, by RFC 2083: palette, any depth to 8, all filters, not interlaced."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    parts, at = {}, 8
    while at < len(png):
        length, kind = struct.unpack(">I4s", png[at : at + 8])
        data = png[at + 8 : at + 8 + length]
        assert zlib.crc32(kind + data) == struct.unpack(">I", png[at + 8 + length : at + 12 + length])[0]
        parts[kind] = parts.get(kind, b"") + data
        at += 12 + length
    width, height, depth, colour, _, _, interlaced = struct.unpack(">IIBBBBB", parts[b"IHDR"])
    assert (colour, interlaced) == (3, 0), (colour, interlaced)
    stride, data = (width * depth + 7) // 8, zlib.decompress(parts[b"IDAT"])
    above, rows = bytearray(stride), []
    for y in range(height):
        kind, row = data[y * (stride + 1)], bytearray(data[y * (stride + 1) + 1 : (y + 1) * (stride + 1)])
        for x in range(stride):
            a, b, c = (row[x - 1] if x else 0), above[x], (above[x - 1] if x else 0)
            guess = min((a, b, c), key=lambda value: abs(a + b - c - value))
            row[x] = (row[x] + (0, a, b, (a + b) // 2, guess)[kind]) & 255
        above, mask = row, (1 << depth) - 1
        numbers = [row[x * depth // 8] >> (8 - depth - x * depth % 8) & mask for x in range(width)]
        rows.append([tuple(parts[b"PLTE"][3 * n : 3 * n + 3]) for n in numbers])
    return rows


def a_mail_shows_what_was_read():
    kitchen, server = Kitchen(""), MailServer()
    instrument = Instrument(kitchen.folder)
    text = KITCHEN.format(port=instrument.path, http=1, band='band = ["60 degC", "70 degC"]').replace('plan = "poach"\n', "")
    kitchen.file.write_text(text.split("[[channel]]")[0] + CHANNEL.format(mail=server.port))
    feed = Feed(instrument, 65)
    kitchen.start()
    began = wait_for("the band to be held", 60, lambda: kitchen.json("now")["vessels"][0]["phase"] == "in band") and kitchen.json("now")["daemon"]["running_s"]
    running = lambda: kitchen.json("now")["daemon"]["running_s"]
    wait_for("some readings", 60, lambda: running() > began + 6)
    send, instrument.send = instrument.send, lambda line: None  # unplugged, as it were
    wait_for("a gap", 60, lambda: running() > max(began + 20, 24))
    feed.celsius, instrument.send = 85, send
    about = lambda words: [m for m in map(parsed, server.messages) if words in m["Subject"]]
    mail = wait_for("the mail", 60, lambda: about("! stockpot is"))[0]
    kinds = [part.get_content_type() for part in mail.walk()]
    assert kinds == ["multipart/alternative", "text/plain", "multipart/related", "text/html", "image/png"], kinds
    plain, html, picture = (part for part in mail.walk() if not part.is_multipart())
    assert f'src="cid:{picture["Content-ID"][1:-1]}"' in html.get_content() and 'alt="' in html.get_content()
    words = next(line for line in plain.get_content().splitlines() if line.startswith("stockpot from "))
    assert "65.0 degC to 85.0 degC" in words and "without a reading" in words and words in html.get_content(), words

    rows = pixels_of(picture.get_content())
    assert (len(rows[0]), len(rows)) == (640, 240)
    columns = [{row[x] for row in rows[TOP:BOTTOM]} for x in range(LEFT, RIGHT)]
    drawn = [INK in colours for colours in columns]
    first, last = drawn.index(True), len(drawn) - 1 - drawn[::-1].index(True)
    gap = [x for x in range(first, last) if not drawn[x]]
    assert len(gap) > 0.2 * len(drawn) and gap == list(range(gap[0], gap[-1] + 1)), "one gap, where nothing was read"
    assert all(AREA in columns[x] for x in gap), "the band is there all the time"
    height = lambda x: next(y for y in range(TOP, BOTTOM) if rows[y][LEFT + x] == INK)
    assert height(last) < height(first) - 50, "85 degC is above 65 degC"
    band = [y for y in range(TOP, BOTTOM) if rows[y][LEFT + gap[0]] == AREA]
    assert band[0] < height(first) < band[-1] and height(last) < band[0], "65 degC is in the band, 85 degC above it"
    feed.going = False
    assert kitchen.stop() < 5


def parsed(text):
    return email.message_from_bytes(text.encode(), policy=email.policy.default)


if __name__ == "__main__":
    main([a_mail_shows_what_was_read])
