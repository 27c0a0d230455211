"""Mutations that keep most of the form of a file: cells, values, lines and trees are changed, bytes now and then."""

import json
import marshal
import random
import re
from collections.abc import Sequence
from copy import deepcopy
from functools import lru_cache
from typing import Any

from pydantic_core import to_json

ODD = [
    *(b"", b"0", b"-0", b"-1", b"1e999", b"-1e999", b"1e308", b"1e-320", b"nan", b"inf", b"-inf", b"NaN", b"Infinity"),
    *(b"9" * 40, b"1" + b"0" * 4999, b"0x" + b"f" * 4000, b"1_000", b"1,5", b"1.000,5", b"\xd9\xa3", b"\xef\xbc\x91"),
    *(b"true", b"null", b"[]", b"{}", b'""', b"2031-01-31", b"07:32:00", b"1979-05-27T07:32:00Z", b"=1+1", b"#N/A"),
    *(b"../x", b"/etc/passwd", b"/dev/zero", b"..", b".", b"//", b"a/../../b", b"C:\\x", b"~", b"a" * 300, b"0.5 in"),
    *(b"9**9**9 m", b"5 m/s/m", b"5 dBm", b"5 delta_degC", b"%", b"5 %", b"1/0 s", b"1/50 s", b"5 EUR", b"5 lx at 2 m"),
]
"""Values that readers of numbers, names and quantities trip over."""
RAW = [
    *(b"\x00", b"\x1b]0;x\x07\x1b[31m", b"\xc2\x9b31m", b"\x9b", b"\xe2\x80\xae", b"\xe2\x81\xa6", b"\xef\xbb\xbf"),
    *(b"\xff\xfe", b"\xed\xa0\x80", b"\r", b"\r\n", b"\n", b"\xe2\x80\xa8", b"\xc2\x85", b"\x0b", b"\x0c", b"\x7f"),
    *(b'"', b"'", b'"""', b"\\", b"\\u001b", b"\\ud800", b"[[", b"]]", b"{", b"}", b"|", b"#", b";", b"\t", b"," * 50),
    *(b"&#27;", b"&lt;", b"&x;", b"<!DOCTYPE a>", b"<!ENTITY a 'b'>", b"<![CDATA[", b"]]>", b"<!--", b"<?x", b"\x1a"),
    *(b"[" * 2000, b'{"a":' * 2000, b"a." * 1500, b"<a>" * 40),
]
"""Signs that change how the rest is read."""
LEAVES: list[Any] = [
    *(None, True, False, 0, -1, 1, 1e308, -1e308, 1e-320, 5e-324, float("nan"), float("inf"), 10**30, 10**400, 1.5),
    *("", "x", "own", "\x1b[31mx\x9b", "\u202ex", "\ud800", "\x00", "9" * 50, "a" * 500, "nan", "1e999", [], {}, [[]]),
]

_PARTED = re.compile(rb"""([,;=<>"'\s\[\]{}:]+)""")


def mutated(data: bytes, rng: random.Random, words: Sequence[bytes], other: bytes = b"") -> bytes:
    """Return data with one to four changes; `words` are what the reader knows, `other` another input to take from."""
    if data[:1] in b"{[" and rng.random() < 0.8:
        return _tree(data, rng)
    lines = data.split(b"\n")
    for _ in range(rng.choice((1, 1, 1, 2, 3, 4))):
        at = rng.randrange(len(lines))
        how = rng.random()
        if how < 0.55:
            lines[at] = _line(lines[at], rng, words, lines)
        elif how < 0.63:
            del lines[at]
            lines = lines or [b""]
        elif how < 0.70:
            lines.insert(rng.randrange(len(lines) + 1), lines[at])
        elif how < 0.75:
            to = rng.randrange(len(lines))
            lines[at], lines[to] = lines[to], lines[at]
        elif how < 0.83 and other:
            theirs = other.split(b"\n")
            first = rng.randrange(len(theirs))
            lines[at:at] = theirs[first : first + rng.randint(1, 4)]
        elif how < 0.85:
            del lines[at + 1 :]
        elif how < 0.95:
            place = rng.randrange(len(lines[at]) + 1)
            lines[at] = lines[at][:place] + rng.choice(RAW) + lines[at][place:]
        elif lines[at]:
            place = rng.randrange(len(lines[at]))
            lines[at] = lines[at][:place] + bytes((rng.randrange(256),)) + lines[at][place + rng.randrange(3) :]
    return b"\n".join(lines)


