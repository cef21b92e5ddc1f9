"""Infill against shapely: cells as faces of drawn lines, openings of the drawn picture, piece ends as
half-planes round the incentre (Euclid IV.4), seams as lines through the points where faces meet.

Nothing of the program's own cells or formulas is used: lines and bars come from `ground.py`.
"""

import csv
import json
import math
import random
import re
import shutil

import ezdxf
import pytest
from shapely import STRtree, affinity, union_all
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import polygonize, unary_union

import ground as reference
import odd
import sweeps
import test_random_grounds as random_grounds
from workshop import call, check, make, said, sizes, sources, summary, write_job

# What rounding to six decimals moves an edge by, over the longest edge and the shapes' number, mm2.
ROUNDING = 1e-3
SPECK = 1e-6


class WideGround(reference.Ground):
    """A ground that knows its lines further out, so that every cell which the outline cuts is whole."""

    def lines_near(self, families, shift):
        kept, self.overhang = self.overhang, 300
        found = super().lines_near(families, shift)
        self.overhang = kept
        return found

    def joints_of(self, bar):
        """Not looked at here."""
        return []


def infill(**more):
    table = {"infill.face": 1.5, "infill.pattern": "hemp-leaf", "infill.least_length": 0.1}
    table.update({f"infill.{key}": value for key, value in more.items()})
    return table


def check_panel(folder):
    return write_job(folder, "check", panel=infill(face=3))


def odd_three_way(folder):
    return odd.odd_three_way(folder, **infill(face=3.1, allowance=0.07, shooting=0.6))


def odd_trimmed(folder):
    """Every side cuts cells somewhere: only the cells are looked at."""
    return odd.odd_trimmed(folder, **infill(face=2.3, pattern="plain"))


def odd_edge_up(folder):
    """Bars of three faces: openings are no copies of their cells."""
    return odd.odd_edge_up(folder, **infill(face=2.9, leave_cut_cells=True))


def odd_square(folder):
    return odd.odd_square(
        folder,
        **infill(
            face=2.2,
            leave_cut_cells=True,
            feature=[
                {"pattern": "diagonals", "cells": {"left": 0, "right": 120, "bottom": 0, "top": 90}},
                {"pattern": "plain", "cells": ["cell-18"]},
            ],
        ),
    )


def diamond(folder):
    """Rhombs of 57 and 123 degrees, halved."""
    table = {
        "layout": "diamond", "face": 4.37, "depth": 13.1, "pitch": 71.3, "angle": 28.5,
        "columns": 4, "rows": 6,
    }  # fmt: skip
    panel = {
        "ground": table,
        "outline": dict.fromkeys(("left", "right", "bottom", "top"), "centres"),
        "cut.clearance": 0.0,
        "outline.overhang": 23.0,
    }
    panel.update(infill(face=2.6, leave_cut_cells=True))
    return write_job(
        folder, "three-way-card", panel=panel, machine=odd.BED, material=odd.CARD, stock=odd.SHEET
    )


def open_three_way(folder):
    """Triangles and hexagons."""
    feature = [{"pattern": "plain", "cells": "hexagon"}]
    return write_job(
        folder, "new-open-three-way", panel=infill(leave_cut_cells=True, feature=feature)
    )


def eight_point(folder):
    return write_job(folder, "new-eight-point", panel=infill(face=1.1, least_length=0.1))


def free(folder):
    return write_job(folder, "new-free", panel=infill(pattern="plain"))


def hinged(folder):
    """Two of the three pieces of every whole triangle as one, locked by the third."""
    return odd.odd_three_way(folder, **infill(face=3.1, allowance=0.07, shooting=0.6, hinged=True))


def hinged_square(folder):
    """Half squares: angles that ask for a V at the fold."""
    return odd.odd_square(
        folder,
        **{"ground.pitch_across": 57.9, "ground.pitch_up": 57.9},
        **infill(face=2.7, leave_cut_cells=True, hinged=True),
    )


def outlines(folder):
    """Cut as seen from the front, from two woods of their own."""
    features = [{
        "pattern": "variant-hemp-leaf", "material": "card-1", "face": 2.3, "depth": 1,
        "cells": {"left": 60, "right": 260, "bottom": 20, "top": 130},
    }]  # fmt: skip
    table = infill(
        face=3.1, depth=2, material="card-2", stock="card-sheets-a2", allowance=0.07, cut="outlines",
        feature=features, least_length=4,
    )  # fmt: skip
    return odd.odd_three_way(folder, **table)


def routed_outlines(folder):
    """A router cuts them, from stock of their own, on a machine that holds short pieces."""
    table = infill(
        face=6.3, depth=3, pattern="diagonals", material="mdf-3", stock="mdf-sheets",
        allowance=-0.05, cut="outlines", leave_cut_cells=True,
    )  # fmt: skip
    more = {**table, "ground.pitch_up": 61.3}
    path = odd.odd_router(folder, **more)
    machine = folder / "machine.toml"
    machine.write_text(re.sub(r"hold_length = .*", "hold_length = 15", machine.read_text()))
    return path


