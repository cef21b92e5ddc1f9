"""Seams of unlike faces against shapely: every built-in pattern with pieces of unlike faces, in cells of even and
odd angles.

Centre lines are laid again here, from the pattern and the cell's own corners. At a point where pieces meet each
takes the sector between the two points in which its faces meet its neighbours': those are crossings of lines,
no formula of the program's. A sector of more than half a turn makes a re-entrant end.
"""

import json
import math
import re
import tomllib

import ezdxf
import pytest
from shapely.geometry import LineString, Polygon
from shapely.ops import unary_union

import odd
import sweeps
from test_infill import (
    ROUNDING, WideGround, bisector_point, half_plane, infill, seam_point, set_back, shape,
)  # fmt: skip
from workshop import (
    call, changed, check, fixture, fixture_path, make, said, sizes, summary, toml, write_job,
)  # fmt: skip

# Nodes of a pattern are one where they lie nearer than this, mm.
ONE = 1e-4
# Ratios of the widest face to the narrowest.
RATIOS = [1, 1.6, 2.7, 4]


def unlike(name, faces):
    """A built-in pattern with a face for each piece, taken in turn: pieces for each corner are written out."""
    data = tomllib.loads(fixture_path("pattern", name).read_text())
    for rule in data["rule"]:
        rule.pop("hinge", None)
        written = []
        for piece in rule.get("piece", []):
            for turn in range(3 if piece.pop("each", False) else 1):
                one = dict(piece)
                for end in ("from", "to"):
                    one[end] = re.sub(
                        r"corner (\d)", lambda m: f"corner {(int(m[1]) - 1 + turn) % 3 + 1}", one[end]
                    )
                written.append(one)
        for k, piece in enumerate(written):
            piece["face"] = faces[k % len(faces)]
        if written:
            rule["piece"] = written
    return data


def faces_of(name, ratio):
    """Faces for the pieces of a pattern, in turn: the least of them 1, the greatest the ratio."""
    between = 1 + 0.37 * (ratio - 1)
    if name == "variant-hemp-leaf":
        # Corners, then sides; one wide piece among narrow ones, and wide ones among unlike neighbours.
        return [[ratio, 1, between, 1, 1, 1], [1, 1, 1, ratio, 1, between]]
    return [[ratio, 1, 1], [1, ratio, between]]


def own_infill(folder, pattern, face, crush=0.1, **more):
    """Outlines of card of their own, with bridges that find room on short pieces."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "own.toml").write_text(toml(pattern))
    card = changed(fixture("material", "card-2"), {"laser.bridge_width": 0.3, "crush": crush})
    (folder / "card.toml").write_text(toml(card))
    table = {
        "face": face, "depth": 2, "pattern": "own.toml", "material": "card.toml",
        "stock": "card-sheets-a2", "leave_cut_cells": True, "cut": "outlines",
    }  # fmt: skip
    return infill(**{**table, **more})


def three_way(folder, table):
    """Three that meet at 120 degrees."""
    small = {"quantity": 1, "ground.columns": 3, "ground.rows": 1}
    return odd.odd_three_way(folder, **small, **table)


def square(folder, table):
    """Oblong cells, halved: three odd angles."""
    return odd.odd_square(folder, **{"ground.columns": 2, "ground.rows": 3}, **table)


def diamond(folder, table):
    """Rhombs of 57 and 123 degrees, halved."""
    ground = {
        "layout": "diamond", "face": 4.37, "depth": 13.1, "pitch": 71.3, "angle": 28.5,
        "columns": 3, "rows": 4,
    }  # fmt: skip
    panel = {
        "ground": ground,
        "outline": dict.fromkeys(("left", "right", "bottom", "top"), "centres"),
        "cut.clearance": 0.0,
        "outline.overhang": 23.0,
        **table,
    }
    return write_job(
        folder, "three-way-card", panel=panel, machine=odd.BED, material=odd.CARD, stock=odd.SHEET
    )


GROUNDS = [three_way, square, diamond]


def place(text, room):
    """A point of a pattern's."""
    n = len(room)
    sum_x = sum_y = weights = 0
    for part in text.split("+"):
        weight, word, number = re.fullmatch(r"(?:(\d+) )?([a-z]+)(?: (\d+))?", part.strip()).groups()
        if word == "incentre":
            x, y = bisector_point(room)
        elif word == "corner":
            x, y = room[int(number) - 1]
        else:
            (x0, y0), (x1, y1) = room[int(number) - 1], room[int(number) % n]
            assert word == "middle"
            x, y = (x0 + x1) / 2, (y0 + y1) / 2
        weight = float(weight or 1)
        sum_x, sum_y, weights = sum_x + weight * x, sum_y + weight * y, weights + weight
    return (sum_x / weights, sum_y / weights)