def _line(line: bytes, rng: random.Random, words: Sequence[bytes], lines: Sequence[bytes]) -> bytes:
    """Return a line with one of its words changed."""
    pieces = _PARTED.split(line)
    at = rng.randrange(0, len(pieces), 2)
    how = rng.random()
    if how < 0.35:
        pieces[at] = rng.choice(ODD)
    elif how < 0.65 and words:
        pieces[at] = rng.choice(words)
    elif how < 0.8:
        theirs = _PARTED.split(rng.choice(lines))
        pieces[at] = theirs[rng.randrange(0, len(theirs), 2)]
    elif how < 0.88:
        pieces[at] += rng.choice(RAW)
    elif len(pieces) > 2:
        pieces[rng.randrange(1, len(pieces), 2)] = rng.choice((b",", b"=", b" = ", b'"', b"", b"[", b"]", b";"))
    return b"".join(pieces)


def _tree(data: bytes, rng: random.Random) -> bytes:
    """Return JSON with values changed at random places of its tree; as it was where it is none."""
    try:
        kept, leaves = _parsed(data)
    except (ValueError, RecursionError):
        return data
    tree = marshal.loads(kept)
    for _ in range(rng.choice((1, 1, 2, 3))):
        holder, step = _place(tree, leaves, rng)
        if holder is None:
            continue
        how = rng.random()
        if how < 0.5:
            holder[step] = deepcopy(rng.choice(LEAVES))  # a list that is put in twice would come to hold itself
        elif how < 0.7:
            del holder[step]
        elif how < 0.8:
            old = holder[step]
            holder[step] = {"a": old} if rng.random() < 0.5 else [old, old]
        elif how < 0.9:
            there, key = _place(tree, leaves, rng)
            holder[step] = there[key] if there is not None else 1
            try:
                tree = json.loads(json.dumps(tree))
            except (ValueError, RecursionError):
                return data
        elif isinstance(holder, dict):
            holder[rng.choice(("a", "part", "kind", "\x1b[2J", "x" * 300))] = holder[step]
        elif isinstance(holder[step], int | float) and abs(holder[step]) < 2**53:  # beyond, a product is no float
            holder[step] = holder[step] * rng.choice((-1, 0, 1e9, 1e-9, 1000))
    try:
        return to_json(tree, inf_nan_mode="constants")
    except (ValueError, RecursionError):  # half of a pair of surrogates, which JSON can hold as an escape
        pass
    try:
        return json.dumps(tree).encode()
    except (ValueError, RecursionError):
        return data


@lru_cache(256)
def _parsed(data: bytes) -> tuple[bytes, list[tuple[Any, ...]]]:
    """Return the tree of JSON as `marshal` keeps it, which is copied sooner than read, and the steps to each leaf."""
    tree = json.loads(data)
    found: list[tuple[Any, ...]] = []
    left: list[tuple[tuple[Any, ...], Any]] = [((), tree)]
    while left:
        way, holder = left.pop()
        for step, value in holder.items() if isinstance(holder, dict) else enumerate(holder):
            if isinstance(value, dict | list):
                left.append(((*way, step), value))
            else:
                found.append((*way, step))
    return marshal.dumps(tree), found


def _place(tree: Any, leaves: list[tuple[Any, ...]], rng: random.Random) -> tuple[Any, Any]:
    """Return a holder within a tree and the key or index of something in it; (None, None) where there is nothing."""
    if leaves and rng.random() < 0.5:
        *way, last = rng.choice(leaves)
        holder = tree
        try:
            for step in way:
                holder = holder[step]
            holder[last]
        except (LookupError, TypeError):  # an earlier change took it away
            return None, None
        return (holder, last) if isinstance(holder, dict | list) else (None, None)
    holder, step, here = None, None, tree
    while isinstance(here, dict | list) and here and (holder is None or rng.random() < 0.85):
        keys = list(here) if isinstance(here, dict) else range(len(here))
        holder, step = here, keys[rng.randrange(len(keys))]
        here = here[step]
    return holder, step