def polygon_outline(folder):
    """A slanting side through a three-way ground."""
    sides = [
        {"x": 0, "y": 0, "rule": "centres"},
        {"x": 225.2, "y": 0, "clear": 13.1},
        {"x": 180.7, "y": 195, "rule": "centres"},
        {"x": 0, "y": 195, "rule": "inner-edge"},
    ]
    panel = {"outline": {"side": sides, "overhang": 37.0}, "ground.columns": None,
             "ground.rows": None, "ground.pitch": 65, "ground.face": 4, "ground.depth": 12}  # fmt: skip
    panel.update(infill(face=2.7))
    return write_job(
        folder, "three-way-card", panel=panel, machine=odd.BED,
        material={"thickness": 4}, stock=odd.SHEET,
    )  # fmt: skip


PANELS = [
    check_panel, odd_three_way, odd_trimmed, odd_edge_up, odd_square, diamond, open_three_way,
    eight_point, free, polygon_outline, hinged, hinged_square, outlines, routed_outlines,
]  # fmt: skip
FILLED = [p for p in PANELS if p not in (odd_trimmed, free)]


@pytest.fixture(scope="module")
def known(tmp_path_factory):
    found = {}

    def once(writer):
        if writer not in found:
            path = writer(tmp_path_factory.mktemp(writer.__name__))
            panel, material = sizes(path)
            found[writer] = WideGround(panel, material), check(path), panel, path
        return found[writer]

    return once


def picture(ground):
    """Faces of all lines as far as they are drawn, and the border of the drawing."""
    x0, y0, x1, y1 = ground.outline.bounds
    far = 250
    paper = box(x0 - far, y0 - far, x1 + far, y1 + far)
    lines = [LineString([line.point(-5e3), line.point(5e3)]) for line in ground.lines]
    drawn = unary_union([paper.exterior, *[line.intersection(paper) for line in lines]])
    return list(polygonize(drawn)), paper


def wood(ground):
    """All bars within the outline."""
    return unary_union([bar.line.bar(-5e3, 5e3).intersection(ground.outline) for bar in ground.bars])


def shape(points):
    return Polygon(points) if len(points) >= 3 else Polygon()


@pytest.mark.parametrize("writer", PANELS)
def test_cells_are_the_faces_of_the_lines(writer, known):
    ground, job, _, _ = known(writer)
    compare_cells(ground, job)


def compare_cells(ground, job):
    bars = wood(ground)
    faces, paper = picture(ground)
    right = []
    for face in faces:
        opening = face.intersection(ground.outline).difference(bars)
        if opening.area > ROUNDING:
            right.append((face, opening))
    cells = list(job["cells"])
    assert len(cells) == len(right)
    assert [cell["id"] for cell in cells] == [f"cell-{i + 1}" for i in range(len(cells))]
    inner = paper.buffer(-1e-6)
    for cell in cells:
        seen = shape(cell["opening"])
        assert seen.area == pytest.approx(cell["area"], abs=ROUNDING)
        (face, opening), = [r for r in right if r[1].contains(seen.representative_point())]
        assert opening.symmetric_difference(seen).area < ROUNDING, cell["id"]
        whole = shape(cell["corners"])
        if inner.contains(face):
            assert whole.symmetric_difference(face).area < ROUNDING, cell["id"]
        else:
            # No line bounds it there: the outline does.
            assert whole.symmetric_difference(face.intersection(ground.outline)).area < ROUNDING
    # In rows from below, each from the left.
    middles = [shape(cell["corners"]).centroid for cell in cells]
    places = [(round(p.y, 3), round(p.x, 3)) for p in middles]
    assert places == sorted(places)


@pytest.mark.parametrize("writer", [p for p in PANELS if p is not free])
def test_openings_are_cells_set_back(writer, known):
    """Shapely's own negative buffers, where all bars have one face and every cell has bars all round."""
    ground, job, _, _ = known(writer)
    faces = {line.face for line in ground.lines}
    if len(faces) != 1:
        assert writer is odd_edge_up
        return
    (face,) = faces
    whole = 0
    for cell in job["cells"]:
        if not cell["cut"]:
            back = shape(cell["corners"]).buffer(-face / 2, join_style="mitre", mitre_limit=100)
            seen = shape(cell["opening"])
            assert back.symmetric_difference(seen).area < ROUNDING, cell["id"]
            whole += 1
    assert whole >= (0 if writer is odd_trimmed else 2)


