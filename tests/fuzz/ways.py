"""Ways to break the bytes of a file, and of a file that is a zip of others."""

from __future__ import annotations

import io
import random
import re
import zipfile

TOKENS = (
    b"nan", b"-inf", b"1e999", b"-1e308", b"1e-320", b"9" * 400, b"0", b"-0", b"1e5", b"\x00",
    b"\x1b[31m", b"\x07", b"\xe2\x80\xae", b"\xff\xfe", b"<script>alert(1)</script>", b"=1+1",
    b"@SUM(A1)", b"../../etc/passwd", b"/dev/zero", b"\\\\server\\share", b"mm^999999999",
    b"kN**9**9**9", b"1e400 mm", b"(((((((((((mm)))))))))))", b"[" * 300, b"{" * 300, b'"""', b"'",
    b"#", b"\r", b"\n\n", b"\t", b",,,,", b";", b"true", b"1979-05-27", b"a" * 5000, b"10 mm mm mm",
    b"\xc2\xb5m", b"1_0", b"0x1F", b"45 rpm", b"-5 kN", b"1,5", b"%",
)  # fmt: skip


def mutated(data: bytes, rng: random.Random) -> bytes:
    """Return data with one to four things wrong."""
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        data = rng.choice(WAYS)(data, rng)
    return data[:200_000]


def _place(data: bytes, rng: random.Random) -> int:
    return rng.randrange(len(data) + 1)


def _flip(data: bytes, rng: random.Random) -> bytes:
    if not data:
        return data
    place = rng.randrange(len(data))
    return data[:place] + bytes([rng.randrange(256)]) + data[place + 1 :]


def _cut(data: bytes, rng: random.Random) -> bytes:
    start = _place(data, rng)
    return data[:start] + data[start + rng.choice((1, 3, 20, 200)) :]


def _end(data: bytes, rng: random.Random) -> bytes:
    return data[: _place(data, rng)]


def _insert(data: bytes, rng: random.Random) -> bytes:
    place = _place(data, rng)
    return data[:place] + rng.choice(TOKENS) + data[place:]


def _double(data: bytes, rng: random.Random) -> bytes:
    start = _place(data, rng)
    part = data[start : start + rng.choice((1, 10, 100))]
    return data[:start] + part * rng.choice((2, 3, 50)) + data[start:]


def _number(data: bytes, rng: random.Random) -> bytes:
    found = list(re.finditer(rb"[-+]?\d[\d.,eE]*", data))
    return _replaced(data, found, rng)


def _word(data: bytes, rng: random.Random) -> bytes:
    found = list(re.finditer(rb"[A-Za-z_]+", data))
    return _replaced(data, found, rng)


def _value(data: bytes, rng: random.Random) -> bytes:
    found = list(re.finditer(rb'"[^"\n]*"', data))
    return _replaced(data, found, rng)


def _replaced(data: bytes, found: list[re.Match[bytes]], rng: random.Random) -> bytes:
    if not found:
        return _insert(data, rng)
    each = rng.choice(found)
    return data[: each.start()] + rng.choice(TOKENS) + data[each.end() :]


def _swap(data: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    one, other = rng.randrange(len(lines)), rng.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return b"\n".join(lines)


WAYS = (_flip, _cut, _end, _insert, _double, _number, _number, _word, _value, _value, _swap)


def broken_zip(data: bytes, rng: random.Random) -> bytes:
    """Return a zip with one of its members broken, or broken itself."""
    if rng.random() < 0.3:
        return mutated(data, rng)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as whole, zipfile.ZipFile(out, "w") as made:
        broken = rng.choice(whole.namelist())
        for item in whole.namelist():
            part = whole.read(item)
            made.writestr(item, mutated(part, rng) if item == broken else part)
    return out.getvalue()