def strip(a, b, width):
    """A bar of endless length along a line."""
    (x0, y0), (x1, y1) = a, b
    dx, dy = x1 - x0, y1 - y0
    k = 1e3 / math.hypot(dx, dy)
    line = LineString([(x0 - k * dx, y0 - k * dy), (x1 + k * dx, y1 + k * dy)])
    return line.buffer(width / 2, cap_style="flat")


def fan(node, way, left, right):
    """The sector round a direction, from one ray, by a vector along it, to another."""

    def off(ray):
        angle = math.atan2(ray[1], ray[0]) - way
        return math.atan2(math.sin(angle), math.cos(angle))

    low, high = off(right), off(left)
    assert low < 0 < high
    steps = math.ceil((high - low) / 0.3)
    turns = [way + low + (high - low) * k / steps for k in range(steps + 1)]
    rim = [(node[0] + 1e3 * math.cos(t), node[1] + 1e3 * math.sin(t)) for t in turns]
    return Polygon([node, *rim]), (-low, high)


class Laid:
    """The pieces of a room, and a hair's breadth along each seam."""

    def __init__(self, room, rule, face):
        self.pieces, self.joints, self.sums, self.seams = [], [], [], []
        whole = Polygon(room)
        lines = []
        for piece in rule.get("piece", []):
            a, b = place(piece["from"], room), place(piece["to"], room)
            lines.append((a, b, piece["face"] * face, (piece["start"], piece["end"])))
        ends = []
        for i, (a, b, width, rules) in enumerate(lines):
            for end, (node, far) in enumerate([(a, b), (b, a)]):
                if rules[end] == "seam":
                    way = math.atan2(far[1] - node[1], far[0] - node[0])
                    ends.append((i, end, node, way, width))
        for i, (a, b, width, rules) in enumerate(lines):
            piece = strip(a, b, width).intersection(whole)
            for _, _, node, way, _ in [e for e in ends if e[0] == i]:
                round_it = self.round(ends, node, way)
                # Own, then the others counter-clockwise.
                (_, _, _, _, w), (_, _, _, way_l, w_l), (_, _, _, way_r, w_r) = (
                    round_it[0], round_it[1], round_it[-1],
                )  # fmt: skip
                left = seam_point(w, way, w_l, way_l)
                right = seam_point(w_r, way_r, w, way)
                sector, turn = fan(node, way, left, right)
                self.sums.append(math.degrees(sum(turn)))
                self.seams += map(math.degrees, turn)
                piece = piece.intersection(sector)
            self.pieces.append(piece)
        for _, _, node, way, width in ends:
            own, after = self.round(ends, node, way)[:2]
            dx, dy = seam_point(width, way, after[4], after[3])
            # From the point where the axes meet to that where the faces do.
            seam = LineString([node, (node[0] + 0.999 * dx, node[1] + 0.999 * dy)])
            self.joints.append(seam.buffer(1e-3, cap_style="square").intersection(whole))
            assert own[0] != after[0]

    @staticmethod
    def round(ends, node, way):
        """All ends in one point, counter-clockwise from one on."""
        here = [e for e in ends if math.dist(e[2], node) < ONE]
        assert len(here) > 1
        return sorted(here, key=lambda e: (e[3] - way + 1e-9) % (2 * math.pi))


def corners_of(polygon, first=None):
    """Counter-clockwise corners, from the one nearest to a point on."""
    ring = list(polygon.exterior.coords)[:-1]
    if not polygon.exterior.is_ccw:
        ring.reverse()
    if first is not None:
        at = min(range(len(ring)), key=lambda i: math.dist(ring[i], first))
        ring = ring[at:] + ring[:at]
    return ring