@pytest.mark.parametrize("writer", FILLED)
def test_bars_pieces_and_openings_make_up_the_outline(writer, known):
    """The picture as drawn: every edge of every bar and piece. Faces that no bar and no piece covers are
    the openings; nothing is counted twice."""
    ground, job, _, _ = known(writer)
    bars = wood(ground)
    pieces = [shape(p["outline"]) for cell in job["cells"] for p in cell["pieces"]]
    assert len(pieces) > 5
    edges = [ground.outline.exterior, bars.boundary, *[p.exterior for p in pieces]]
    # Six decimals leave hairs between edges that are one.
    faces = list(polygonize(union_all(edges, grid_size=1e-5)))
    covered = [bars.buffer(1e-5), *[p.buffer(1e-5) for p in pieces]]
    tree = STRtree(covered)
    openings = 0.0
    for face in faces:
        inside = face.representative_point()
        if not any(covered[i].contains(inside) for i in tree.query(inside)):
            openings += face.area
    total = bars.area + sum(p.area for p in pieces) + openings
    assert total == pytest.approx(ground.outline.area, abs=len(pieces) * ROUNDING)
    # The same openings, cell by cell.
    by_cell = sum(
        shape(cell["opening"]).area - sum(shape(p["outline"]).area for p in cell["pieces"])
        for cell in job["cells"]
    )
    assert openings == pytest.approx(by_cell, abs=len(pieces) * ROUNDING)


def test_cells_of_random_grounds(tmp_path):
    """Every layout under random outlines (from fixed seeds), free families with bars listed by hand among
    them."""
    seen = set()
    for seed in range(140):
        layout = random_grounds.LAYOUTS[seed % len(random_grounds.LAYOUTS)]
        base, changes = random_grounds.draw(random.Random(1000 + seed), layout)
        if base == "check":
            continue
        changes["panel"]["infill"] = {"face": 1.0, "pattern": "plain"}
        path = write_job(tmp_path / str(seed), base, **changes)
        done = call("check", path, "--json")
        if done.returncode == 0:
            compare_cells(WideGround(*sizes(path)), json.loads(done.stdout))
            seen.add(layout)
        else:
            assert "panicked" not in done.stderr, said(done)
    assert len(seen) >= 4, seen


def half_plane(point, direction, left=True):
    """All that lies to one side of a line."""
    x, y = point
    dx, dy = direction
    length = math.hypot(dx, dy)
    dx, dy = dx / length * 1e3, dy / length * 1e3
    side = 1 if left else -1
    nx, ny = -dy * side, dx * side
    return Polygon([
        (x - dx, y - dy), (x + dx, y + dy), (x + dx + nx, y + dy + ny), (x - dx + nx, y - dy + ny),
    ])  # fmt: skip


def bisector_point(corners):
    """Where two bisectors cross (Euclid IV.4), as crossing of two lines."""
    lines = []
    for i in (0, 1):
        (x, y), (x0, y0), (x1, y1) = corners[i], corners[i - 1], corners[(i + 1) % 3]
        u = math.atan2(y0 - y, x0 - x)
        v = math.atan2(y1 - y, x1 - x)
        middle = math.atan2(math.sin(u) + math.sin(v), math.cos(u) + math.cos(v))
        far = (x + 1e3 * math.cos(middle), y + 1e3 * math.sin(middle))
        lines.append(LineString([(x, y), far]))
    crossing = lines[0].intersection(lines[1])
    return (crossing.x, crossing.y)


def seam_point(w1, direction1, w2, direction2):
    """Where the left face of one piece meets the right face of the next, from the point in which their
    axes meet: as crossing of two lines."""

    def face(direction, by):
        dx, dy = math.cos(direction), math.sin(direction)
        x, y = -dy * by, dx * by
        return LineString([(x - 1e3 * dx, y - 1e3 * dy), (x + 1e3 * dx, y + 1e3 * dy)])

    crossing = face(direction1, w1 / 2).intersection(face(direction2, -w2 / 2))
    return (crossing.x, crossing.y)


def hemp_leaf(triangle, faces):
    """The three pieces of a triangular opening, of these faces."""
    corners = list(triangle.exterior.coords)[:-1]
    if not triangle.exterior.is_ccw:
        corners.reverse()
    centre = bisector_point(corners)
    ways = [math.atan2(c[1] - centre[1], c[0] - centre[0]) for c in corners]
    pieces = []
    for i in range(3):
        w, way = faces[i], ways[i]
        far = (centre[0] + 1e3 * math.cos(way), centre[1] + 1e3 * math.sin(way))
        back = (centre[0] - 1e3 * math.cos(way), centre[1] - 1e3 * math.sin(way))
        piece = LineString([back, far]).buffer(w / 2, cap_style="flat").intersection(triangle)
        left = seam_point(w, way, faces[(i + 1) % 3], ways[(i + 1) % 3])
        right = seam_point(faces[i - 1], ways[i - 1], w, way)
        # To the right of the left seam, to the left of the right one.
        piece = piece.intersection(half_plane(centre, left, left=False))
        pieces.append(piece.intersection(half_plane(centre, right)))
    return pieces


