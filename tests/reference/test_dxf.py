"""DXF files against ezdxf (strict reading, its auditor) and shapely (areas, outlines).

What a file must hold is worked out here from job.json and the panel file alone.
"""

import itertools
import math
import re
import shutil
import tomllib
from pathlib import Path

import ezdxf
import ezdxf.lldxf.tagger
import pyogrio
import pytest
import shapely
from ezdxf import path as ezpath
from shapely.affinity import translate
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.polygon import orient
from shapely.ops import unary_union

import odd
from views import cut_pieces, pieces_of
from workshop import (
    FLAT_PANELS, ROOT, call, changed, flat_runs, make, members_of, millimetres, said, sources, summary, toml,
)  # fmt: skip

# Corners are written at 1e-6 mm, so an area may be off by that times the outline.
ROUNDING = 1e-6


class Contour:
    """An LWPOLYLINE of R2000, or a POLYLINE of R12 with its vertices."""

    def __init__(self, entity):
        self.dxf = entity.dxf
        self.path = ezpath.make_path(entity)
        if entity.dxftype() == "POLYLINE":
            assert entity.is_2d_polyline and entity.dxf.elevation == (0, 0, 0)
            assert all(v.dxf.layer == entity.dxf.layer for v in entity.vertices)
            assert all(v.dxf.location.z == 0 for v in entity.vertices)
            self.closed = entity.is_closed
            self.points = [(*v.dxf.location.vec2, v.dxf.bulge) for v in entity.vertices]
        else:
            self.closed = entity.closed
            self.points = list(entity.get_points("xyb"))

    def length(self):
        """Lines, and arcs of the sweep 4 atan b on a chord 2 r sin(sweep / 2)."""
        total = 0.0
        ends = self.points[1:] + self.points[: 1 if self.closed else 0]
        for (x0, y0, bulge), (x1, y1, _) in zip(self.points, ends):
            chord, sweep = math.hypot(x1 - x0, y1 - y0), 4 * math.atan(abs(bulge))
            total += chord * sweep / (2 * math.sin(sweep / 2)) if bulge else chord
        return total


def told_of(folder):
    """What dxf/notes.txt says below the name of each file: {name: {word: value}}."""
    text = (folder / "dxf" / "notes.txt").read_text(encoding="utf-8")
    blocks = re.findall(r"^  dxf/(\S+)\n((?:    .+\n)+)", text, re.M)
    return {name: dict(re.findall(r"^    (\S+(?: \S+)?) {2,}(.+)$", block, re.M)) for name, block in blocks}


