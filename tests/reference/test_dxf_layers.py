"""What a DXF file lists and how far it reaches: tables, header, layers, colours, labels, notes and border, against
ezdxf and GDAL's reader.
"""

import itertools
import math
import re
import tomllib

import ezdxf
import ezdxf.lldxf.tagger
import pyogrio
import pytest
import shapely
from shapely.geometry import Point, Polygon, box
from shapely.ops import unary_union

from drawings import ROUNDING, flattened, only, reach_of
from workshop import ROOT, members_of, sources, summary

def test_the_auditor_finds_nothing(drawings):
    for sheet in drawings:
        auditor = sheet.doc.audit()
        assert not auditor.errors, [e.message for e in auditor.errors]
        assert not auditor.fixes, [e.message for e in auditor.fixes]


def test_release_and_unit(drawings):
    """DXF reference, HEADER: $INSUNITS 4 is millimetres, $MEASUREMENT 1 metric. R12 knows neither, so
    that name and notes say the unit."""
    for sheet in drawings:
        text = sheet.file.read_text()
        if sheet.old:
            assert sheet.doc.dxfversion == "AC1009"
            assert "$INSUNITS" not in text and "$MEASUREMENT" not in text
            assert "holds no unit: take every figure as mm" in sheet.told["release"]
        else:
            assert sheet.doc.dxfversion == "AC1015"
            assert sheet.doc.header["$INSUNITS"] == 4
            assert sheet.doc.header["$MEASUREMENT"] == 1
        assert "unit mm" in sheet.size


def test_extents_are_those_of_the_stock_or_of_the_piece(drawings):
    """$EXTMIN, $EXTMAX and both limits: a sheet's stock; of one piece what is cut of it, which at drawn size is the
    piece. All that is drawn lies within, texts with letters as wide as they are high."""
    cut_of = {d.file.name: d for d in drawings}
    for sheet in drawings:
        low, high = (sheet.doc.header[name][:2] for name in ("$EXTMIN", "$EXTMAX"))
        assert (low, high) == tuple(sheet.doc.header[name][:2] for name in ("$LIMMIN", "$LIMMAX"))
        # The cubic curves that ezdxf takes for an arc of a quarter turn lie up to 3e-4 of its radius outside.
        slack = ROUNDING + 3e-4 * (sheet.setup["kerf"] or sheet.setup["tool_diameter"]) / 2
        if sheet.alone is None:
            size = sheet.setup["stock"]["max"]
            assert (*low, *high) == pytest.approx((0, 0, size[0], size[1]), abs=ROUNDING)
        else:
            own = cut_of[sheet.file.name.replace("-never-cut", "")]
            reaches = [reach_of(c.path) for c in own.cut()]
            want = [f(r[i] for r in reaches) for i, f in enumerate((min, min, max, max))]
            assert (*low, *high) == pytest.approx(want, abs=slack), sheet.file.name
            if sheet.drawn:
                length, depth, _ = sheet.measures
                assert (*low, *high) == pytest.approx((0, 0, length, depth), abs=2 * ROUNDING)
        drawn = [reach_of(c.path) for c in sheet.contours]
        for text in sheet.texts:
            (x, y), height = text.dxf.insert.vec2, text.dxf.height
            drawn.append((x, y, x + height * len(text.dxf.text), y + height))
        for x0, y0, x1, y1 in drawn:
            assert low[0] - slack <= x0 and low[1] - slack <= y0, sheet.file.name
            assert x1 <= high[0] + slack and y1 <= high[1] + slack, sheet.file.name


def test_entities_lie_on_layers_of_the_table(drawings):
    for sheet in drawings:
        layers = {layer.dxf.name: layer for layer in sheet.doc.layers}
        used = set()
        for entity in sheet.space:
            assert entity.dxftype() in ("POLYLINE" if sheet.old else "LWPOLYLINE", "TEXT")
            layer = layers[entity.dxf.layer]
            used.add(entity.dxf.layer)
            assert layer.is_on() and not layer.is_frozen() and not layer.is_locked()
            assert entity.dxf.color == ezdxf.const.BYLAYER
        # ezdxf adds a layer of its own; "0" is in every file.
        assert set(layers) - {"0", "Defpoints"} == used, "a layer with nothing on it is not listed"