def set_back(ground, cell):
    """The whole cell less half of every line along it, by half-planes."""
    corners = cell["corners"]
    room = shape(corners)
    for i, start in enumerate(corners):
        end = corners[(i + 1) % len(corners)]
        middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        line = min(ground.lines, key=lambda line: line.distance(start) + line.distance(end))
        assert line.distance(middle) < 1e-4
        dx, dy = end[0] - start[0], end[1] - start[1]
        length = math.hypot(dx, dy)
        by = line.face / 2
        point = (start[0] - dy / length * by, start[1] + dx / length * by)
        room = room.intersection(half_plane(point, (dx, dy)))
    return room


def matched(found, right):
    """Pairs every piece with the one that it covers best."""
    left = list(right)
    for piece in found:
        best = min(left, key=lambda r: r.symmetric_difference(piece).area)
        left.remove(best)
        yield piece, best
    assert not left


@pytest.mark.parametrize("writer", [check_panel, odd_three_way, odd_edge_up, eight_point])
def test_hemp_leaf_pieces_meet_in_the_incentre(writer, known):
    """Equal bars and unequal ones; cut cells keep what the outline leaves of the whole cell's pieces."""
    ground, job, panel, _ = known(writer)
    width = panel["infill"]["face"]
    bars = wood(ground)
    seen = 0
    for cell in job["cells"]:
        if not cell["pieces"]:
            continue
        right = hemp_leaf(set_back(ground, cell), [width] * 3)
        kept = [piece.intersection(ground.outline).difference(bars) for piece in right]
        kept = [piece for piece in kept if piece.area > ROUNDING]
        found = [shape(p["outline"]) for p in cell["pieces"]]
        assert len(found) == len(kept), cell["id"]
        for piece, one in matched(found, kept):
            assert piece.symmetric_difference(one).area < ROUNDING, cell["id"]
            seen += 1
    assert seen > 20


@pytest.mark.parametrize("writer", [hinged, hinged_square])
def test_hinged_pieces_share_out_the_same_wood(writer, known):
    """The three pieces of every triangle cover what they cover by half-planes, and do not overlap; the two
    halves touch in one point, and turned straight about it they make the strip of the table."""
    ground, job, panel, _ = known(writer)
    width = panel["infill"]["face"]
    rows = {row["id"]: row for row in job["infill"]}
    folds = 0
    for cell in job["cells"]:
        if cell["cut"] or not cell["pieces"]:
            assert not any(p.get("half") for p in cell["pieces"]), "cut cells are made piece by piece"
            continue
        found = [shape(p["outline"]) for p in cell["pieces"]]
        whole = unary_union([p.buffer(1e-5, join_style="mitre") for p in found])
        assert sum(p.area for p in found) == pytest.approx(whole.area, abs=ROUNDING * 10)
        if writer is hinged:
            right = unary_union(hemp_leaf(set_back(ground, cell), [width] * 3))
            assert whole.symmetric_difference(right).area < ROUNDING * 10, cell["id"]
        halves = [p for p in cell["pieces"] if p.get("half")]
        for first, second in zip(halves[::2], halves[1::2], strict=True):
            assert (first["half"], second["half"]) == (1, 2) and first["id"] == second["id"]
            row = rows[first["id"]]
            a, b = shape(first["outline"]), shape(second["outline"])
            pairs = [(math.dist(p, q), p) for p in a.exterior.coords for q in b.exterior.coords]
            gap, skin = min(pairs)
            assert gap < 1e-5
            strips = []
            for sign in (1, -1):
                turned = affinity.rotate(b, sign * row["fold"]["angle"], origin=skin)
                strip = unary_union([a, turned])
                sides = list(strip.minimum_rotated_rectangle.exterior.coords)
                sizes_of = sorted(math.dist(*pair) for pair in zip(sides[:2], sides[1:3]))
                strips.append((strip.minimum_rotated_rectangle.area, sizes_of, turned))
            _, (across, along), turned = min(strips, key=lambda s: s[0])
            assert across == pytest.approx(row["face"], abs=1e-4) and across == pytest.approx(width)
            assert along == pytest.approx(row["length"], abs=1e-4)
            # Straight, what the saw takes between them is a V, or nothing; nothing lies in both.
            assert a.intersection(turned).area < ROUNDING
            walls = [math.tan(math.radians(90 - w)) * width for w in row["fold"]["walls"]]
            cut = unary_union([a, turned]).convex_hull.area
            strip_area = shape(row["outline"]).area
            assert a.area + turned.area == pytest.approx(strip_area, abs=ROUNDING)
            assert cut - strip_area >= sum(walls) * width / 2 - 0.01
            folds += 1
    assert folds >= 6