class Drawing:
    """One DXF file of a job, of a sheet or of one piece, and what job.json, the dialect's file and notes.txt say
    about it."""

    def __init__(self, folder, file):
        self.job = summary(folder)
        files = sources(folder)
        self.depth = millimetres(files["panel"]["ground"]["depth"])
        self.style = {kind: layer["name"] for kind, layer in files["post_processor"]["dxf"].items()}
        self.file = file
        self.doc = ezdxf.readfile(file)
        self.space = self.doc.modelspace()
        self.texts = list(self.space.query("TEXT"))
        self.old = file.name.endswith("-mm-r12.dxf")
        self.beside = "-never-cut" in file.name
        self.contours = [Contour(e) for e in self.space.query("LWPOLYLINE POLYLINE")]
        self.notes = [t for t in self.texts if t.dxf.layer == self.style["note"]]
        self.said = " ".join(t.dxf.text for t in self.notes)
        self.members = cut_pieces(self.job)
        self.told = told_of(folder)[file.name]
        self.alone = None
        piece = re.search(r"piece-(\w+)-(?:drawn|kerf|tool)-", file.name)
        if piece:
            self.alone = piece.group(1)
            what = re.fullmatch(r"piece (\w+), (.+) mm", self.told["what"])
            assert what.group(1) == self.alone
            self.measures = [float(n) for n in what.group(2).split(" x ")]
            self.count = None if self.beside else int(self.told["to cut"].removesuffix(" in all"))
            runs = flat_runs(self.job)
            self.setup, self.strip = next(r for r in runs if any(self.own(p) for p in r[1]["pieces"]))
        else:
            flat = [s for s in self.job["setups"] if s["kind"].startswith("flat")]
            self.setup = only(s for s in flat if file.name.startswith(f"{Path(s['file']).stem}-"))
            self.strip = next(strip for setup, strip in flat_runs(self.job) if setup is self.setup)
            if self.said:
                pattern = r"Sheets? (\d+)( to (\d+), cut (\d+) times, a new sheet each)?: "
                told = re.match(pattern, self.said)
                first = int(told.group(1))
                assert Path(self.setup["file"]).stem.endswith(f"-{first:02}")
                last, loads = (int(n) for n in told.group(3, 4)) if told.group(2) else (first, 1)
                assert (last - first + 1, loads) == (self.setup["loads"],) * 2
        self.size = f"Size: {self.told['size']}"
        self.drawn = self.size.startswith("Size: drawn")
        assert self.drawn == ("-drawn-size" in file.name)
        self.never_cut = {self.style[kind] for kind in ("label", "note", "stock")}
        low, high = self.setup["stock"]["min"], self.setup["stock"]["max"]
        self.face = high[2] - low[2]

    def own(self, placed):
        return self.members[placed["id"]]["class"] == self.alone

    def cut(self):
        return [c for c in self.contours if c.dxf.layer not in self.never_cut]

    def outlines(self):
        return [c for c in self.cut() if c.closed]

    def pieces(self):
        """(id, finished outline as it stands in the file) of every piece that is shown."""
        pieces = pieces_of(self.job, self.strip, self.depth, self.face)
        for piece, placed in zip(pieces, self.strip["pieces"]):
            assert piece.id == placed["id"]
            if self.alone is None:
                yield piece.id, piece.shape
            elif self.own(placed):
                yield piece.id, translate(piece.shape, -placed["x"], -placed["y"])
                return


def only(found):
    found = [f for f in found if f]
    assert len(found) == 1, found
    return found[0]


def arc_area(contour):
    """Signed area of a closed LWPOLYLINE: shoelace, and r^2/2 (sweep - sin sweep) an arc."""
    points = contour.points
    total = 0.0
    for (x0, y0, bulge), (x1, y1, _) in zip(points, points[1:] + points[:1]):
        total += (x0 * y1 - x1 * y0) / 2
        if bulge:
            sweep = 4 * math.atan(bulge)
            radius = math.hypot(x1 - x0, y1 - y0) / (2 * math.sin(sweep / 2))
            total += radius**2 / 2 * (sweep - math.sin(sweep))
    return total


def flattened(contour, distance=1e-5):
    # The last point of an arc misses the corner by the last bits of a float; near the origin those are
    # many, and a ring would cross itself there.
    return [(round(p.x, 9), round(p.y, 9)) for p in contour.path.flattening(distance)]


@pytest.fixture(scope="session")
def all_drawings(flat_job, tmp_path_factory):
    """Folder of the job with every DXF file that there is: both releases, sheets and pieces."""
    folder = tmp_path_factory.mktemp("drawings")
    data = sources(flat_job)
    panel = changed(data.pop("panel"), {"cut.dxf_version": "both", "cut.dxf_files": "both"})
    panel["cut"]["dxf"] = "both"
    for kind, values in data.items():
        (folder / f"{kind}.toml").write_text(toml(values))
        panel[kind] = f"{kind}.toml"
    (folder / "panel.toml").write_text(toml(panel))
    return make(folder / "panel.toml", folder / "out")


@pytest.fixture(scope="session")
def drawings(all_drawings):
    """All drawings, of sheets and of pieces, with those beside them of which nothing is cut."""
    found = [Drawing(all_drawings, file) for file in sorted((all_drawings / "dxf").glob("*.dxf"))]
    assert found, "a flat job has DXF files"
    return found


@pytest.fixture(scope="session")
def sheets(drawings):
    """All drawings that are cut."""
    return [d for d in drawings if not d.beside]


