"""The shapes that flat cutting must leave, from job.json alone.

A side view has x along the piece from its first end and y = z of the piece, from the back edge. Outlines
of infill are seen from the front.
"""

import math
from collections import namedtuple

from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

Piece = namedtuple("Piece", "id shape x y")


def side_view(member, depth, face):
    """Length by depth less the notches, a member turned as its class lies on the sheet.

    A skew end is cut square to its long point: face/2 * |cot angle| past the centre line's end.
    """

    def past(end):
        if end["shape"] == "square":
            return 0.0
        return face / 2 * abs(1 / math.tan(math.radians(end["angle"])))

    first, last = (past(end) for end in member["ends"])
    length = member["length"] + first + last
    over = member["turn"] in ("over", "both")
    end_for_end = member["turn"] in ("end", "both")
    notches = []
    for joint in member["joints"]:
        at = joint["at"] - member["from"] + first
        at = length - at if end_for_end else at
        front = (joint["edge"] == "front") != over
        low, high = (depth - joint["depth"], depth + 1) if front else (-1, joint["depth"])
        notches.append(box(at - joint["run"] / 2, low, at + joint["run"] / 2, high))
    return box(0, 0, length, depth).difference(unary_union(notches))


def plan_view(row):
    """A piece of infill as it is cut: its place, and the same shorter by the fit allowance from its last end,
    have it in common (each end keeps its bevels); a longer one is all that its place passes over on the way there.
    Its lower edge lies at y = 0."""
    place = Polygon(row["outline"])
    by = row["cut_length"] - row["length"]
    shorter = affinity.translate(place, by, 0)
    if by <= 0:
        cut = place.intersection(shorter)
    else:
        ring = list(place.exterior.coords)
        passed = [
            Polygon([(x0, y0), (x1, y1), (x1 + by, y1), (x0 + by, y0)])
            for (x0, y0), (x1, y1) in zip(ring, ring[1:])
            if y0 != y1
        ]
        cut = unary_union([place, shorter, *passed])
    return affinity.translate(cut, -cut.bounds[0], -cut.bounds[1])


def cut_pieces(job):
    """Everything that lies on the sheets, by id: members and the bars of a lapped surround as their classes
    are cut, blanks of infill as bars without joints, outlines of infill with their shape."""
    square = {"angle": 90.0, "shape": "square"}
    classes = {c["id"]: c for c in job["classes"]}
    bars = job["members"] + [side["bar"] for side in job["surround"] if "bar" in side]
    found = {
        bar["id"]: {**classes[bar["class"]], "id": bar["id"], "class": bar["class"], "from": 0.0, "turn": "none"}
        for bar in bars
    }  # fmt: skip
    for row in job["infill"]:
        found[row["id"]] = {
            "id": row["id"], "class": row["id"], "length": row["blank"], "from": 0.0, "turn": "none",
            "ends": [square, square], "joints": [], "depth": row["depth"],
            "shape": plan_view(row) if row["cut"] == "outlines" else None,
        }  # fmt: skip
    return found


def pieces_of(job, strip, depth, face):
    """Every piece of a strip with its finished outline where it lies on the sheet."""
    members = cut_pieces(job)
    for piece in strip["pieces"]:
        member = members[piece["id"]]
        shape = member.get("shape") or side_view(member, member.get("depth", depth), face)
        placed = affinity.translate(shape, piece["x"], piece["y"])
        yield Piece(piece["id"], placed, piece["x"], piece["y"])


def inside_corners(shape):
    """[(corner, unit vector into the notch along the bisector)] of an outline's concave corners."""
    ring = list(shape.exterior.coords)[:-1]
    if not shape.exterior.is_ccw:
        ring.reverse()
    found = []
    for (ax, ay), (qx, qy), (bx, by) in zip(ring[-1:] + ring[:-1], ring, ring[1:] + ring[:1]):
        ux, uy, wx, wy = qx - ax, qy - ay, bx - qx, by - qy
        u, w = math.hypot(ux, uy), math.hypot(wx, wy)
        ux, uy, wx, wy = ux / u, uy / u, wx / w, wy / w
        if ux * wy - uy * wx < -1e-9:
            dx, dy = wx - ux, wy - uy
            length = math.hypot(dx, dy)
            found.append(((qx, qy), (dx / length, dy / length)))
    return found
