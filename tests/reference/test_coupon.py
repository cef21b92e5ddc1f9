"""A coupon cut with another kerf or cutter than written tells the true one.

Programs are read by rs274.py (NISTIR 6556) and swept by shapely with the true width; the notch that a bar
presses into is found on what is left, as a maker would, and its number handed to the program.
"""

import csv
import json

import ezdxf
import pytest
from shapely.geometry import LineString, Point, Polygon

import rs274
import sweeps
from workshop import call, make, said, summary, write_job

# Coordinates are written to 0.001 mm, so that a wall is up to half of that off.
ROUNDED = 0.0015


class Coupon:
    """A coupon's folder, and what a cut of any width leaves of its comb."""

    def __init__(self, folder, base, **changes):
        panel = write_job(folder / "in", base, **changes)
        done = call("coupon", panel, "--out", folder / "out")
        assert done.returncode == 0, said(done)
        self.folder, self.job = folder / "out", summary(folder / "out")
        self.told = self.job["coupon"]
        (setup,), (self.strip,) = self.job["setups"], self.job["nest"]["strips"]
        assert setup["coupon"] is True
        self.depth = self.job["panel"]["depth"]
        self.comb = next(p for p in self.strip["pieces"] if p["id"] == "comb-1")
        self.paths = sweeps.paths(rs274.read((self.folder / setup["file"]).read_text()))
        self.sheet = sweeps.box(0, 0, self.strip["length"], self.strip["width"])

    def left(self, cut):
        """The comb, parted from its bridges or tabs; the waste in its notches stays with the sheet."""
        x, y = self.comb["x"], self.comb["y"]
        below = sweeps.box(0, y - 2 * cut, self.strip["length"], y)
        region = self.sheet.difference(below).difference(sweeps.swept(self.paths, cut / 2))
        (comb,) = [p for p in sweeps.parts_of(region) if p.contains(Point(x + 1, y + self.depth / 2))]
        return comb

    def gaps(self, region, height):
        """[(middle, width)] of the openings of the comb at a height over its back edge."""
        y = self.comb["y"] + height
        row = LineString([(0, y), (self.strip["length"], y)]).intersection(region)
        wood = sorted((p.bounds[0], p.bounds[2]) for p in row.geoms)
        opened = [((a + b) / 2 - self.comb["x"], b - a) for (_, a), (b, _) in zip(wood, wood[1:])]
        return [gap for gap in opened if gap[0] > 0.5]

    def notches(self, region):
        # Over the reach of relief along the floor.
        return self.gaps(region, 0.9 * self.depth)[: len(self.told["notches"])]

    def read(self, notch, *more):
        done = call("read-coupon", self.folder, "--notch", notch, *more, "--json")
        assert done.returncode == 0, said(done)
        return json.loads(done.stdout)


@pytest.fixture(scope="module")
def beam(tmp_path_factory):
    material = {"laser.kerf": 0.23, "thickness": 2.37, "crush": 0.5}
    panel = {"ground.depth": 13.1, "cut.clearance": 0.11}
    return Coupon(tmp_path_factory.mktemp("beam"), "demo", panel=panel, material=material)


@pytest.fixture(scope="module", params=["corner", "none"])
def cutter(request, tmp_path_factory):
    tool = {
        "name": "straight cutter",
        "diameter": 2.93,
        "flutes": 2,
        "flute_length": 15,
        "stick_out": 25,
        "number": 1,
    }
    return Coupon(
        tmp_path_factory.mktemp("cutter"),
        "router-square",
        panel={"cut.relief": request.param},
        machine={"router.tool": tool},
    )


def both(beam, cutter):
    return [(beam, 0.23, 2.37, 0.02), (cutter, 2.93, 4.0, 0.05)]