def test_the_files_are_those_that_were_asked_for(all_drawings):
    """Both sizes and both releases of every sheet and of every class, listed in job.json, and proven."""
    job = summary(all_drawings)
    flat = [s for s in job["setups"] if s["kind"].startswith("flat")]
    path = "kerf-compensated" if flat[0]["kerf"] else "tool-compensated"
    stems = [Path(setup["file"]).stem for setup in flat]
    assert len(stems) == len(set(stems)) <= len(job["nest"]["strips"])
    assert sum(setup["loads"] for setup in flat) == len(job["nest"]["strips"])
    stems += [f"piece-{c['id']}" for c in [*job["classes"], *job["infill"]]]
    wanted = {
        f"dxf/{stem}-{size}{release}.dxf"
        for stem in stems
        for size in ("drawn-size", path)
        for release in ("", "-mm-r12", "-never-cut-mm-r12")
    }
    listed = {f["path"] for f in job["files"]}
    assert {p for p in listed if p.endswith(".dxf")} == wanted
    assert "dxf/notes.txt" in listed
    replayed = {c["where"]: c for c in job["checks"] if c["id"] == "replay"}
    assert all(replayed[p]["status"] == "pass" for p in wanted)
    done = call("prove", all_drawings)
    assert done.returncode == 0, said(done)


def test_a_spoilt_piece_is_no_longer_proven(all_drawings, tmp_path):
    folder = shutil.copytree(all_drawings, tmp_path / "out")
    for ending in ("drawn-size.dxf", "compensated-mm-r12.dxf", "-never-cut-mm-r12.dxf"):
        file = next(iter(sorted((folder / "dxf").glob(f"*piece-*{ending}"))))
        text = file.read_bytes()
        digit = text.rindex(b"\r\n 20\r\n") + 7
        other = b"1" if text[digit : digit + 1] != b"1" else b"2"
        file.write_bytes(text[:digit] + other + text[digit + 1 :])
        done = call("prove", folder)
        assert done.returncode == 1 and file.name in done.stderr, said(done)
        file.write_bytes(text)
    assert call("prove", folder).returncode == 0


def test_both_sizes_are_made_by_some_panel(made, panel_file):
    """Else the loops below would check nothing."""
    panels = [panel_file(name) for name in (*FLAT_PANELS, *odd.FLAT)]
    files = [file for panel in panels for file in sorted((made(panel) / "dxf").glob("*.dxf"))]
    sizes = {Drawing(file.parents[1], file).drawn for file in files}
    assert sizes == {True, False}, sizes


def test_every_flat_sheet_has_a_file(sheets):
    """One file a strip at least, none where nothing is cut flat."""
    for sheet in sheets:
        flat = [s for s in sheet.job["setups"] if s["kind"].startswith("flat")]
        assert flat, sheet.file
        drawn = {s.setup["file"] for s in sheets if s.alone is None}
        assert drawn == {setup["file"] for setup in flat}


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


def reach_of(path):
    """Corners of a contour's bounding box; arcs by ezdxf's own."""
    box_of = ezpath.bbox([path])
    return (*box_of.extmin.vec2, *box_of.extmax.vec2)


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


def test_drawn_contours_are_the_finished_pieces(sheets):
    for sheet in (s for s in sheets if s.drawn):
        outlines = [(c, Polygon(flattened(c))) for c in sheet.outlines()]
        pieces = list(sheet.pieces())
        assert len(outlines) == len(pieces) == len(sheet.cut())
        for (contour, outline), (piece, shape) in zip(outlines, pieces):
            assert outline.is_valid and outline.exterior.is_ccw, piece
            tolerance = ROUNDING * (shape.length + 1)
            assert abs(arc_area(contour) - shape.area) <= tolerance, piece
            assert outline.symmetric_difference(shape).area <= 2 * tolerance, piece