def test_figures_of_a_fold(known):
    """A triangle of 60 degrees: three pieces at 120, a fold of 60 with square walls (a plain kerf), and a
    third piece with a point of 60 degrees, longer by face / sqrt 3 than from corner to incentre. Half a
    square: 135 degrees between the two along the diagonal, a fold of 45 and a V."""
    _, job, panel, _ = known(hinged)
    length = 2 * (71.3 / (2 * math.sqrt(3)) - 4.37 / 2)
    whole = [row for row in job["infill"] if not row["trimmed"]]
    (strip,) = [row for row in whole if row["fold"]]
    locks = [row for row in whole if row["ends"] == [[pytest.approx(30, abs=1e-4)] * 2] * 2]
    assert strip["fold"]["angle"] == pytest.approx(60, abs=1e-4)
    assert strip["fold"]["walls"] == pytest.approx([90, 90], abs=1e-3)
    assert strip["fold"]["at"] == pytest.approx(strip["length"] / 2, abs=1e-4)
    width = panel["infill"]["face"]
    # Each half runs from its corner to the skin: from the incentre (face / 2) / tan 60 less.
    assert strip["length"] == pytest.approx(2 * (length - width / 2 / math.tan(math.pi / 3)), abs=1e-4)
    assert length + width / math.sqrt(3) in [pytest.approx(row["length"], abs=1e-4) for row in locks]
    _, job, panel, _ = known(hinged_square)
    width = panel["infill"]["face"]
    (strip,) = [row for row in job["infill"] if row["fold"]]
    assert strip["fold"]["angle"] == pytest.approx(45, abs=1e-4)
    lean = (1 / math.tan(math.radians(56.25)) - 1 / math.tan(math.radians(67.5))) / 2
    wall = math.degrees(math.atan2(1, lean))
    assert strip["fold"]["walls"] == pytest.approx([wall, wall], abs=1e-3)


def perforated(folder):
    """Hinged blanks of card, folded along dashes."""
    table = infill(
        face=4.37, allowance=0.07, shooting=0.6, hinged=True, cut="blanks", fold="perforated",
        fold_dash=1.7, fold_bridge=0.83,
    )  # fmt: skip
    return odd.odd_three_way(folder, **table)


def dashes_of(depth, x):
    """Dashes of 1.7 or more with bridges of 0.83, as many as there is room for."""
    count = int((depth - 0.83) / (1.7 + 0.83))
    dash = (depth - 0.83) / count - 0.83
    starts = [0.83 + k * (dash + 0.83) for k in range(count)]
    return [LineString([(x, y), (x, y + dash)]) for y in starts]


def test_blanks_are_perforated_at_the_fold(tmp_path):
    """What the programs sweep within each blank, by shapely: dashes as wide as the kerf and nothing else; the
    bridges between them stand, and the blank hangs together until they go. Drawn size: the same dashes, read
    by ezdxf, as open lines on a layer of their own."""
    folder = make(perforated(tmp_path), tmp_path / "out")
    done = call("prove", folder)
    assert done.returncode == 0, said(done)
    job = summary(folder)
    rows = {row["id"]: row for row in job["infill"]}
    told = {row["piece"]: row["remark"] for row in csv.DictReader((folder / "infill.csv").open(newline=""))}
    seen, plain = 0, 0
    for strip, sheet in zip(job["nest"]["strips"], sweeps.sheets(folder)):
        radius = sheet.setup["kerf"] / 2
        cut = sweeps.swept(sheet.paths, radius)
        lines = []
        for piece in sheet.pieces:
            x0, y0, x1, y1 = piece.shape.bounds
            inside = piece.shape.buffer(-sweeps.REPLAY, join_style="mitre")
            row = rows.get(piece.id)
            if not row or not row["fold"]:
                assert inside.intersection(cut).area < SPECK, piece.id
                plain += 1
                continue
            seen += 1
            assert x1 - x0 == pytest.approx(row["blank"], abs=1e-6)
            at = row["fold"]["at"] + (0.6 - 0.07) / 2
            assert row["fold"]["perforated_at"] == pytest.approx(at, abs=2e-6)
            assert f"perforated {row['fold']['perforated_at']} mm" in told[piece.id]
            own = [affinity.translate(line, x0, y0) for line in dashes_of(y1 - y0, at)]
            lines += own
            right = unary_union([line.buffer(radius, quad_segs=sweeps.ROUND) for line in own])
            found = inside.intersection(cut)
            assert found.difference(right.buffer(sweeps.REPLAY)).area < SPECK, "nothing else is cut"
            assert right.buffer(-sweeps.REPLAY).difference(found).area < SPECK, "every dash is cut"
            assert len(found.geoms) == len(own) > 3
            left = inside.difference(cut)
            assert left.geom_type == "Polygon", "bridges join both halves"
            whole = LineString([(x0 + at, y0), (x0 + at, y1)]).buffer(radius)
            assert len(left.difference(whole).geoms) == 2, "they alone"
        stem = sheet.setup["file"].removeprefix("gcode/").rsplit(".", 1)[0]
        drawings = sorted((folder / "dxf").rglob(f"{stem}-*.dxf"))
        assert drawings
        for drawing in drawings:
            found = [e for e in ezdxf.readfile(drawing).modelspace() if e.dxf.layer == "lap-fold"]
            assert len(found) == len(lines) and not any(e.is_closed for e in found)
            ends = sorted([round(v, 4) for p in e.get_points("xy") for v in p] for e in found)
            wanted = sorted([round(v, 4) for p in line.coords for v in p] for line in lines)
            for a, b in zip(ends, wanted, strict=True):
                assert a == pytest.approx(b, abs=2e-4)
    made = sum(row["count"] for row in rows.values() if row["fold"])
    assert seen == made > 4 and plain > 10
    assert "lap-fold, colour" in (folder / "dxf" / "notes.txt").read_text()


