"""A port read at another speed than it is sent at: told from the bytes, for every pair of usual speeds.

The bytes are made as a UART makes them (start bit, eight bits, lowest first, stop bit: 8N1 of TIA-232 practice, from
memory), sampled in the middle of each bit at the reader's speed; a missing stop bit waits for the line to rest.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from spooldown.live.scrutiny import LEAST_BYTES, Scrutiny
from tests.live.conftest import HEADING, line

SPEEDS = (9600, 19_200, 38_400, 57_600, 115_200)
TEXT = HEADING + b"".join(line(n) for n in range(400))


def read_at(data: bytes, sent: int, read: int, rest_bits: int = 0) -> bytes:
    """What a reader at one speed takes bytes for that are sent at another, with so much rest between them."""
    values = np.frombuffer(data, np.uint8)
    bits = np.ones((values.size, 10 + rest_bits), np.uint8)
    bits[:, 0] = 0
    bits[:, 1:9] = (values[:, None] >> np.arange(8)) & 1
    wire = np.concatenate([np.ones(5, np.uint8), bits.ravel(), np.ones(20, np.uint8)])
    falls = np.flatnonzero(np.diff(wire.astype(np.int8)) < 0) + 1
    rises = np.flatnonzero(np.diff(wire.astype(np.int8)) > 0) + 1
    step, at, out = sent / read, 0.0, bytearray()
    middles = step * (1.5 + np.arange(9))
    while True:
        n = int(np.searchsorted(falls, at))
        if n == falls.size:
            return bytes(out)
        seen = wire[np.minimum((falls[n] + middles).astype(np.intp), wire.size - 1)]
        out.append(int(np.packbits(seen[:8], bitorder="little")[0]))
        at = falls[n] + step * 9.5
        if not seen[8]:
            n = int(np.searchsorted(rises, at))
            if n == rises.size:
                return bytes(out)
            at = float(rises[n])


def looked_at(data: bytes) -> Scrutiny:
    scrutiny = Scrutiny()
    for at in range(0, len(data), 40):
        scrutiny.look(data[at : at + 40])
    return scrutiny


@pytest.mark.parametrize("rest_bits", [0, 3])
def test_at_its_own_speed_it_is_text(rest_bits: int) -> None:
    data = read_at(TEXT, 9600, 9600, rest_bits)
    assert data == TEXT
    assert looked_at(data).garbage == 0


@pytest.mark.parametrize(("sent", "read"), [p for p in itertools.product(SPEEDS, SPEEDS) if p[0] != p[1]])
@pytest.mark.parametrize("rest_bits", [0, 3])
def test_at_any_other_speed_it_is_told(sent: int, read: int, rest_bits: int) -> None:
    text = TEXT if read < sent else TEXT[:2000]  # a slow reader makes a few bytes of many, a fast one many of a few
    assert looked_at(read_at(text, sent, read, rest_bits)).garbage >= LEAST_BYTES


def test_a_long_line_of_headings_is_no_garbage() -> None:
    headings = ",".join(f"Voltage of a pack with a rather long name ({'V' * 2})" for _ in range(70)).encode()
    assert looked_at(headings + b"\n" + TEXT).garbage == 0
