"""Contours of DXF files against ezdxf (strict reading) and shapely (areas, outlines).

What a file must hold is worked out here from job.json and the panel file alone.
"""

import math
import re
import shutil
from pathlib import Path

import pytest
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.polygon import orient
from shapely.ops import unary_union

import odd
from drawings import ROUNDING, Contour, Drawing, flattened
from workshop import FLAT_PANELS, call, said, sources, summary

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


def test_the_files_are_those_that_were_asked_for(all_drawings):
    """Both sizes and both releases of every sheet and of every class, listed in job.json, and proven."""
    job = summary(all_drawings)
    flat = [s for s in job["setups"] if s["kind"].startswith("flat")]
    path = "kerf-compensated" if flat[0]["kerf"] else "tool-compensated"
    stems = [Path(setup["file"]).stem for setup in flat]
    assert len(stems) == len(set(stems)) <= len(job["nest"]["strips"])
    assert sum(setup["loads"] for setup in flat) == len(job["nest"]["strips"])
    name = re.match(r"(.*)-(?:sheet|infill|infill-\d+)-\d+$", stems[0])[1]
    stems += [f"{name}-piece-{c['id']}" for c in [*job["classes"], *job["infill"]]]
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
