"""Seeded faults of DXF files: each takes the lines of a sound one and gives those of a spoilt one, or None where it
finds no place. FAULTS is as in gcode_faults.py. Group codes are those of the DXF reference: 0 record, 2 name,
5 and 105 handle, 8 layer, 9 header variable, 330 owner."""

from __future__ import annotations

from modes import keeper

FAULTS = {}
fault = keeper(FAULTS)


def place(lines, rnd):
    """A line: half of the faults in the entities, which are but a part of the file."""
    first = next(n for n, line in enumerate(lines) if line == "ENTITIES")
    return rnd.choice([rnd.randrange(len(lines)), rnd.randrange(first, len(lines))])


def pair(lines, rnd, codes=None):
    """Index of a pair's first line."""
    if codes is None:
        return place(lines, rnd) // 2 * 2
    return rnd.choice([n for n in range(0, len(lines), 2) if lines[n].strip() in codes])


def put(lines, n, *new):
    return [*lines[:n], *new, *lines[n:]]


def starts(lines):
    return [n for n in range(0, len(lines), 2) if lines[n].strip() == "0"]


@fault("dxf-pair-lost")
def pair_lost(lines, rnd):
    n = pair(lines, rnd)
    return lines[:n] + lines[n + 2 :]


@fault("dxf-pair-doubled")
def pair_doubled(lines, rnd):
    n = pair(lines, rnd)
    return put(lines, n, *lines[n : n + 2])


@fault("dxf-pairs-swapped")
def pairs_swapped(lines, rnd):
    n, m = pair(lines, rnd), pair(lines, rnd)
    spoilt = list(lines)
    spoilt[n : n + 2], spoilt[m : m + 2] = lines[m : m + 2], lines[n : n + 2]
    return spoilt


@fault("dxf-next-pairs-swapped")
def next_pairs_swapped(lines, rnd):
    n = pair(lines[:-2], rnd)
    return lines[:n] + lines[n + 2 : n + 4] + lines[n : n + 2] + lines[n + 4 :]


@fault("dxf-pair-moved")
def pair_moved(lines, rnd):
    n = pair(lines, rnd)
    left = lines[:n] + lines[n + 2 :]
    return put(left, pair(left, rnd), *lines[n : n + 2])


@fault("dxf-code-other")
def code_other(lines, rnd):
    n = pair(lines, rnd)
    spoilt = list(lines)
    spoilt[n] = f"{rnd.choice([0, 1, 2, 5, 6, 8, 10, 11, 20, 21, 30, 39, 40, 41, 42, 43, 48, 60, 62, 67, 70, 90, 100, 102, 210, 220, 230, 330, 370, 999, 1001])}"
    return spoilt


@fault("dxf-code-put-in")
def code_put_in(lines, rnd):
    new = rnd.choice([("60", "1"), ("62", "1"), ("6", "DASHED"), ("67", "1"), ("210", "0"), ("230", "-1"), ("39", "5.0"), ("48", "2.0"),
                      ("370", "50"), ("42", "1.0"), ("43", "0.5"), ("8", "0"), ("999", "a remark"), ("38", "3.0"), ("1001", "ACAD"),
                      ("50", "45.0"), ("41", "2.0"), ("71", "2"), ("72", "1"), ("51", "10.0"), ("7", "OTHER"), ("420", "255")])  # fmt: skip
    return put(lines, pair(lines, rnd), *new)


@fault("dxf-digit")
def digit(lines, rnd):
    for _ in range(20):
        n = place(lines, rnd)
        places = [i for i, c in enumerate(lines[n]) if c.isdigit()]
        if places:
            at = rnd.choice(places)
            new = rnd.choice(["", lines[n][at] + rnd.choice("0123456789"), rnd.choice("0123456789")])
            return [*lines[:n], lines[n][:at] + new + lines[n][at + 1 :], *lines[n + 1 :]]
    return None


def number_changed(kind, codes, change):
    def spoil(lines, rnd):
        n = pair(lines, rnd, codes)
        spoilt = list(lines)
        spoilt[n + 1] = change(lines[n + 1].strip(), rnd)
        return spoilt

    FAULTS[kind] = spoil


PLACES = ["10", "20", "11", "21"]
for size in (0.00001, 0.001, 0.01, 0.1, 1.0, 10.0):
    number_changed(f"dxf-place-{size:g}", PLACES, lambda v, rnd, size=size: f"{float(v) + rnd.choice([size, -size]):.6f}")