def test_compensated_outlines_run_half_a_cut_outside(sheets):
    for sheet in (s for s in sheets if not s.drawn):
        width = sheet.setup["kerf"] or sheet.setup["tool_diameter"]
        said = [float(n) for n in re.findall(r"(?<= )\d+(?:\.\d+)?(?= mm)", sheet.size)]
        assert said == [pytest.approx(width, abs=ROUNDING)]
        outlines = [Polygon(flattened(c)) for c in sheet.outlines()]
        for contour, outline in zip(sheet.outlines(), outlines):
            assert outline.is_valid and outline.exterior.is_ccw
            # Chords lie within 1e-5 of the arcs.
            assert abs(arc_area(contour) - outline.area) <= 1e-4 * outline.length
        for piece, shape in sheet.pieces():
            around = [o for o in outlines if o.covers(shape.buffer(-ROUNDING))]
            assert len(around) == 1, f"{piece}: {len(around)} contours go round it"
            free = around[0].exterior.distance(shape.convex_hull.exterior)
            assert free <= width / 2 + 0.005, piece
            for inner, outer, sign in zip(shape.bounds, around[0].bounds, (-1, -1, 1, 1)):
                assert sign * (outer - inner) >= width / 2 - 0.005, piece


def test_open_contours_are_cut_outside_of_the_outline_layer(sheets):
    """A notch that the router cuts ends outside of its piece at both ends."""
    for sheet in sheets:
        closed = {c.dxf.layer for c in sheet.outlines()}
        wood = unary_union([shape for _, shape in sheet.pieces()])
        for contour in (c for c in sheet.cut() if not c.closed):
            assert not sheet.drawn and contour.dxf.layer not in closed
            line = LineString(flattened(contour))
            ends = [Point(line.coords[0]), Point(line.coords[-1])]
            assert all(not wood.contains(end) for end in ends)


def test_a_piece_alone_stands_at_the_origin_and_tells_its_count(sheets):
    for sheet in (s for s in sheets if s.alone is not None):
        blanks = [{**row, "length": row["blank"]} for row in sheet.job["infill"]]
        flat = [*sheet.job["classes"], *blanks]
        one = next(c for c in flat if c["id"] == sheet.alone)
        # Counts are for the whole quantity.
        assert sheet.count == one["count"]
        size = (one["length"], sheet.depth, sheet.face)
        if one.get("cut") == "outlines":
            # Seen from the front, from stock as thick as it is deep.
            assert one["depth"] == sheet.face
            size = (one["cut_length"], one["face"], one["depth"])
        assert sheet.measures == [pytest.approx(v, abs=2 * ROUNDING) for v in size]
        ((_, shape),) = sheet.pieces()
        assert shape.bounds == pytest.approx((0, 0, *size[:2]), abs=2 * ROUNDING)
        assert len(sheet.outlines()) == 1
        if sheet.drawn:
            xs, ys, bulges = zip(*sheet.outlines()[0].points)
            assert (min(xs), min(ys)) == pytest.approx((0, 0), abs=ROUNDING)
            assert (max(xs), max(ys)) == pytest.approx(shape.bounds[2:], abs=ROUNDING)
            assert not any(bulges)


def test_both_releases_hold_the_same_contours(sheets):
    """Corner by corner, bulge by bulge, on the same layers in the same order."""
    by_name = {s.file.name: s for s in sheets}
    pairs = [(by_name[n.replace("-mm-r12", "")], s) for n, s in by_name.items() if s.old]
    assert len(pairs) == len(sheets) / 2 > 0
    for new, old in pairs:
        assert old.cut() == old.contours
        assert [c.dxf.layer for c in new.cut()] == [c.dxf.layer for c in old.contours]
        for one, other in zip(new.cut(), old.contours):
            assert one.closed == other.closed
            assert one.points == other.points


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


def test_a_piece_alone_is_cut_as_on_its_sheet(sheets):
    """The contours of the piece's place in the sheet's file, moved by what job.json says."""
    whole = {(s.setup["file"], s.drawn, s.old): s for s in sheets if s.alone is None}
    for piece in (s for s in sheets if s.alone is not None):
        sheet = whole[piece.setup["file"], piece.drawn, piece.old]
        placed = next(p for p in piece.strip["pieces"] if piece.own(p))
        moved = [
            [(x + placed["x"], y + placed["y"], bulge) for x, y, bulge in c.points]
            for c in piece.cut()
        ]
        found = []
        for points in moved:
            alike = [c for c in sheet.cut() if near(c.points, points)]
            assert len(alike) == 1, f"{piece.file.name}: {len(alike)} such contours"
            found.append(sheet.cut().index(alike[0]))
        assert found == sorted(found), "in the order of the file"
        if not piece.drawn:
            # All that lies round the piece's place is there.
            lies = [c for c in sheet.cut() if placed_in(c, placed, piece)]
            assert len(lies) == len(moved)


