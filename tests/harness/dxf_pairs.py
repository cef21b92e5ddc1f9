"""DXF as pairs of group code and value, typed by the DXF reference's table of group codes (from memory), and
whether a spoilt file still says the same.

Verdicts are those of judge.py: what ezdxf refuses, or its auditor finds fault with, matters; so does any
difference in what is drawn, on which layer, in which order, in layers, line types, styles, texts, notes, unit,
extent and base. Numbers may differ by 2e-6 (six decimals are written). The closed list of the guide: how handles are
numbered, the last decimal of a number, blanks before a group code or a whole number.
"""

from __future__ import annotations

import io
import logging
import re
from functools import lru_cache

import ezdxf
from ezdxf import DXFError

from judge import Verdict

# The library tells what it mends; the auditor's list has it too.
logging.getLogger("ezdxf").setLevel(logging.CRITICAL)

NEAR = 2e-6
# Of the header: what says how large, where and which release a drawing is.
HEADER = {
    "$ACADVER", "$INSBASE", "$EXTMIN", "$EXTMAX", "$LIMMIN", "$LIMMAX", "$INSUNITS", "$MEASUREMENT", "$DWGCODEPAGE",
    "$LUNITS", "$LUPREC",
}  # fmt: skip
FLOATS = [(10, 59), (110, 149), (210, 239), (460, 469), (1010, 1059)]
WHOLE = [(60, 79), (90, 99), (160, 179), (270, 289), (370, 389), (400, 409), (420, 429), (440, 449), (1060, 1071)]
HANDLES = {5, 105} | set(range(310, 370)) | {1005}
NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")


def within(code, ranges):
    return any(a <= code <= b for a, b in ranges)


@lru_cache(maxsize=100_000)
def value(code, text):
    """A value by its group's type; text where it is none of that type."""
    if within(code, FLOATS) and NUMBER.fullmatch(text.strip()):
        return float(text)
    if within(code, WHOLE) and re.fullmatch(r"[+-]?\d+", text.strip()):
        return int(text)
    if code in HANDLES and re.fullmatch(r"[0-9A-Fa-f]+", text.strip()):
        return int(text, 16)
    return text


def pairs(text):
    """[(code, value)], or None for what is no file of pairs."""
    lines = text.replace("\r\n", "\n").split("\n")
    if lines[-1] == "":
        lines.pop()
    if len(lines) % 2:
        return None
    found = []
    for code, said in zip(lines[::2], lines[1::2]):
        if not re.fullmatch(r" *-?\d+ *", code):
            return None
        found.append((int(code), value(int(code), said)))
    return found


def records(found):
    """Records of a file, each with its section: [(section, [(code, value)])]."""
    out, section = [], ""
    current = []
    for pair in [*found, (0, "")]:
        if pair[0] == 0 and current:
            if current[0][1] == "SECTION":
                section = current[1][1] if len(current) > 1 else ""
            out.append((section, current))
            current = []
        current.append(pair)
    return out


def meaning(found):
    """What a reader draws and a person reads: header, tables and entities without handles and owners."""
    out = []
    for section, record in records(found):
        if section == "HEADER":
            name, said = None, {}
            for code, v in record:
                if code == 9:
                    name = v
                elif name in HEADER:
                    said.setdefault(name, []).append((code, v))
            out.append(("HEADER", sorted(said.items())))
        elif section == "ENTITIES" or (section == "TABLES" and record[0][1] in ("LAYER", "LTYPE", "STYLE")):
            out.append((section, [p for p in record if p[0] not in (5, 105, 330, 100)]))
        elif section == "BLOCKS" and record[0][1] not in ("BLOCK", "ENDBLK"):
            out.append((section, [p for p in record if p[0] not in (5, 330)]))
    return out


def close(a, b):
    if isinstance(a, float) and isinstance(b, float):
        return abs(a - b) <= NEAR
    if isinstance(a, (list, tuple)) and isinstance(b, (list, tuple)):
        return len(a) == len(b) and all(close(x, y) for x, y in zip(a, b))
    return a == b


def outside(text):
    """What the reference library says: None of a sound file; it refuses, mends or finds fault otherwise."""
    try:
        drawing = ezdxf.read(io.StringIO(text.replace("\r\n", "\n")))
        auditor = drawing.audit()
    except DXFError as e:
        return f"refused: {type(e).__name__}"
    except Exception as e:  # noqa: BLE001 - the library lets plain errors through for what it cannot read
        return f"refused: {type(e).__name__}"
    if auditor.errors or auditor.fixes:
        return f"mended: {(auditor.errors + auditor.fixes)[0].code}"
    return None


def blanks_taken(text):
    """A file without blanks before group codes and whole numbers."""
    lines = text.split("\n")
    out = []
    for n, line in enumerate(lines):
        code = lines[n - 1].strip() if n % 2 else ""
        whole = not n % 2 or (code.isdigit() and within(int(code), WHOLE))
        out.append(line.lstrip(" ") if whole else line)
    return out


def renumbered(found):
    """Pairs with handles numbered in the order in which they first stand."""
    order = {}
    return [(c, order.setdefault(v, len(order)) if c in HANDLES and isinstance(v, int) else v) for c, v in found]


class SoundDrawing:
    """A drawing as it was written; `verdict` judges a spoilt one against it."""

    def __init__(self, text):
        self.text, self.pairs = text, pairs(text)
        assert self.pairs is not None and outside(text) is None, "a sound drawing is no sound DXF"
        self.meaning = meaning(self.pairs)

    def verdict(self, text):
        found = pairs(text)
        if found is None:
            return Verdict("matters", ["no pairs"])
        if found == self.pairs:
            same = blanks_taken(text) == blanks_taken(self.text)
            return Verdict("harmless" if same else "free", ["" if same else "forms of numbers, ends of lines"])
        if renumbered(found) == renumbered(self.pairs) and outside(text) is None:
            return Verdict("free", ["handles numbered anew"])
        if close(found, self.pairs):
            return Verdict("free", ["within half a step"])
        said = outside(text)
        if said:
            return Verdict("matters", [f"reference library {said}"])
        if not close(meaning(found), self.meaning):
            return Verdict("matters", ["drawing"])
        return Verdict("unlisted", [])