@pytest.mark.parametrize("writer", [outlines, routed_outlines])
def test_outlines_are_cut_each_from_its_own_wood(writer, known, tmp_path):
    """Each material has its own sheets and cutting values; the pieces that they leave are checked, like all
    others, by what is swept (sweeps.py) along the programs as rs274.py reads them."""
    _, job, panel, path = known(writer)
    folder = make(path, tmp_path / "out")
    names = {row["material"] for row in job["infill"]}
    assert len(names) == (2 if writer is outlines else 1)
    assert sources(folder)["material"]["name"] not in names
    cut = {}
    for sheet in sweeps.sheets(folder):
        if "-infill-" not in sheet.setup["file"]:
            continue
        radius = (sheet.setup["kerf"] or sheet.setup["tool_diameter"]) / 2
        through = [p for p in sheet.paths if p.height is None or p.height <= 0]
        left = sheet.sheet.difference(sweeps.swept(through, radius))
        beam = sheet.material.get("laser") if sheet.setup["kerf"] else None
        holds = beam["bridges"] if beam else sheet.material["router"]["tabs"]
        for piece in sheet.pieces:
            verdict = sweeps.judge(piece, left, radius)
            assert verdict.sound(), piece.id
            assert len(verdict.holds) == holds, piece.id
            cut[piece.id] = cut.get(piece.id, 0) + 1
            (row,) = [row for row in job["infill"] if row["id"] == piece.id]
            assert row["material"] == sheet.strip["material"]
    assert cut == {row["id"]: row["count"] for row in job["infill"]}


UNEQUAL = """
name = "unequal"
source = "invented for the test"
[[rule]]
shape = "triangle"
[[rule.piece]]
from = "corner 1"
to = "incentre"
start = "bar"
end = "seam"
face = 1.6
[[rule.piece]]
from = "corner 2"
to = "incentre"
start = "bar"
end = "seam"
[[rule.piece]]
from = "incentre"
to = "corner 3"
start = "seam"
end = "bar"
face = 0.7
"""


def test_unequal_faces_of_bars_and_pieces(tmp_path):
    """A pattern from a file of the maker's, its pieces of three faces, between bars of three faces."""
    more = infill(face=2.9, leave_cut_cells=True, pattern="own/unequal.toml")
    path = odd.odd_edge_up(tmp_path, **more)
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "unequal.toml").write_text(UNEQUAL)
    job = check(path)
    ground = WideGround(*sizes(path))
    assert len({line.face for line in ground.lines}) == 3
    seen = 0
    for cell in job["cells"]:
        if not cell["pieces"]:
            continue
        room = set_back(ground, cell)
        corners = list(room.exterior.coords)[:-1]
        # Counted counter-clockwise from the lowest corner on.
        first = min(range(3), key=lambda i: (round(corners[i][1], 6), corners[i][0]))
        assert room.exterior.is_ccw or corners.reverse() is None
        first = min(range(3), key=lambda i: (round(corners[i][1], 6), corners[i][0]))
        corners = corners[first:] + corners[:first]
        right = hemp_leaf(Polygon(corners), [2.9 * 1.6, 2.9, 2.9 * 0.7])
        # hemp_leaf keeps counter-clockwise corners as they are.
        for piece, one in zip(cell["pieces"], right, strict=True):
            assert shape(piece["outline"]).symmetric_difference(one).area < ROUNDING, cell["id"]
            seen += 1
    assert seen > 20


@pytest.mark.parametrize(
    "pitch, face, width, writer", [(65, 4, 3, check_panel), (71.3, 4.37, 3.1, odd_three_way)]
)
def test_figures_of_a_full_triangle(pitch, face, width, writer, known):
    """From corner to incentre of the opening, 2 r with r = pitch / (2 sqrt 3) - face / 2; 33.53 in the
    check panel (common practice, no source). A piece along a side through the joints is halved."""
    _, job, _, _ = known(writer)
    length = 2 * (pitch / (2 * math.sqrt(3)) - face / 2)
    whole = [row for row in job["infill"] if not row["trimmed"]]
    assert len(whole) == 1
    assert whole[0]["length"] == pytest.approx(length, abs=2e-6)
    assert whole[0]["face"] == pytest.approx(width, abs=2e-6)
    for bevel, end in zip((30, 60), whole[0]["ends"]):
        assert end == pytest.approx([bevel] * 2, abs=1e-5)
    if pitch == 65:
        assert round(length, 2) == 33.53
    halves = {
        round(row["face"], 5) for row in job["infill"]
        if row["trimmed"] and row["length"] == pytest.approx(length, abs=2e-6)
    }  # fmt: skip
    assert halves == {width / 2}