def test_what_is_never_cut_is_marked_or_in_a_file_of_its_own(drawings):
    """DXF reference, LAYER, group 290: 0 is not plotted; it came with R2000. In R12 the file that is cut holds
    nothing else, and the one beside it nothing that is."""
    for sheet in drawings:
        for layer in sheet.doc.layers:
            if layer.dxf.name in ("0", "Defpoints"):
                continue
            never = layer.dxf.name in sheet.never_cut
            if sheet.old:
                assert never == sheet.beside, f"{sheet.file.name}: {layer.dxf.name}"
            else:
                assert not sheet.beside and layer.dxf.plot == (not never), layer.dxf.name
        if sheet.said and not sheet.old:
            rule = re.search(r"Cut layers? (.+?)(?:, in the order of the file)?\. Never cut layers (.+?)\.", sheet.said)
            if rule:
                names = [set(re.split(", | and ", group)) for group in rule.groups()]
                assert names[0] == {c.dxf.layer for c in sheet.cut()} - open_layers(sheet)
                assert names[1] == sheet.never_cut


def open_layers(sheet):
    """Grooves and folds are told of in notes of their own."""
    return {name for kind, name in sheet.style.items() if kind in ("groove", "fold")}


# What every file of R2000 has, by the DXF reference (TABLES): nothing else, and nothing of any one program.
ROWS = {
    "APPID": ["ACAD"], "STYLE": ["STANDARD"], "DIMSTYLE": ["STANDARD"], "VPORT": ["*ACTIVE"], "VIEW": [], "UCS": [],
    "LTYPE": ["BYBLOCK", "BYLAYER", "CONTINUOUS"], "BLOCK_RECORD": ["*MODEL_SPACE", "*PAPER_SPACE"],
}  # fmt: skip
OLD_ROWS = {"STYLE": ["STANDARD"], "VPORT": ["*ACTIVE"], "LTYPE": ["CONTINUOUS"]}
HEADER = {"$ACADVER", "$INSBASE", "$EXTMIN", "$EXTMAX", "$LIMMIN", "$LIMMAX"}
NEW_HEADER = {"$DWGCODEPAGE", "$HANDSEED", "$INSUNITS", "$MEASUREMENT"}


def test_tables_and_header_have_what_the_reference_asks_for_alone(drawings):
    """Read as plain pairs by ezdxf's own loader, for its document adds what is missing."""
    for sheet in drawings:
        rows, variables, table = {}, set(), None
        for tag in ezdxf.lldxf.tagger.ascii_tags_loader(open(sheet.file, encoding="ascii")):
            if tag.code == 9:
                variables.add(tag.value)
            elif tag.code == 0:
                record = tag.value
                table = None if record in ("ENDTAB", "SECTION") else table
            elif tag.code == 2 and record == "TABLE":
                table = tag.value
                rows[table] = []
            elif tag.code == 2 and record == table:
                rows[table].append(tag.value)
        layers = rows.pop("LAYER")
        assert layers[0] == "0" and set(layers[1:]) == {e.dxf.layer for e in sheet.space}
        assert rows == (OLD_ROWS if sheet.old else ROWS), sheet.file.name
        assert variables == (HEADER if sheet.old else HEADER | NEW_HEADER), sheet.file.name


def luminance(color):
    """Relative luminance of an RGB colour (WCAG 2.2, "relative luminance")."""
    parts = [v / 255 for v in color]
    parts = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