def test_as_written_every_notch_has_its_drawn_width(beam, cutter):
    for coupon, cut, bar, step in both(beam, cutter):
        drawn = coupon.told["notches"]
        assert coupon.told["bar"] == [bar, bar]
        assert coupon.told["cut"] == cut
        assert drawn[len(drawn) // 2] == pytest.approx(bar)
        assert [b - a for a, b in zip(drawn, drawn[1:])] == pytest.approx([step] * (len(drawn) - 1))
        found = coupon.notches(coupon.left(cut))
        assert [w for _, w in found] == pytest.approx(drawn, abs=ROUNDED)


def test_marks_stand_under_the_first_notch_and_every_fifth(beam, cutter):
    for coupon, cut, _, _ in both(beam, cutter):
        left = coupon.left(cut)
        notches = coupon.notches(left)
        numbers = [n for n in range(1, len(notches) + 1) if n == 1 or n % 5 == 0]
        marks = coupon.gaps(left, 1.0)[: len(numbers)]
        assert [m for m, _ in marks] == pytest.approx([notches[n - 1][0] for n in numbers], abs=0.01)


def test_the_drawing_has_the_notches_too(beam, cutter):
    """DXF at drawn size, read by ezdxf."""
    for coupon, _, _, _ in both(beam, cutter):
        (path,) = (coupon.folder / "dxf").glob("*-drawn-size.dxf")
        lines = ezdxf.readfile(path).modelspace().query("LWPOLYLINE")
        combs = [Polygon([p[:2] for p in line.get_points()]) for line in lines]
        comb = max(combs, key=lambda shape: len(shape.exterior.coords))
        assert comb.is_valid
        found = coupon.notches(comb)
        assert [w for _, w in found] == pytest.approx(coupon.told["notches"], abs=1e-6)


def first_fit(coupon, cut, bar):
    widths = [w for _, w in coupon.notches(coupon.left(cut))]
    return next((n for n, w in enumerate(widths, 1) if w >= bar - ROUNDED), None)


@pytest.mark.parametrize("off", [-0.17, -0.06, -0.013, 0.0, 0.007, 0.04, 0.2])
def test_the_reading_tells_the_true_kerf(beam, off):
    true = 0.23 + off
    reading = beam.read(first_fit(beam, true, 2.37))
    # The first notch that is wide enough is up to one step too wide.
    assert true - 0.02 - ROUNDED <= reading["measured"] - ROUNDED <= true
    if round(off * 100) % 2 == 0 and off == round(off, 2):
        assert reading["measured"] == pytest.approx(true, abs=ROUNDED), "exact on a whole step"


@pytest.mark.parametrize("off", [-0.25, -0.11, 0.0, 0.05, 0.17, 0.3])
def test_the_reading_tells_the_true_cutter(cutter, off):
    true = 2.93 + off
    reading = cutter.read(first_fit(cutter, true, 4.0))
    assert reading["key"] == "router.tool.diameter"
    assert true - 0.05 - ROUNDED <= reading["measured"] - ROUNDED <= true


def test_a_bar_of_another_thickness_tells_the_same_kerf(beam):
    """Two bars, one cut: each presses into its own notch."""
    for bar in (2.31, 2.45):
        reading = beam.read(first_fit(beam, 0.25, bar), "--bar", bar)
        assert reading["measured"] == pytest.approx(0.25, abs=0.02 + ROUNDED), bar


def test_a_flaring_beam_is_read_face_by_face(beam):
    """A cut 0.28 wide at one face and 0.20 at the other: joints follow the narrow one."""
    faces = [first_fit(beam, cut, 2.37) for cut in (0.28, 0.20)]
    for one, other in (faces, faces[::-1]):
        reading = beam.read(one, "--underside", other)
        assert reading["measured"] == pytest.approx(0.20, abs=0.02 + ROUNDED)
        assert reading["flare"] == pytest.approx(0.08, abs=0.02 + ROUNDED)


def test_the_list_says_what_a_reading_says(beam, cutter):
    for coupon, cut, bar, _ in both(beam, cutter):
        with open(coupon.folder / "coupon.csv", newline="") as file:
            rows = list(csv.DictReader(file))
        assert [int(row["notch"]) for row in rows] == list(range(1, len(rows) + 1))
        assert [float(row["drawn_mm"]) for row in rows] == coupon.told["notches"]
        for row in rows:
            true = cut + bar - float(row["drawn_mm"])
            if true > 1e-9:
                assert float(row["cut_mm"]) == pytest.approx(true, abs=1e-6)
            else:
                assert row["cut_mm"] == ""
        assert float(rows[4]["cut_mm"]) == coupon.read(5)["measured"]


def test_a_corrected_file_makes_joints_that_fit(tmp_path):
    """The whole round: a coupon cut 0.06 too wide, read, written down; then the panel's own notches,
    cut with the same beam, have their drawn width."""
    true = 0.21
    coupon = Coupon(tmp_path, "demo")
    material = tmp_path / "in" / "material.toml"
    notch = first_fit(coupon, true, 1.5)
    done = call("read-coupon", coupon.folder, "--notch", notch, "--into", material)
    assert done.returncode == 0, said(done)
    folder = make(tmp_path / "in" / "panel.toml", tmp_path / "job")
    for sheet in sweeps.sheets(folder):
        left = sheet.sheet.difference(sweeps.swept(sheet.paths, true / 2))
        for piece in sheet.pieces:
            assert sweeps.judge(piece, left, true / 2).sound(), piece.id