def laid(cell, ground, pattern, face, turn):
    """All pieces of a cell, corners and middles counted from the first (or, turned, the second) corner."""
    back = corners_of(set_back(ground, cell))
    # As the cell's corners are counted: from the lowest on, of those from the leftmost.
    lowest = min(y for _, y in cell["corners"])
    first = min(c for c in cell["corners"] if c[1] < lowest + 1e-4)
    back = corners_of(Polygon(back), first)
    sides = len(back)
    (rule,) = [
        r for r in pattern["rule"] if {"triangle": 3, "quadrilateral": 4}.get(r["shape"], sides) == sides
    ]
    if not rule.get("divide"):
        return [Laid(back, rule, face)], []
    back = back[turn:] + back[:turn]
    a, c = back[0], back[2]
    width = face * rule["divide"].get("face", 1)
    divider = strip(a, c, width).intersection(Polygon(back))
    dx, dy = c[0] - a[0], c[1] - a[1]
    halves = []
    for to_left in (True, False):
        k = width / 2 / math.hypot(dx, dy) * (1 if to_left else -1)
        start = (a[0] - k * dy, a[1] + k * dx)
        half = Polygon(back).intersection(half_plane(start, (dx, dy), left=to_left))
        # From the corner past the divider on: the side along it comes last.
        ring = corners_of(half, a if not to_left else c)
        n = len(ring)
        along = [
            i for i in range(n)
            if all(
                abs((p[0] - start[0]) * dy - (p[1] - start[1]) * dx) / math.hypot(dx, dy) < 1e-6
                for p in (ring[i], ring[(i + 1) % n])
            )
        ]  # fmt: skip
        (side,) = along
        ring = ring[(side + 1) % n:] + ring[:(side + 1) % n]
        halves.append(Laid(ring, rule, face))
    return halves, [divider]


CASES = [
    (ground, name, ratio, k)
    for ground in GROUNDS
    for name in ("hemp-leaf", "variant-hemp-leaf")
    for ratio in RATIOS
    for k in (0, 1)
    # One of the two is enough for like faces.
    if not (ratio == 1 and k)
] + [(ground, "diagonals", ratio, 0) for ground in (square, diamond) for ratio in (1, 4)]


@pytest.mark.parametrize("ground, name, ratio, k", CASES)
def test_pieces_fill_their_sectors(ground, name, ratio, k, tmp_path):
    """Every piece is what its strip and its sectors have in common; no two overlap; every seam is wood on
    both sides, from the point where the axes meet to where the faces do."""
    face = 1.3
    pattern = unlike(name, faces_of(name, ratio)[k])
    # How far a beam's round presses is for other tests.
    path = ground(tmp_path, own_infill(tmp_path, pattern, face, crush=2))
    done = call("check", path, "--json")
    lines = WideGround(*sizes(path))
    if done.returncode == 2:
        # A feather is refused: a seam within 5 degrees of an axis.
        assert "in a seam of less than 5 degrees" in done.stderr, said(done)
        like = own_infill(tmp_path / "like", unlike(name, [1]), face)
        cells = [c for c in check(ground(tmp_path / "like", like))["cells"] if c["pieces"]]
        tries = [laid(c, lines, pattern, face, turn)[0] for c in cells for turn in (0, 1)]
        assert min(s for halves in tries for half in halves for s in half.seams) < 5
        return
    assert done.returncode == 0, said(done)
    job = json.loads(done.stdout)
    rows = {row["id"]: row for row in job["infill"]}
    seen, wide = 0, 0
    for cell in [c for c in job["cells"] if c["pieces"]]:
        found = [shape(p["outline"]) for p in cell["pieces"]]
        assert all(piece.is_valid for piece in found)
        # Which way round alternate cells are counted is not in the summary: one of the two fits.
        turns = (0, 1) if len(cell["corners"]) == 4 else (0,)
        tries = [laid(cell, lines, pattern, face, turn) for turn in turns]

        def off(tried):
            halves, dividers = tried
            right = dividers + [p for half in halves for p in half.pieces]
            assert len(right) == len(found)
            return max(a.symmetric_difference(b).area for a, b in zip(found, right))

        best = min(tries, key=off)
        assert off(best) < ROUNDING, cell["id"]
        covered = unary_union([p.buffer(1e-6, join_style="mitre") for p in found])
        assert sum(p.area for p in found) == pytest.approx(covered.area, abs=ROUNDING)
        for half in best[0]:
            for joint in half.joints:
                assert joint.area > 1e-3 * face
                assert joint.difference(covered).area < 1e-6, cell["id"]
        sums = [s for half in best[0] for s in half.sums]
        told = sum(sum(rows[p["id"]]["reentrant"]) for p in cell["pieces"])
        assert told == sum(s > 180 + 1e-4 for s in sums), cell["id"]
        wide += told
        seen += len(found)
    assert seen >= 9
    assert wide > 0 or name == "diagonals" or ratio < 4


