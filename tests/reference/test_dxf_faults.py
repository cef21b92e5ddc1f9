"""Spoilt DXF files of real jobs, in both releases, against ezdxf: what its strict reader refuses, what its
recovering reader or its auditor mends or complains of, and what it reads otherwise than the sound file, the
replay must refuse. It sees bytes and plan alone, through the example `replay_bytes`.

Group codes are those of the DXF reference: 0 record, 2 name, 5 and 105 handle, 6 line type, 7 text style, 8
layer, 9 header variable, 62 colour, 70 flags, 90 count, 330 owner.
"""

import io
import json
import logging
import os
import random
import subprocess

import ezdxf
import ezdxf.recover
import pytest

from workshop import ROOT, make, write_job

REPLAY = ROOT / "target" / "release" / "examples" / "replay_bytes"
# Faults a job: enough for every kind in a file of each sort. More by hand: DXF_FAULTS=20000 tests/run -k dxf_faults.
FAULTS = int(os.environ.get("DXF_FAULTS", "250"))
BOTH = {"dxf": "both", "dxf_version": "both", "dxf_files": "both"}
# Last decimals that the replay lets pass, mm.
CORNER = 1e-6


class Replay:
    """The replay of one job, asked for one file's bytes after another."""

    def __init__(self, folder):
        assert REPLAY.is_file(), "build it first: cargo build --release --examples"
        self.folder = folder
        self.process = subprocess.Popen(
            [REPLAY, folder], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        assert "files" in json.loads(self.process.stdout.readline())

    def faults(self, name, text):
        """What is wrong with a file of these bytes: nothing, if the list is empty."""
        request = {"file": name, "text": text.encode().decode("latin-1")}
        self.process.stdin.write(json.dumps(request) + "\n")
        self.process.stdin.flush()
        return json.loads(self.process.stdout.readline())["faults"]

    def close(self):
        self.process.stdin.close()
        self.process.wait(60)


@pytest.fixture(scope="module", params=["plain-window", "router-square", "hemp-leaf-outlines"])
def job(request, tmp_path_factory):
    """(replay, the texts of a job's DXF files): a beam's, a cutter's, and dashes of folds in two woods."""
    folder = tmp_path_factory.mktemp(request.param)
    panel = {f"cut.{key}": value for key, value in BOTH.items()}
    folder = make(write_job(folder / "files", request.param, panel=panel), folder / "out")
    texts = {}
    for file in sorted((folder / "dxf").glob("*.dxf")):
        texts[f"dxf/{file.name}"] = file.read_bytes().decode("ascii")
    replay = Replay(folder)
    yield replay, texts
    replay.close()


class Heard(logging.Handler):
    """What ezdxf mentions while it reads: it mends some things with no more than a word in its log."""

    def __init__(self):
        super().__init__(logging.WARNING)
        self.words = []

    def emit(self, record):
        self.words.append(record.getMessage())


def told(auditor):
    return [entry.message for entry in [*auditor.errors, *auditor.fixes]]


def read(text):
    """(complaint or None, what was read) by ezdxf, strictly and then with recovery."""
    heard = Heard()
    logger = logging.getLogger("ezdxf")
    logger.addHandler(heard)
    try:
        strict = ezdxf.read(io.StringIO(text, newline=None))
        complaints = told(strict.audit())
        _, auditor = ezdxf.recover.read(io.BytesIO(text.encode()))
        complaints += told(auditor) + heard.words
        return (complaints[0] if complaints else None), content(strict)
    except Exception as e:  # Whatever a reader stumbles over is a refusal.
        return f"{type(e).__name__}: {e}", None
    finally:
        logger.removeHandler(heard)


def content(doc):
    """All that a file says to ezdxf, apart from how its handles are numbered: numbers stay numbers."""

    def attribs(entity):
        values = entity.dxfattribs().items()
        free = ("handle", "owner")
        return sorted((key, plain(value)) for key, value in values if not key.endswith(free))

    def plain(value):
        return tuple(value) if hasattr(value, "__iter__") and not isinstance(value, str) else value

    drawn = []
    for entity in doc.modelspace():
        more = ()
        if entity.dxftype() == "LWPOLYLINE":
            more = [*entity.get_points("xyseb")]
        elif entity.dxftype() == "POLYLINE":
            more = [attribs(vertex) for vertex in entity.vertices]
        drawn.append((entity.dxftype(), attribs(entity), more))
    tables = [doc.layers, doc.linetypes, doc.styles, doc.dimstyles, doc.appids, doc.viewports]
    rows = []
    for table in tables:
        for entry in table:
            rows += [attribs(row) for row in (entry if isinstance(entry, list) else [entry])]
    # Dates and identifiers are made up where a file says none.
    made_up = ("$TD", "$TU", "$FINGERPRINT", "$VERSIONGUID", "$HANDSEED")
    header = [
        (name, plain(doc.header[name]))
        for name in sorted(doc.header.varnames())
        if not name.startswith(made_up)
    ]
    names = [[block.name for block in doc.blocks], [layout.name for layout in doc.layouts]]
    return [drawn, rows, header, names, doc.dxfversion, doc.encoding]


def alike(a, b):
    """The same but for last decimals."""
    if isinstance(a, (list, tuple)) and isinstance(b, (list, tuple)):
        return len(a) == len(b) and all(alike(x, y) for x, y in zip(a, b))
    if isinstance(a, float) and isinstance(b, float):
        return abs(a - b) <= 2 * CORNER
    return type(a) is type(b) and a == b


def pairs_of(text):
    lines = text.split("\r\n")
    assert lines.pop() == ""
    return [(code.strip(), value) for code, value in zip(lines[::2], lines[1::2])]


def text_of(pairs):
    return "".join(f"{code:>3}\r\n{value}\r\n" for code, value in pairs)


def records(pairs):
    """Where each record begins, and the end."""
    return [i for i, (code, _) in enumerate(pairs) if code == "0"] + [len(pairs)]


STRANGE = {
    "number": ["nan", "inf", "-inf", "1e999", "", " ", "1,5", "0x10", "--1", "1.0.0", "-0.0", "1e-3", "+1.0"],
    "handle": ["0", "", "00", "G", "-1", "FFFFFFFF", "FFFFFFFFFFFFFFFFF", "1", "5", " 2"],
    "name": ["", " ", "0", "NONE", "STANDARD", "*MODEL_SPACE", "BYLAYER", "DASHED", "lap-note", "lap-outline", "AcDbEntity", "\u20ac"],
}  # fmt: skip
CODES = ["0", "1", "2", "5", "6", "7", "8", "10", "11", "20", "21", "30", "40", "41", "42", "43", "50", "60",
         "62", "66", "67", "70", "71", "90", "100", "102", "105", "210", "330", "360", "999", "1000", "-1",
         "x", "", "1e1"]  # fmt: skip


def spoilt(text, rng):
    """The file with one fault, and what it is."""
    pairs = pairs_of(text)
    starts = records(pairs)
    entities = pairs.index(("2", "ENTITIES"))
    # As many in what is drawn as in all that stands round it.
    low = rng.choice([0, entities])
    high = rng.choice([entities, len(pairs)]) if low == 0 else len(pairs)
    i = rng.randrange(low, high)
    code, value = pairs[i]
    kind = rng.randrange(14)
    if kind == 0:
        del pairs[i]
        what = "dropped"
    elif kind == 1:
        pairs.insert(i, pairs[i])
        what = "said twice"
    elif kind == 2:
        j = rng.choice([min(i + 1, len(pairs) - 1), rng.randrange(low, high)])
        pairs[i], pairs[j] = pairs[j], pairs[i]
        what = f"swapped with {pairs[i]}"
    elif kind == 3:
        pairs[i] = (rng.choice(CODES), value)
        what = f"under code {pairs[i][0]!r}"
    elif kind == 4:
        pairs[i] = (code, pairs[rng.randrange(len(pairs))][1])
        what = f"became {pairs[i][1]!r}"
    elif kind in (5, 6):
        sort = "handle" if code in ("5", "105", "330", "350") else "name"
        if value.strip().lstrip("-").replace(".", "", 1).isdigit() and sort == "name":
            sort = "number"
        pairs[i] = (code, rng.choice(STRANGE[sort]))
        what = f"became {pairs[i][1]!r}"
    elif kind == 7:
        try:
            number = float(value)
        except ValueError:
            return spoilt(text, rng)
        step = rng.choice([-2 * number, 1, -1, 1e-3, 1e6, 4 * CORNER])
        new = number + step
        pairs[i] = (code, f"{new:.9f}" if "." in value else str(round(new)))
        what = f"became {pairs[i][1]}"
    elif kind == 8:
        new = (rng.choice(CODES), rng.choice([pairs[rng.randrange(len(pairs))][1], *STRANGE["number"]]))
        pairs.insert(i, new)
        what = f"{new} put before it"
    elif kind in (9, 10, 11):
        r = rng.randrange(len(starts) - 1)
        a, b = starts[r], starts[r + 1]
        record = pairs[a:b]
        what = f"record {record[0][1]}"
        if kind == 9:
            del pairs[a:b]
            what += " dropped"
        elif kind == 10:
            pairs[a:a] = record
            what += " said twice"
        else:
            to = rng.choice(starts)
            del pairs[a:b]
            to -= (b - a) if to > a else 0
            pairs[to:to] = record
            what += f" moved to {to}"
    elif kind == 12:
        lines = text.split("\r\n")
        n = rng.randrange(len(lines) - 1)
        if rng.random() < 0.5:
            del lines[n]
        else:
            lines.insert(n, lines[n])
        return f"line {n + 1} dropped or doubled", "\r\n".join(lines)
    else:
        end = rng.choice([len(text) - 1, len(text) - 2, rng.randrange(len(text))])
        more = rng.choice(["  0\r\nEOF\r\n", "\r\n", "  0\r\nLINE\r\n  8\r\n0\r\n", "x"])
        if rng.random() < 0.5:
            return f"cut short at {end}", text[:end]
        return f"goes on with {more!r}", text + more
    return f"group {i} {(code, value)}: {what}", text_of(pairs)


def test_what_a_strict_reader_refuses_or_mends_is_refused(job):
    replay, texts = job
    rng = random.Random(20110)
    sound = {}
    for name, text in texts.items():
        complaint, sound[name] = read(text)
        assert complaint is None, f"{name}: {complaint}"
        assert text_of(pairs_of(text)) == text, name
        assert replay.faults(name, text) == [], name
    theirs = ours = 0
    passed = []
    for n in range(FAULTS):
        name = list(texts)[n % len(texts)] if n < len(texts) else rng.choice(list(texts))
        what, text = spoilt(texts[name], rng)
        if text == texts[name]:
            continue
        refused = bool(replay.faults(name, text))
        ours += refused
        # Reading takes long: what is refused here needs no further reader, but for a count of theirs.
        if refused and n % 8:
            continue
        complaint, found = read(text)
        theirs += complaint is not None
        if not refused:
            passed.append(what)
            assert complaint is None, f"{name}: {what}: ezdxf: {complaint}"
            assert alike(found, sound[name]), f"{name}: {what}: ezdxf reads something else"
    assert ours > 0.9 * FAULTS, passed
    assert theirs > 0.2 * FAULTS / 8, "the judge has seen faults"


def edited(text, edit):
    pairs = pairs_of(text)
    edit(pairs)
    return text_of(pairs)


def at(pairs, code, value, after=0):
    """Where a group stands first; a value of None is any."""
    for i in range(after, len(pairs)):
        if pairs[i][0] == code and value in (None, pairs[i][1]):
            return i
    raise AssertionError(f"no group {code} {value}")


def put(code, value, *, where, shift=0):
    def edit(pairs):
        i = where(pairs) + shift
        pairs[i] = (code, value)

    return edit


def drop(where, count=1):
    def edit(pairs):
        i = where(pairs)
        del pairs[i : i + count]

    return edit


def first(record, code, value=None):
    """A group of the first such record."""
    return lambda pairs: at(pairs, code, value, at(pairs, "0", record))


def row(kind, name, code):
    """A group of the row of a table."""

    def where(pairs):
        i = 0
        while True:
            i = at(pairs, "0", kind, i + 1)
            end = at(pairs, "0", None, i + 1)
            if ("2", name) in pairs[i:end]:
                return at(pairs[:end], code, None, i)

    return where


def variable(name):
    return lambda pairs: at(pairs, "9", name) + 1


def drawn(pairs):
    return at(pairs, "0", None, at(pairs, "2", "ENTITIES"))


def listed(pairs):
    """Layers of the table but for "0", those that are cut first."""
    starts = records(pairs)
    rows = [pairs[i:j] for i, j in zip(starts, starts[1:]) if pairs[i] == ("0", "LAYER")]
    return [name for row in rows for code, name in row if code == "2"][1:]


def named_faults(text):
    """{what: an edit} of all faults that a file can have."""
    pairs = pairs_of(text)
    layers = listed(pairs)
    one, other = layers[0], layers[-1] if len(layers) > 1 else "0"
    kinds = {value for code, value in pairs[drawn(pairs):] if code == "0"}
    faults = {
        "a line type that is not there": put("6", "DASHED", where=row("LAYER", one, "6")),
        "a layer without a name": drop(row("LAYER", one, "2")),
        "a layer with an empty name": put("2", "", where=row("LAYER", one, "2")),
        "a layer twice": put("2", other, where=row("LAYER", one, "2")),
        "a layer that is off": put("62", "-7", where=row("LAYER", one, "62")),
        "a layer that is frozen": put("70", "1", where=row("LAYER", one, "70")),
        "a layer that is locked": put("70", "4", where=row("LAYER", one, "70")),
        "a layer with nothing on it": nothing_on_it(one),
        "a style without a name": drop(row("STYLE", "STANDARD", "2")),
        "a line type without a name": drop(row("LTYPE", "CONTINUOUS", "2")),
        "a view of half a point": drop(row("VPORT", "*ACTIVE", "22")),
        "another base": put("10", "5.0", where=variable("$INSBASE")),
        "other extents": put("10", "5.0", where=variable("$EXTMAX")),
        "other limits": put("10", "5.0", where=variable("$LIMMAX")),
        "extents that are no number": put("10", "nan", where=variable("$EXTMIN")),
        "no header": drop(lambda pairs: 0, 2),
        "no end of the entities": drop(lambda pairs: at(pairs, "0", "ENDSEC", at(pairs, "2", "ENTITIES"))),
        "no end": drop(lambda pairs: len(pairs) - 1),
        "two ends": lambda pairs: pairs.append(("0", "EOF")),
        "a layer of its own": put("8", "lap-other", where=lambda p: at(p, "8", None, drawn(p))),
        "layer 0": put("8", "0", where=lambda p: at(p, "8", None, drawn(p))),
    }  # fmt: skip
    if "TEXT" in kinds:
        faults |= {
            "a text without y": drop(first("TEXT", "20")),
            "a text of no height": put("40", "0.0", where=first("TEXT", "40")),
            "a text of less than no height": put("40", "-4.0", where=first("TEXT", "40")),
            "a text in a style that is not there": put("7", "NONE", where=first("TEXT", "30")),
            "a text that is turned": put("50", "90.0", where=first("TEXT", "30")),
        }
    if ("1", "AC1015") in pairs:
        return faults | new_faults(one)
    if "POLYLINE" in kinds:
        faults |= {
            "no SEQEND": drop(first("SEQEND", "0", "SEQEND"), 2),
            "a corner on another layer": put("8", "0", where=first("VERTEX", "8")),
            "a corner without y": drop(first("VERTEX", "20")),
            "a corner above the bed": put("30", "1.0", where=first("VERTEX", "30")),
            "no corners follow": put("66", "0", where=first("POLYLINE", "66")),
            "a mesh": put("70", "16", where=first("POLYLINE", "70")),
        }
    rows = lambda p: at(p, "70", None, at(p, "2", "LAYER"))  # noqa: E731
    return faults | {
        "a SEQEND too many": lambda p: p.insert(drawn(p), ("0", "SEQEND")),
        "a handle": lambda p: p.insert(drawn(p) + 1, ("5", "A1")),
        "rows announced that are not there": put("70", "99", where=rows),
        "a flag that came later": lambda p: p.insert(row("LAYER", one, "6")(p) + 1, ("290", "0")),
    }


def nothing_on_it(layer):
    """A further row of the table of layers, in R12 with a count that is right."""

    def edit(pairs):
        begin = next(i for i in records(pairs) if pairs[i] == ("0", "LAYER") and ("2", layer) in pairs[i : i + 6])
        end = at(pairs, "0", None, begin + 1)
        new = {"2": "lap-other", "5": "A0000"}
        pairs[end:end] = [(code, new.get(code, value)) for code, value in pairs[begin:end]]
        if ("1", "AC1009") in pairs:
            count = at(pairs, "70", None, at(pairs, "2", "LAYER"))
            pairs[count] = ("70", str(int(pairs[count][1]) + 1))

    return edit


def plotted(layer):
    """The other flag of a layer: what is cut not plotted, or what is never cut plotted."""

    def edit(pairs):
        i = row("LAYER", layer, "290")(pairs)
        pairs[i] = ("290", "0" if pairs[i][1].strip() == "1" else "1")

    return edit


def app_id(pairs):
    """A further row of a table that needs one alone."""
    end = at(pairs, "0", "ENDTAB", at(pairs, "2", "APPID"))
    begin = at(pairs, "0", "APPID")
    new = {"2": "ANOTHER", "5": "A0000"}
    pairs[end:end] = [(code, new.get(code, value)) for code, value in pairs[begin:end]]


def new_faults(one):
    """Faults of what came after R12."""
    return {
        "a layer plotted or not": plotted(one),
        "an application that has no part in it": app_id,
        "no handle": drop(lambda p: at(p, "5", None, drawn(p))),
        "handle 0": put("5", "0", where=lambda p: at(p, "5", None, drawn(p))),
        "handle 0 in a table": put("5", "0", where=row("LAYER", one, "5")),
        "a handle above the seed": put("5", "FFFFF", where=lambda p: at(p, "5", None, drawn(p))),
        "a seed of 0": put("5", "0", where=variable("$HANDSEED")),
        "a handle twice": lambda p: p.__setitem__(at(p, "5", None, drawn(p)), p[row("LAYER", one, "5")(p)]),
        "no owner": drop(lambda p: at(p, "330", None, drawn(p))),
        "an owner that is not there": put("330", "FFFFF", where=lambda p: at(p, "330", None, drawn(p))),
        "an owner of another kind": lambda p: p.__setitem__(
            at(p, "330", None, drawn(p)), ("330", p[row("LAYER", one, "5")(p)][1])
        ),
        "a row's owner of another kind": lambda p: p.__setitem__(
            row("LAYER", one, "330")(p), ("330", p[row("STYLE", "STANDARD", "330")(p)][1])
        ),
        "one corner more announced": lambda p: p.__setitem__(
            at(p, "90", None, drawn(p)), ("90", str(int(p[at(p, "90", None, drawn(p))][1]) + 1))
        ),
        "a corner without y": drop(first("LWPOLYLINE", "20")),
        "a width": put("43", "3.0", where=first("LWPOLYLINE", "20")),
        "inches": put("70", "1", where=variable("$INSUNITS")),
        "no unit": drop(lambda p: at(p, "9", "$INSUNITS"), 2),
        "not metric": put("70", "0", where=variable("$MEASUREMENT")),
        "no root dictionary": drop(lambda p: at(p, "0", "DICTIONARY"), 7),
        "no objects": lambda p: p.__delitem__(slice(at(p, "2", "OBJECTS") - 1, len(p) - 1)),
        "no blocks": lambda p: p.__delitem__(slice(at(p, "2", "BLOCKS") - 1, at(p, "2", "ENTITIES") - 1)),
    }  # fmt: skip


def test_faults_by_name(job):
    """Each of them is refused, whatever ezdxf says to it, and some it refuses or mends as well."""
    replay, texts = job
    theirs, seen = 0, set()
    judged = {max(n for n in texts if n.endswith(end)) for end in ("-size.dxf", "-size-mm-r12.dxf", "-cut-mm-r12.dxf")}
    for name, text in texts.items():
        for what, edit in named_faults(text).items():
            bad = edited(text, edit)
            assert bad != text, f"{name}: {what}"
            assert replay.faults(name, bad), f"{name}: {what}: not refused"
            seen.add(what)
            if name in judged:
                theirs += read(bad)[0] is not None
    assert len(seen) > 45 and theirs >= 8, (len(seen), theirs)


def test_what_may_differ_is_not_refused(job):
    """How handles are numbered, the corner that a closed contour starts at, blanks before codes and whole
    numbers, and last decimals: ezdxf reads all of it alike."""
    replay, texts = job
    for name, text in texts.items():
        pairs = pairs_of(text)
        handles = {"5", "105", "330", "350"}
        anew = [
            (code, f"A{value:0>4}" if code in handles and value != "0" else value) for code, value in pairs
        ]
        blanks = "".join(
            f"{code:>6}\r\n{value:>9}\r\n" if code in ("70", "62", "90") else f" {code}\r\n{value}\r\n"
            for code, value in pairs
        )
        whole = read(text)[1]
        for other in (text_of(anew), blanks):
            assert replay.faults(name, other) == [], name
            complaint, found = read(other)
            assert complaint is None and alike(found, whole), f"{name}: {complaint}"