def triangle_bevels(corners):
    """Bevels of the three pieces of a triangle from its angles: half the corner; at the incentre half of
    what the two half corners leave of two right angles."""
    n = len(corners)
    angles = []
    for i in range(n):
        (x, y), (x0, y0), (x1, y1) = corners[i], corners[i - 1], corners[(i + 1) % n]
        turn = math.atan2(y0 - y, x0 - x) - math.atan2(y1 - y, x1 - x)
        angles.append(math.degrees(turn) % 360)
    assert sum(angles) == pytest.approx(180)
    return sorted(
        (
            angles[i] / 2,
            *sorted((180 - angles[i] / 2 - angles[j] / 2) / 2 for j in range(3) if j != i),
        )
        for i in range(3)
    )


def test_bevels_of_halved_rhombs(known):
    """A rhomb of 57 degrees: each half has corners of 57 (or 123) and twice half the rest; the diagonal
    that halves it runs from corner to corner and takes half of each."""
    _, job, _, _ = known(diamond)
    found = set()
    for row in job["infill"]:
        (a, b), (c, d) = row["ends"]
        found.add(tuple(round(v, 4) for v in (a, b, *sorted((c, d)))))
    right = set()
    for corner in (57.0, 123.0):
        half = (180 - corner) / 2
        apex = math.radians(corner)
        triangle = [(0, 0), (1, 0), (math.cos(apex), math.sin(apex))]
        for bevels in triangle_bevels(triangle):
            at, low, high = (round(v, 4) for v in bevels)
            right.add((at, at, low, high))
        # The diagonal between the other two corners.
        right.add((half, half, half, half))
    assert found == {tuple(round(v, 4) for v in r) for r in right}


@pytest.mark.parametrize("writer", FILLED)
def test_rows_count_and_measure_the_pieces(writer, known):
    """Length and face are a piece's extents along and across its axis; counts are for the whole quantity;
    ids are unique over the lists of the contract."""
    _, job, panel, _ = known(writer)
    rows = {row["id"]: row for row in job["infill"]}
    counts = dict.fromkeys(rows, 0)
    for cell in job["cells"]:
        for piece in cell["pieces"]:
            row = rows[piece["id"]]
            assert row["pattern"] == cell["pattern"]
            if piece.get("half"):
                assert row["fold"]
                counts[piece["id"]] += 1 / 2
                continue
            counts[piece["id"]] += 1
            (x0, y0), (x1, y1) = piece["start"], piece["end"]
            length = math.hypot(x1 - x0, y1 - y0)
            ux, uy = (x1 - x0) / length, (y1 - y0) / length
            along = [x * ux + y * uy for x, y in piece["outline"]]
            across = [y * ux - x * uy for x, y in piece["outline"]]
            assert max(along) - min(along) == pytest.approx(row["length"], abs=5e-6)
            assert max(across) - min(across) == pytest.approx(row["face"], abs=5e-6)
            assert length == pytest.approx(row["length"], abs=5e-6)
            assert shape(piece["outline"]).area == pytest.approx(
                shape(row["outline"]).area, abs=ROUNDING
            )
    quantity = job["panel"]["quantity"]
    assert {i: n * quantity for i, n in counts.items()} == {i: r["count"] for i, r in rows.items()}
    table = panel["infill"]
    for row in job["infill"]:
        cut = row["length"] - table.get("allowance", 0)
        assert row["cut_length"] == pytest.approx(cut, abs=2e-6)
        assert row["blank"] == pytest.approx(cut + table.get("shooting", 0), abs=2e-6)
    ids = [
        entry["id"] for name in ("members", "classes", "sticks", "infill", "surround")
        for entry in job[name]
    ]  # fmt: skip
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("writer", FILLED)
def test_bevels_are_the_angles_of_the_outline(writer, known):
    """At the corner between a face and an end, the wood's own angle and the bevel make up 180 degrees."""
    _, job, _, _ = known(writer)
    for row in job["infill"]:
        points = row["outline"]
        n = len(points)
        half = row["face"] / 2
        for last in (0, 1):
            for side, bevel in zip((1, -1), row["ends"][last]):
                on = [i for i in range(n) if abs(points[i][1] - side * half) < 1e-5]
                i = (max if last else min)(on, key=lambda i: points[i][0])
                # The next corner round the end: away from the face.
                step = 1 if (side > 0) != bool(last) else -1
                (x, y), (x1, y1) = points[i], points[(i + step) % n]
                inward = -1 if last else 1
                wood_angle = math.degrees(math.atan2(abs(y1 - y), (x1 - x) * inward))
                assert wood_angle + bevel == pytest.approx(180, abs=1e-3), (row["id"], last, side)