@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("name", ["hemp-leaf", "variant-hemp-leaf"])
def test_plain_ends_leave_open_what_is_told(ground, name, tmp_path):
    """By hand a re-entrant end is refused; a plain one lies in the true one, is convex, touches the point where
    the axes meet, and leaves triangles open whose legs along the faces are told."""
    face = 1.3
    seen = 0
    for k, faces in enumerate(faces_of(name, 3.3)):
        pattern = unlike(name, faces)
        more = {"cut": "by-hand"}
        true = check(ground(tmp_path / f"b{k}", own_infill(tmp_path / f"b{k}", pattern, face, crush=2)))
        path = ground(tmp_path / f"a{k}", own_infill(tmp_path / f"a{k}", pattern, face, **more))
        done = call("check", path)
        if not any(any(row["reentrant"]) for row in true["infill"]):
            assert done.returncode == 0, said(done)
            continue
        seen += 1
        assert done.returncode == 1 and "infill-end" in done.stderr, said(done)
        assert "plain_ends = true" in done.stderr and "ends of piece i" in done.stderr
        more["plain_ends"] = True
        path = ground(tmp_path / f"c{k}", own_infill(tmp_path / f"c{k}", pattern, face, **more))
        plain = check(path)
        (told,) = [c for c in plain["checks"] if c["id"] == "infill-end"]
        assert told["status"] == "warn"
        rows = {row["id"]: row for row in plain["infill"]}
        true_rows = {row["id"]: row for row in true["infill"]}
        legs = dict.fromkeys(rows, 0.0)
        for a, b in zip(true["cells"], plain["cells"], strict=True):
            for one, other in zip(a["pieces"], b["pieces"], strict=True):
                whole, cut = shape(one["outline"]), shape(other["outline"])
                assert cut.difference(whole).area < 1e-4
                assert cut.convex_hull.area == pytest.approx(cut.area, abs=1e-4)
                if not any(true_rows[one["id"]]["reentrant"]):
                    assert whole.symmetric_difference(cut).area < 1e-4
                    continue
                for open_one in sweeps.parts_of(whole.difference(cut.buffer(1e-6))):
                    # Area = leg * half the face / 2; the hair's breadth of the buffer is lost.
                    leg = 2 * open_one.area / (rows[other["id"]]["face"] / 2)
                    legs[other["id"]] = max(legs[other["id"]], leg)
        assert max(legs.values()) == pytest.approx(told["value"], abs=1e-4)
        for row in plain["infill"]:
            assert row["open"] == pytest.approx(legs[row["id"]], abs=1e-4), row["id"]
            assert row["reentrant"] == [False, False]
    assert seen


def test_figures_of_six_and_two():
    """tan a = w1 sin p / (w2 + w1 cos p), as crossing of lines: 100.893 and 19.107 for 6 and 2 at 120 degrees."""
    way = math.radians(120)
    x, y = seam_point(6, 0, 2, way)
    assert math.degrees(math.atan2(y, x)) == pytest.approx(100.893, abs=5e-4)
    x, y = seam_point(6, -way, 2, 0)
    assert -math.degrees(math.atan2(y, x)) == pytest.approx(19.107, abs=5e-4)


def test_ends_of_six_and_two(tmp_path):
    """The same in the summary, for pieces of 6 and 2 that meet at 120 degrees."""
    path = three_way(tmp_path, own_infill(tmp_path, unlike("hemp-leaf", [3, 1, 1]), 2))
    job = check(path)
    (wide,) = [row for row in job["infill"] if row["face"] == pytest.approx(6)]
    assert wide["reentrant"] == [False, True]
    assert wide["ends"][1] == pytest.approx([100.893, 100.893], abs=5e-4)
    narrow = [row for row in job["infill"] if row["face"] == pytest.approx(2)]
    assert narrow
    for row in narrow:
        assert sorted(row["ends"][1]) == pytest.approx([19.107, 60], abs=5e-4)


def beamed(folder, **more):
    """Three faces, a fit allowance, a beam's kerf."""
    pattern = unlike("variant-hemp-leaf", [2.9, 2.1, 2.6, 1, 1.2, 0.9])
    return three_way(folder, own_infill(folder, pattern, 1.7, allowance=0.07, **more))


def beamed_longer(folder):
    """Longer than their places."""
    pattern = unlike("hemp-leaf", [3.3, 1, 1.4])
    return three_way(folder, own_infill(folder, pattern, 1.7, allowance=-0.05))


