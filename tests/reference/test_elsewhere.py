"""Drawings for a machine elsewhere, read by ezdxf and held against shapely: what a round cut along them leaves."""

import math

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.path import make_path
from odd import odd_square
from workshop import call, changed, make, said, summary, toml
import tomllib

# The program's own tolerance between drawing and cut, and how far chords lie from the arcs they stand for here, mm.
TOLERANCE = 0.005
CHORD = 0.0002


def contours(path, layer="lap-outline"):
    space = ezdxf.readfile(path).modelspace()
    found = space.query(f'LWPOLYLINE[layer=="{layer}"]')
    return [shapely.Polygon([(p.x, p.y) for p in make_path(e).flattening(CHORD)]) for e in found]


def sent(folder, cut, **more):
    """A job of odd values whose cut is made elsewhere; the panel file names neither machine nor post-processor."""
    panel = odd_square(folder / "in", **more)
    data = tomllib.loads(panel.read_text())
    data = changed(data, {"machine": None, "post_processor": None, "elsewhere": cut})
    panel.write_text(toml(data))
    return make(panel, folder / "out")


@pytest.mark.parametrize("cut", [{"kerf": 0.23}, {"tool_diameter": 1.37}], ids=["kerf", "tool"])
def test_a_cut_along_the_path_leaves_the_piece(tmp_path, cut):
    """The path of a cut of diameter d is where its centre runs: what a disc of d swept along it leaves (shapely's
    buffer of the ring) is the finished piece, but for what a round cannot reach, or takes to reach it."""
    out = sent(tmp_path, cut)
    (kind, width), = cut.items()
    size = {"kerf": "kerf", "tool_diameter": "tool"}[kind]
    drawn = sorted((out / "dxf").glob("*-drawn-size.dxf"))
    assert drawn
    for path in drawn:
        pieces = contours(path)
        paths = contours(path.with_name(path.name.replace("drawn-size", f"{size}-compensated")))
        assert len(pieces) == len(paths) > 0
        for piece, way in zip(sorted(pieces, key=place), sorted(paths, key=place), strict=True):
            swept = way.exterior.buffer(0.5 * width, quad_segs=90)
            left = shapely.Polygon(way.exterior).difference(swept)
            # A relief runs along the wall until its round passes through the corner: it reaches a diameter up from there.
            corner = width + TOLERANCE
            inner = shapely.MultiPoint(inside_corners(piece)).buffer(corner)
            off = left.symmetric_difference(piece).difference(inner)
            assert off.buffer(-TOLERANCE).is_empty, f"{path.name}: {off.area} mm2 off"
            # No cut comes into another piece.
            assert not any(
                swept.intersection(other).area > TOLERANCE
                for other in pieces
                if other is not piece and not other.intersects(way.centroid)
            )


def place(shape):
    return tuple(round(v) for v in shape.envelope.centroid.coords[0])


def inside_corners(piece):
    ring = list(piece.exterior.coords)[:-1]
    if shapely.Polygon(piece.exterior).exterior.is_ccw is False:
        ring.reverse()
    corners = []
    for before, at, after in zip([ring[-1], *ring], ring, [*ring[1:], ring[0]]):
        cross = (at[0] - before[0]) * (after[1] - at[1]) - (at[1] - before[1]) * (after[0] - at[0])
        if cross < -1e-9:
            corners.append(at)
    return corners


def test_the_finished_outlines_are_those_of_a_machine_of_ones_own(tmp_path):
    """Where the cut is made changes where pieces lie, not what they are."""

    def shapes(folder):
        found = [piece for path in (folder / "dxf").glob("*-drawn-size.dxf") for piece in contours(path)]
        return np.array(sorted((piece.area, piece.length) for piece in found))

    own = make(odd_square(tmp_path / "own"), tmp_path / "own-out")
    away = sent(tmp_path, {})
    # Chords stand for arcs, and their number hangs on where an arc begins.
    np.testing.assert_allclose(shapes(own), shapes(away), atol=0.002)
    assert not (away / "gcode").exists()
    job = summary(away)
    assert job["setups"] == []
    assert math.isclose(job["elsewhere"]["gap"], 10)
    done = call("prove", away)
    assert done.returncode == 0, said(done)