def near(one, other):
    # Two roundings to 1e-6, and one of job.json.
    return len(one) == len(other) and all(
        abs(a - b) <= 2.6e-6 for p, q in zip(one, other) for a, b in zip(p, q)
    )


def placed_in(contour, placed, piece):
    """Whether a contour belongs to a place: a notch has a corner in its wood, an outline its middle."""
    length, depth, _ = piece.measures
    xs, ys, _ = zip(*contour.points)
    corners = list(zip(xs, ys))
    if contour.closed:
        corners = [((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)]
    return any(
        0 < x - placed["x"] < length and 0 < y - placed["y"] < depth for x, y in corners
    )


def test_areas_are_those_of_the_parallel_bodies(sheets):
    """Drawn: the piece itself. A beam's path, where corners are not relieved: Steiner's formula,
    A + r P + r^2 (pi / 4 a convex right corner, less 1 a re-entrant one)."""
    for sheet in sheets:
        relieved = sources(sheet.file.parents[1])["panel"]["cut"].get("relief") == "corner"
        r = 0.0 if sheet.drawn else (sheet.setup["kerf"] or 0) / 2
        if not sheet.drawn and (relieved or not r):
            continue
        shapes = list(sheet.pieces())
        assert len(shapes) == len(sheet.outlines())
        for contour, (piece, shape) in zip(by_place(sheet.outlines()), by_place(shapes)):
            if sheet.members[piece].get("shape"):
                # Convex, its corners of any angle: their turns make up a whole one.
                assert shape.convex_hull.area - shape.area < ROUNDING
                want = shape.area + r * shape.length + r * r * math.pi
                assert abs(arc_area(contour) - want) <= 2 * ROUNDING * shape.length, piece
                continue
            corners = corners_of(shape)
            convex = sum(turn > 0 for turn in corners)
            reentrant = len(corners) - convex
            assert convex - reentrant == 4, piece
            want = shape.area + r * shape.length + r * r * (convex * math.pi / 4 - reentrant)
            # Corners at 1e-6 move the outline by no more, all along.
            assert abs(arc_area(contour) - want) <= ROUNDING * shape.length, piece


def by_place(found):
    """In the order of their lower left corners, rows first."""

    def place(one):
        if isinstance(one, Contour):
            xs, ys, _ = zip(*one.points)
            return round(min(ys)), round(min(xs))
        return round(one[1].bounds[1]), round(one[1].bounds[0])

    return sorted(found, key=place)


def corners_of(shape):
    """Sines of the turns of an outline of right angles, counter-clockwise."""
    points = list(orient(shape).exterior.coords)[:-1]
    turns = []
    for (x0, y0), (x1, y1), (x2, y2) in zip(points, points[1:] + points[:1], points[2:] + points[:2]):
        a, b = (x1 - x0, y1 - y0), (x2 - x1, y2 - y1)
        sine = (a[0] * b[1] - a[1] * b[0]) / (math.hypot(*a) * math.hypot(*b))
        if abs(sine) > 1e-6:
            assert abs(abs(sine) - 1) < 1e-9, "a corner that is not right"
            turns.append(sine)
    return turns


def test_the_notes_tell_the_figures_of_the_files(drawings, all_drawings):
    text = (all_drawings / "dxf" / "notes.txt").read_text(encoding="utf-8")
    used = {}
    for sheet in drawings:
        cut = sheet.told["cut"]
        if sheet.beside:
            assert cut == f"nothing: this belongs to {sheet.file.name.replace('-never-cut', '')}"
        else:
            count, length = re.match(r"(\d+) contours, ([\d.]+) mm in all", cut).groups()
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
    assert "No unknown plastics" in text