def test_a_folder_with_infill_is_proven_from_its_own_patterns(tmp_path):
    panel = infill(face=1.5, least_length=50, pattern="leaf.toml")
    path = write_job(tmp_path, "three-way-card", panel=panel)
    leaf = UNEQUAL.replace("face = 1.6", "").replace("face = 0.7", "")
    (tmp_path / "leaf.toml").write_text(leaf)
    done = call("make", path, "--out", tmp_path / "out")
    assert done.returncode == 2 and "too short to hold" in done.stderr, said(done)
    path.write_text(path.read_text().replace("least_length = 50", "least_length = 0.1"))
    path.write_text(path.read_text().replace("[infill]", "[infill]\nleave_cut_cells = true"))
    out = make(path, tmp_path / "out")
    assert (out / "source" / "pattern-1.toml").read_text() == leaf
    done = call("prove", out)
    assert done.returncode == 0, said(done)
    rows = list(csv.DictReader((out / "infill.csv").open(newline="")))
    job = summary(out)
    assert [row["piece"] for row in rows] == [row["id"] for row in job["infill"]]
    for row, told in zip(rows, job["infill"]):
        assert int(row["count"]) == told["count"]
        assert float(row["length_mm"]) == told["length"]
        ends = [[float(row[f"{end}_{side}_deg"]) for side in ("left", "right")] for end in ("start", "end")]
        assert ends == told["ends"]
    # Another pattern, or none, is no longer this job.
    for spoil in (
        lambda p: p.write_text(leaf.replace("unequal", "other")),
        lambda p: p.unlink(),
    ):
        copy = tmp_path / "copy"
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(out, copy)
        spoil(copy / "source" / "pattern-1.toml")
        done = call("prove", copy)
        assert done.returncode == 1, said(done)
    shutil.copy(out / "source" / "pattern-1.toml", out / "source" / "pattern-2.toml")
    done = call("prove", out)
    assert done.returncode == 1 and "pattern-2.toml" in done.stderr, said(done)


BAD = [
    ({"infill.pattern": "diagonals"}, "does not fit cell-1, a triangle", "pattern"),
    ({"infill.least_length": 33.6}, "too short to hold", "least_length"),
    (
        {"infill.feature": [
            {"pattern": "plain", "cells": ["cell-9"]},
            {"pattern": "variant-hemp-leaf", "cells": ["cell-8", "cell-9"]},
        ]},
        "cell-9 has a pattern already, from feature 1",
        "feature",
    ),
    (
        {"infill.feature": [
            {"pattern": "plain", "cells": {"left": 3, "right": 5, "bottom": 3, "top": 5}},
        ]},
        "this feature has no cell",
        "feature",
    ),
    (
        {"infill.hinged": True, "infill.cut": "outlines", "infill.material": "ply-3"},
        "outlines are cut as single pieces",
        "hinged",
    ),
    ({"infill.hinged": True, "infill.fold": "perforated"}, "only hinged blanks", "fold"),
    ({"infill.hinged": True, "infill.fold_dash": 3}, 'for fold = "perforated"', "fold_dash"),
    (
        {
            "infill.cut": "blanks", "infill.hinged": True, "infill.fold": "perforated",
            "infill.material": "ply-3", "infill.stock": "ply-sheets",
        },
        "only a laser perforates",
        "fold",
    ),
    ({"infill.cut": "blanks"}, "sticks to be cut edge up", "cut"),
    (
        {
            "infill.cut": "outlines", "infill.material": "ply-3", "infill.stock": "ply-sheets",
            "infill.depth": 12,
        },
        "outlines are as deep as the stock is thick, 3 mm",
        "depth",
    ),
    (
        {"infill.cut": "blanks", "infill.material": "vinyl-sheet"},
        "has no [router] values",
        "material",
    ),
    ({"infill.material": "ply-33"}, "did you mean `ply-3`", "material"),
    ({"infill.depth": 12.1}, "infill is deeper than the ground", "depth"),
    ({"infill.face": 60}, "it is too small for a piece of face 60.00", "pattern"),
    ({"infill.pattern": "hemp-leef"}, "did you mean `hemp-leaf`", "pattern"),
]  # fmt: skip


@pytest.mark.parametrize("changes, words, key", BAD)
def test_bad_infill_is_told_at_its_place(changes, words, key, tmp_path):
    panel = {**infill(face=3), **changes}
    path = write_job(tmp_path, "check", panel=panel)
    done = call("check", path)
    assert done.returncode == 2, said(done)
    assert any(word in done.stderr for word in words.split("|")), said(done)
    assert "panel.toml:" in done.stderr and "^" in done.stderr and key in done.stderr, said(done)