def lab(color):
    """CIE 1976 L*a*b* of an sRGB colour (IEC 61966-2-1, ISO/CIE 11664-4; white D65)."""
    parts = [v / 255 for v in color]
    r, g, b = (v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts)
    xyz = (
        (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.95047,
        0.2126 * r + 0.7152 * g + 0.0722 * b,
        (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.08883,
    )
    x, y, z = (v ** (1 / 3) if v > (6 / 29) ** 3 else v / (3 * (6 / 29) ** 2) + 4 / 29 for v in xyz)
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def test_colours_can_be_told_apart_and_seen_on_white_and_black():
    """Colour numbers as ezdxf shows them: a contrast of 3 : 1 at least with either ground (WCAG 2.2, 1.4.11, for
    graphics), and a difference of 20 at least between any two in CIE 1976 L*a*b* (2.3 can just be noticed)."""
    for path in sorted((ROOT / "post-processors").glob("*.toml")):
        layers = tomllib.loads(path.read_text())["dxf"]
        colors = {kind: ezdxf.colors.aci2rgb(layer["color"]) for kind, layer in layers.items()}
        assert len(colors) >= 6
        for kind, color in colors.items():
            light = luminance(color)
            assert 1.05 / (light + 0.05) >= 3 and (light + 0.05) / 0.05 >= 3, f"{path.name}: {kind}"
        for (one, a), (other, b) in itertools.combinations(colors.items(), 2):
            assert math.dist(lab(a), lab(b)) > 20, f"{path.name}: {one} and {other}"


def test_text_lies_on_layers_that_are_not_cut(drawings):
    for sheet in drawings:
        for text in sheet.texts:
            assert text.dxf.layer in sheet.never_cut, text.dxf.text
            assert text.dxf.text.isascii()


def test_notes_stand_beside_what_is_cut_and_can_be_read(drawings):
    """2.5 mm is a nominal size of lettering (ISO 3098, from memory)."""
    cut_of = {d.file.name: d for d in drawings}
    some = 0
    for sheet in drawings:
        assert not sheet.notes or sheet.alone is None, "no notes on one piece"
        own = cut_of[sheet.file.name.replace("-never-cut", "")]
        wood = unary_union([Polygon(flattened(c)) for c in own.outlines()])
        for text in sheet.notes:
            (x, y), height = text.dxf.insert.vec2, text.dxf.height
            assert height >= 2.5
            assert not wood.intersects(box(x, y, x + height * len(text.dxf.text), y + height)), text.dxf.text
            some += 1
        if sheet.notes:
            assert sheet.size in sheet.said
    assert some, "some sheet has room for notes"


def test_the_border_is_the_strip(drawings):
    for sheet in drawings:
        border = [c for c in sheet.contours if c.dxf.layer in sheet.never_cut]
        if sheet.alone is not None or (sheet.old and not sheet.beside):
            assert not border, "no stock round one piece, and none in what R12 cuts"
            continue
        border = only(border)
        strip = box(0, 0, sheet.strip["length"], sheet.strip["width"])
        assert border.closed
        assert Polygon(flattened(border)).symmetric_difference(strip).area < 1e-3
        for piece, shape in sheet.pieces():
            assert strip.covers(shape.buffer(-ROUNDING)), piece


def test_every_piece_is_labelled_within_its_wood(drawings):
    for sheet in drawings:
        if sheet.old and not sheet.beside:
            continue
        texts = {}
        for text in sheet.texts:
            texts.setdefault(text.dxf.text, []).append(Point(text.dxf.insert.x, text.dxf.insert.y))
        for place, (piece, shape) in enumerate(sheet.pieces()):
            of = sheet.members[piece]["class"]
            # Where sheets that are cut alike have copies of different members, only the letter holds for all.
            same = sheet.alone or len(set(members_of(sheet.job, sheet.setup, place))) == 1
            label = sheet.alone or (f"{of} {piece}" if same and of != piece else of)
            here = [p for p in texts.get(label, []) if shape.contains(p)]
            assert len(here) == 1, f"{label}: {len(here)} labels in its piece"


def gdal(file):
    """[(layer, text or None, shape)] of a file as GDAL reads it."""
    meta, _, shapes, fields = pyogrio.raw.read(file)
    told = dict(zip(meta["fields"], fields))
    texts = [text if isinstance(text, str) else None for text in told["Text"]]
    assert not any(told["PaperSpace"] == 1)
    return list(zip(told["Layer"], texts, shapely.from_wkb(shapes)))


def test_another_reader_finds_the_same_in_r12(drawings):
    """GDAL's own reader of DXF: layers, texts, corners and lengths of both files of R12."""
    old = [d for d in drawings if d.old]
    assert {d.beside for d in old} == {True, False}
    for sheet in old:
        found = gdal(sheet.file)
        texts = [(layer, text, shape) for layer, text, shape in found if text is not None]
        drawn = [(layer, shape) for layer, text, shape in found if text is None]
        assert [(layer, text) for layer, text, _ in texts] == [(t.dxf.layer, t.dxf.text) for t in sheet.texts]
        for (_, _, shape), text in zip(texts, sheet.texts):
            assert (shape.x, shape.y) == pytest.approx(tuple(text.dxf.insert.vec2), abs=ROUNDING)
        assert [layer for layer, _ in drawn] == [c.dxf.layer for c in sheet.contours]
        for (_, shape), contour in zip(drawn, sheet.contours):
            # GDAL takes chords of 4 degrees for an arc.
            assert shape.length == pytest.approx(contour.length(), rel=1e-3)
            assert shape.is_closed == contour.closed
            corners = shapely.MultiPoint(shape.coords)
            assert all(corners.distance(Point(x, y)) <= ROUNDING for x, y, _ in contour.points)
        never = {layer in sheet.never_cut for layer, _, _ in found}
        assert never == {sheet.beside}, sheet.file.name


def test_the_notes_tell_the_figures_of_the_files(drawings, all_drawings):
    text = (all_drawings / "dxf" / "notes.txt").read_text(encoding="utf-8")
    used = {}
    for sheet in drawings:
        cut = sheet.told["cut"]
        if sheet.beside:
            assert cut == f"nothing: this belongs to {sheet.file.name.replace('-never-cut', '')}"
        else:
            count, length = re.match(r"(\d+) contours?, ([\d.]+) mm in all", cut).groups()
            assert int(count) == len(sheet.cut())
            want = sum(c.length() for c in sheet.cut())
            assert float(length) == pytest.approx(want, abs=1e-3), sheet.file.name
        assert ("R12" in sheet.told["release"]) == sheet.old
        used |= {e.dxf.layer: sheet.doc.layers.get(e.dxf.layer).color for e in sheet.space}
        never = sheet.never_cut
    told = re.findall(r"^  (\S+), colour (\d+): (cut|never cut|grooves)", text, re.M)
    assert {(name, int(color)) for name, color, _ in told} == set(used.items()), "no layer with nothing on it"
    assert {name for name, _, what in told if what == "never cut"} == never
    assert "In R2000 a layer that is never cut is marked as not plotted." in text
    assert "what is never cut is in a file of its own, -never-cut" in text
    assert "unit        mm, in every file" in text
    assert "defer to the machine's manual and the workshop's rules" in text
    # The folder is sent away as it is: nothing in its notes points out of it, and every file says of what wood it is.
    assert not re.search(r"\w+\.csv|`", text)
    assert text.count("\n    material  ") == len(drawings)
    # What drawn size leaves to a cutter: the narrowest notch and the least way between outlines, of the drawings themselves.
    narrowest = re.search(r"The narrowest notch is ([\d.]+) mm wide", text)
    job = summary(all_drawings)
    widths = [joint["run"] for m in job["members"] for joint in m["joints"]]
    assert widths and float(narrowest[1]) <= min(widths) + 1e-3
    for sheet in drawings:
        if sheet.told["size"].startswith("drawn") and not sheet.beside and "sheet" in sheet.told["what"]:
            material = re.escape(sheet.told["material"])
            apart = float(re.search(rf"Outlines on sheets of {material} lie ([\d.]+) mm apart", text)[1])
            shapes = [Polygon([(p.x, p.y) for p in c.path.flattening(1e-3)]) for c in sheet.cut() if c.closed]
            near = shapely.STRtree(shapes)
            for i, shape in enumerate(shapes):
                beside = [k for k in near.query(shape.buffer(apart)) if k != i]
                assert all(shape.distance(shapes[k]) >= apart - 1e-3 for k in beside), sheet.file.name
    # Of a beam alone; and where a router's drawings could go to one, what is not cleared is told.
    beam = "laser" in sources(all_drawings)["machine"]
    assert ("No unknown plastics" in text) == beam
