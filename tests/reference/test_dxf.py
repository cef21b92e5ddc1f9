"""DXF files against ezdxf (strict reading, its auditor) and shapely (areas, outlines).

What a file must hold is worked out here from job.json and the panel file alone.
"""

import math
import re

import ezdxf
import pytest
from ezdxf import path as ezpath
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import unary_union

import odd
from views import pieces_of
from workshop import FLAT_PANELS, millimetres, sources, summary

# Corners are written at 1e-6 mm, so an area may be off by that times the outline.
ROUNDING = 1e-6


class Sheet:
    """One DXF file of a job and what job.json says about it."""

    def __init__(self, folder, file):
        self.job = summary(folder)
        self.depth = millimetres(sources(folder)["panel"]["ground"]["depth"])
        self.file = file
        self.doc = ezdxf.readfile(file)
        self.space = self.doc.modelspace()
        self.texts = list(self.space.query("TEXT"))
        self.contours = list(self.space.query("LWPOLYLINE"))
        notes = [t.dxf.text for t in self.texts]
        self.number = int(only(re.match(r"Sheet (\d+):", n) for n in notes).group(1))
        self.size = only(n for n in notes if n.startswith("Size: "))
        self.drawn = self.size.startswith("Size: drawn")
        self.rule = only(n for n in notes if "Never cut layers" in n)
        never = re.search(r"Never cut layers (.+), (.+) and (.+)\.", self.rule)
        self.never_cut = set(never.groups())
        self.strip = self.job["nest"]["strips"][self.number - 1]
        flat = [s for s in self.job["setups"] if s["kind"].startswith("flat")]
        self.setup = flat[self.number - 1] if len(flat) >= self.number else flat[0]
        low, high = self.setup["stock"]["min"], self.setup["stock"]["max"]
        self.face = high[2] - low[2]
        self.members = {m["id"]: m for m in self.job["members"]}

    def cut(self):
        return [c for c in self.contours if c.dxf.layer not in self.never_cut]

    def outlines(self):
        return [c for c in self.cut() if c.closed]

    def pieces(self):
        """(id, finished outline on the sheet) of every piece of the strip."""
        for piece in pieces_of(self.job, self.strip, self.depth, self.face):
            yield piece.id, piece.shape


def only(found):
    found = [f for f in found if f]
    assert len(found) == 1, found
    return found[0]


def arc_area(contour):
    """Signed area of a closed LWPOLYLINE: shoelace, and r^2/2 (sweep - sin sweep) an arc."""
    points = list(contour.get_points("xyb"))
    total = 0.0
    for (x0, y0, bulge), (x1, y1, _) in zip(points, points[1:] + points[:1]):
        total += (x0 * y1 - x1 * y0) / 2
        if bulge:
            sweep = 4 * math.atan(bulge)
            radius = math.hypot(x1 - x0, y1 - y0) / (2 * math.sin(sweep / 2))
            total += radius**2 / 2 * (sweep - math.sin(sweep))
    return total


def flattened(contour, distance=1e-5):
    points = ezpath.make_path(contour).flattening(distance)
    return [(p.x, p.y) for p in points]


@pytest.fixture(scope="session")
def sheets(flat_job):
    found = [Sheet(flat_job, file) for file in sorted((flat_job / "dxf").glob("*.dxf"))]
    assert found, "a flat job has DXF files"
    return found


def test_both_sizes_are_made_by_some_panel(made, panel_file):
    """Else the loops below would check nothing."""
    panels = [panel_file(name) for name in (*FLAT_PANELS, *odd.FLAT)]
    files = [file for panel in panels for file in sorted((made(panel) / "dxf").glob("*.dxf"))]
    sizes = {Sheet(file.parents[1], file).drawn for file in files}
    assert sizes == {True, False}, sizes


def test_every_flat_sheet_has_a_file(sheets):
    """One file a strip at least, none where nothing is cut flat."""
    for sheet in sheets:
        flat = [s for s in sheet.job["setups"] if s["kind"].startswith("flat")]
        assert flat, sheet.file
        strips = {s.number for s in sheets}
        assert strips == set(range(1, len(sheet.job["nest"]["strips"]) + 1))


def test_the_auditor_finds_nothing(sheets):
    for sheet in sheets:
        auditor = sheet.doc.audit()
        assert not auditor.errors, [e.message for e in auditor.errors]
        assert not auditor.fixes, [e.message for e in auditor.fixes]


def test_release_unit_and_extents(sheets):
    """DXF reference, HEADER: $INSUNITS 4 is millimetres, $MEASUREMENT 1 metric."""
    for sheet in sheets:
        assert sheet.doc.dxfversion == "AC1015"
        assert sheet.doc.header["$INSUNITS"] == 4
        assert sheet.doc.header["$MEASUREMENT"] == 1
        low, high = sheet.doc.header["$EXTMIN"], sheet.doc.header["$EXTMAX"]
        for contour in sheet.contours:
            for x, y in flattened(contour):
                assert low[0] - ROUNDING <= x <= high[0] + ROUNDING
                assert low[1] - ROUNDING <= y <= high[1] + ROUNDING
        assert "unit mm" in sheet.size


def test_entities_lie_on_layers_of_the_table(sheets):
    for sheet in sheets:
        layers = {layer.dxf.name: layer for layer in sheet.doc.layers}
        for entity in sheet.space:
            assert entity.dxftype() in ("LWPOLYLINE", "TEXT")
            layer = layers[entity.dxf.layer]
            assert 1 <= layer.color <= 255
            assert layer.is_on() and not layer.is_frozen() and not layer.is_locked()
            assert entity.dxf.color == ezdxf.const.BYLAYER
        assert sheet.never_cut <= set(layers)
        for contour in sheet.cut():
            assert contour.dxf.layer in sheet.rule.split("Never")[0], "the note names it"


def test_text_lies_on_layers_that_are_not_cut(sheets):
    for sheet in sheets:
        for text in sheet.texts:
            assert text.dxf.layer in sheet.never_cut, text.dxf.text
            assert text.dxf.text.isascii()


def test_the_border_is_the_strip(sheets):
    for sheet in sheets:
        border = only(c for c in sheet.contours if c.dxf.layer in sheet.never_cut)
        strip = box(0, 0, sheet.strip["length"], sheet.strip["width"])
        assert border.closed
        assert Polygon(flattened(border)).symmetric_difference(strip).area < 1e-3
        for piece, shape in sheet.pieces():
            assert strip.covers(shape.buffer(-ROUNDING)), piece


def test_every_piece_is_labelled_within_its_wood(sheets):
    for sheet in sheets:
        texts = {}
        for text in sheet.texts:
            texts.setdefault(text.dxf.text, []).append(Point(text.dxf.insert.x, text.dxf.insert.y))
        for piece, shape in sheet.pieces():
            label = f"{sheet.members[piece]['class']} {piece}"
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