def relieved(folder):
    """A beam that runs on into the corners."""
    return beamed(folder, least_length=0.2)


def routed(folder, **more):
    """A cutter of 3 mm, from stock of its own, on a machine that holds short pieces."""
    (folder / "own.toml").write_text(toml(unlike("hemp-leaf", [3.1, 1.1, 1])))
    board = changed(fixture("material", "mdf-3"), {"router.tab_width": 2, "router.tabs": 2})
    (folder / "board.toml").write_text(toml(board))
    table = infill(
        face=4.3, depth=3, pattern="own.toml", material="board.toml", stock="mdf-sheets",
        allowance=0.05, cut="outlines", leave_cut_cells=True,
    )  # fmt: skip
    more = {
        **table, "ground.pitch_up": 121.3, "ground.pitch_across": 127.9, "ground.columns": 2,
        "ground.rows": 2, "outline.overhang": 0, **more,
    }  # fmt: skip
    path = odd.odd_router(folder, **more)
    machine = folder / "machine.toml"
    machine.write_text(re.sub(r"hold_length = .*", "hold_length = 10", machine.read_text()))
    return path


CUT = [
    (beamed, {}, None), (beamed_longer, {}, None), (relieved, {"cut.relief": "wall"}, "end"),
    (routed, {}, "end"),
]  # fmt: skip


@pytest.mark.parametrize("writer, more, relief", CUT)
def test_re_entrant_outlines_are_cut(writer, more, relief, tmp_path):
    """What the programs sweep, read by rs274.py, leaves every piece with its notch; drawings hold the same
    outlines, read by ezdxf; the folder is proven."""
    path = writer(tmp_path)
    if more:
        text = path.read_text()
        assert "[cut]" in text
        lines = "\n".join(f"{key.split('.')[1]} = {value!r}" for key, value in more.items())
        path.write_text(text.replace("[cut]", f"[cut]\n{lines}"))
    folder = make(path, tmp_path / "out")
    done = call("prove", folder)
    assert done.returncode == 0, said(done)
    job = summary(folder)
    rows = {row["id"]: row for row in job["infill"]}
    notched = {i for i, row in rows.items() if any(row["reentrant"])}
    assert notched
    seen = 0
    for sheet in sweeps.sheets(folder):
        if "-infill-" not in sheet.setup["file"]:
            continue
        radius = (sheet.setup["kerf"] or sheet.setup["tool_diameter"]) / 2
        through = [p for p in sheet.paths if p.height is None or p.height <= 0]
        left = sheet.sheet.difference(sweeps.swept(through, radius))
        drawn = []
        stem = sheet.setup["file"].removeprefix("gcode/").rsplit(".", 1)[0]
        for e in ezdxf.readfile(folder / "dxf" / f"{stem}-drawn-size.dxf").modelspace():
            if e.dxftype() == "LWPOLYLINE" and e.is_closed:
                drawn.append(Polygon(list(e.get_points("xy"))))
        for piece in sheet.pieces:
            verdict = sweeps.judge(piece, left, radius, relief)
            assert verdict.sound(), (piece.id, verdict.removed, verdict.standing)
            assert sweeps.fits(verdict.loose, piece, radius, relief), piece.id
            assert min(d.symmetric_difference(piece.shape).area for d in drawn) < ROUNDING
            if piece.id in notched:
                seen += 1
                hull = piece.shape.convex_hull.difference(piece.shape)
                assert hull.difference(verdict.loose).area > 0.5 * hull.area, "the notch is open"
    assert seen == sum(rows[i]["count"] for i in notched)


def test_a_cutter_without_relief_is_held_to_the_crush(tmp_path):
    """A round of 1.5 mm stays 1.5 / sin h - 1.5 short of a corner whose walls make 2 h."""
    path = routed(tmp_path, **{"cut.relief": "none"})
    done = call("check", path)
    assert done.returncode == 1 and "corner-fillet" in done.stderr, said(done)
    assert "re-entrant ends of piece i" in done.stderr and 'relief = "corner"' in done.stderr


BAD = [
    ({"infill.plain_ends": "yes"}, "plain_ends"),
    ({"infill.plain_end": True}, "did you mean `plain_ends`"),
]


@pytest.mark.parametrize("changes, words", BAD)
def test_bad_keys_are_told(changes, words, tmp_path):
    panel = {**infill(face=3), **changes}
    done = call("check", write_job(tmp_path, "check", panel=panel))
    assert done.returncode == 2 and words in done.stderr and "^" in done.stderr, said(done)