number_changed("dxf-sign", [*PLACES, "40", "42", "50", "51"], lambda v, rnd: v[1:] if v.startswith("-") else f"-{v}")
number_changed("dxf-height", ["30", "31", "38", "39"], lambda v, rnd: rnd.choice(["1.0", "-5.0", "0.001"]))
number_changed("dxf-bulge", ["42"], lambda v, rnd: rnd.choice(["0.0", "1.0", f"{float(v) * 1.01:.6f}", f"{-float(v):.6f}"]))
number_changed("dxf-size", ["40", "41"], lambda v, rnd: f"{float(v) * rnd.choice([0.5, 2, 1.001, 0]):.6f}")
number_changed("dxf-flag", ["70", "71", "72", "73", "66", "62", "90"], lambda v, rnd: str(int(v) + rnd.choice([1, -1, 2, 4, 128])))
number_changed("dxf-no-number", [*PLACES, "40", "70", "62", "90"], lambda v, rnd: rnd.choice(["nan", "inf", "1e400", "", "abc", f"{v},0", f"{v} 1", "1_000", "0x10", "--1"]))
number_changed("dxf-handle", ["5", "105"], lambda v, rnd: rnd.choice(["0", "1", "FFFFFFFF", "", "G", f"{int(v, 16) + 1:X}", "-1"]))
number_changed("dxf-owner", ["330", "350", "340", "360"], lambda v, rnd: rnd.choice(["0", "1", "FFFF", "", f"{int(v, 16) + 1:X}"]))
number_changed("dxf-layer", ["8"], lambda v, rnd: rnd.choice(["0", "lap-outline", "lap-notch", "lap-label", "lap-note", "lap-stock", "other", "", v.upper()]))
number_changed("dxf-name", ["2"], lambda v, rnd: rnd.choice(["", "OTHER", v.lower(), v + "X", "lap-outline"]))
number_changed("dxf-record", ["0"], lambda v, rnd: rnd.choice(["LINE", "CIRCLE", "ARC", "POLYLINE", "LWPOLYLINE", "TEXT", "VERTEX", "SEQEND", "ENDSEC", "EOF", "INSERT", "SPLINE", v.lower(), ""]))
number_changed("dxf-subclass", ["100"], lambda v, rnd: rnd.choice(["", "AcDbLine", "AcDbEntity", "AcDbOther", v.lower()]))
number_changed("dxf-text", ["1"], lambda v, rnd: (v[: len(v) // 2] + rnd.choice(["x", "", "9", "%%c", "\\P"]) + v[len(v) // 2 + 1 :]) if v else "new")
number_changed("dxf-variable-name", ["9"], lambda v, rnd: rnd.choice(["$OTHER", v.lower(), "$INSUNITS", "$EXTMAX", ""]))


@fault("dxf-header-value")
def header_value(lines, rnd):
    first, last = lines.index("HEADER"), lines.index("ENDSEC")
    places = [n for n in range(first + 1, last - 1, 2) if lines[n].strip() != "9"]
    n = rnd.choice(places)
    spoilt = list(lines)
    old = spoilt[n + 1]
    try:
        spoilt[n + 1] = rnd.choice([f"{float(old) + rnd.choice([1, -1, 0.01])}", "0", "1", "5"])
    except ValueError:
        spoilt[n + 1] = rnd.choice(["AC1009", "AC1027", "ANSI_1250", "UTF-8", "0", "1"])
    return spoilt


@fault("dxf-header-lost")
def header_lost(lines, rnd):
    first, last = lines.index("HEADER"), lines.index("ENDSEC")
    names = [n for n in range(first + 1, last, 2) if lines[n].strip() == "9"]
    i = rnd.randrange(len(names))
    end = names[i + 1] if i + 1 < len(names) else last - 1
    return lines[: names[i]] + lines[end:]


@fault("dxf-header-doubled")
def header_doubled(lines, rnd):
    first, last = lines.index("HEADER"), lines.index("ENDSEC")
    names = [n for n in range(first + 1, last, 2) if lines[n].strip() == "9"]
    i = rnd.randrange(len(names))
    end = names[i + 1] if i + 1 < len(names) else last - 1
    block = lines[names[i] : end]
    if len(block) > 2 and rnd.random() < 0.5:
        block = [*block[:3], rnd.choice(["1", "0", "25.4"]), *block[4:]]
    return put(lines, end, *block)


@fault("dxf-record-lost")
def record_lost(lines, rnd):
    at = starts(lines)
    i = rnd.randrange(len(at) - 1)
    return lines[: at[i]] + lines[at[i + 1] :]


@fault("dxf-record-doubled")
def record_doubled(lines, rnd):
    at = starts(lines)
    i = rnd.randrange(len(at) - 1)
    return put(lines, at[i], *lines[at[i] : at[i + 1]])


@fault("dxf-record-moved")
def record_moved(lines, rnd):
    at = starts(lines)
    i = rnd.randrange(len(at) - 1)
    block = lines[at[i] : at[i + 1]]
    left = lines[: at[i]] + lines[at[i + 1] :]
    return put(left, rnd.choice(starts(left)), *block)


@fault("dxf-records-swapped")
def records_swapped(lines, rnd):
    at = starts(lines)
    i = rnd.randrange(len(at) - 3)
    a, b, c = at[i], at[i + 1], at[i + 2]
    return lines[:a] + lines[b:c] + lines[a:b] + lines[c:]


@fault("dxf-record-put-in")
def record_put_in(lines, rnd):
    """A further entity, in R2000 with a handle that is free."""
    first = lines.index("ENTITIES")
    at = rnd.choice([n for n in starts(lines) if n > first][:-1])
    handles = ["5", rnd.choice(["4E0", "FFF", "10"]), "330", "5", "100", "AcDbEntity"] if "AC1015" in lines else []
    layer = rnd.choice(["lap-outline", "lap-notch", "lap-note", "0"])
    kind = rnd.choice(["LINE", "CIRCLE", "TEXT"])
    what = {
        "LINE": ["10", "1.0", "20", "1.0", "11", "9.0", "21", "1.0"],
        "CIRCLE": ["10", "5.0", "20", "5.0", "40", "1.0"],
        "TEXT": ["10", "1.0", "20", "1.0", "40", "4.0", "1", "cut twice"],
    }[kind]
    subclass = {"LINE": "AcDbLine", "CIRCLE": "AcDbCircle", "TEXT": "AcDbText"}[kind]
    new = ["0", kind, *handles, "8", layer, *(["100", subclass] if handles else []), *what]
    return put(lines, at, *new)


@fault("dxf-section-lost")
def section_lost(lines, rnd):
    begins = [n for n in starts(lines) if lines[n + 1] == "SECTION"]
    i = rnd.randrange(len(begins))
    end = begins[i + 1] if i + 1 < len(begins) else len(lines) - 2
    return lines[: begins[i]] + lines[end:]


@fault("dxf-sections-swapped")
def sections_swapped(lines, rnd):
    begins = [n for n in starts(lines) if lines[n + 1] == "SECTION"] + [len(lines) - 2]
    i = rnd.randrange(len(begins) - 2)
    a, b, c = begins[i : i + 3]
    return lines[:a] + lines[b:c] + lines[a:b] + lines[c:]


@fault("dxf-line-lost")
def line_lost(lines, rnd):
    n = place(lines, rnd)
    return lines[:n] + lines[n + 1 :]


@fault("dxf-line-doubled")
def line_doubled(lines, rnd):
    n = place(lines, rnd)
    return put(lines, n, lines[n])


@fault("dxf-cut-short")
def cut_short(lines, rnd):
    return lines[: rnd.choice([rnd.randrange(len(lines)), len(lines) - 2, len(lines) - 1, len(lines) - 4])]


@fault("dxf-after-the-end")
def after_the_end(lines, rnd):
    return [*lines, *rnd.choice([("0", "EOF"), ("999", "a remark"), ("0", "SECTION"), ("0", "LINE"), ("",), ("x", "y")])]


@fault("dxf-remark")
def remark(lines, rnd):
    return put(lines, pair(lines, rnd), "999", rnd.choice(["a remark", "", "cut this twice"]))


@fault("dxf-byte")
def byte(lines, rnd):
    text = "\n".join(lines) + "\n"
    at = rnd.randrange(len(text))
    new = rnd.choice(["", chr(rnd.randrange(256)), text[at] + chr(rnd.randrange(256))])
    return text[:at] + new + text[at + 1 :]


@fault("form-dxf-codes")
def form_codes(lines, rnd):
    n = pair(lines, rnd)
    return [*lines[:n], rnd.choice([lines[n].strip(), f"{lines[n].strip():>6}"]), *lines[n + 1 :]]


@fault("form-dxf-numbers")
def form_numbers(lines, rnd):
    n = pair(lines, rnd, PLACES)
    v = lines[n + 1].strip()
    new = rnd.choice([f"{v}000" if "." in v else f"{v}.0", f" {v}", f"{float(v):.9f}"])
    return [*lines[: n + 1], new, *lines[n + 2 :]]


@fault("form-dxf-line-ends")
def form_line_ends(lines, rnd):
    return "".join(f"{line}\r\n" for line in lines)


def spoilt(text, kind, rnd, _bench=None, tries=8):
    """A drawing with one fault of a kind, or None where it finds no place."""
    end = "\r\n" if "\r\n" in text else "\n"
    lines = text.split(end)
    assert lines.pop() == ""
    for _ in range(tries):
        try:
            found = FAULTS[kind](lines, rnd)
        except (IndexError, ValueError):
            return None
        if isinstance(found, list):
            found = "".join(f"{line}{end}" for line in found)
        if found is not None and found != text:
            return found
    return None
