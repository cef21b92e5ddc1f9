"""A coupon cut with another kerf or cutter than written tells the true one; one cut as written tells the
clearance at which bars slide.

Programs are read by rs274.py (NISTIR 6556) and swept by shapely with the true width; the notch that a bar
presses into is found on what is left, as a maker would, and its number handed to the program.
"""

import csv
import json
import tomllib
from xml.etree import ElementTree

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

    def __init__(self, folder, base, kind="kerf", **changes):
        panel = write_job(folder / "in", base, **changes)
        done = call("coupon", panel, "--kind", kind, "--out", folder / "out")
        assert done.returncode == 0, said(done)
        self.folder, self.job = folder / "out", summary(folder / "out")
        self.told = self.job["coupon"]
        (setup,), (self.strip,) = self.job["setups"], self.job["nest"]["strips"]
        assert setup["coupon"] is True
        assert self.told["kind"] == kind
        self.depth = self.job["panel"]["depth"]
        self.comb = next(p for p in self.strip["pieces"] if p["id"] == "comb-1")
        source = tomllib.loads((self.folder / "source" / "panel.toml").read_text())
        self.relieved = source["cut"].get("relief") != "none"
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
    return Coupon(tmp_path_factory.mktemp("beam"), "plain-window", panel=panel, material=material)


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


@pytest.fixture(scope="module")
def beam_fit(tmp_path_factory):
    """Clearances about 0.11; the material bears -0.04 to 0.3."""
    material = {"laser.kerf": 0.23, "thickness": 2.37, "crush": 0.5, "press": 0.04, "play": 0.3}
    panel = {"ground.depth": 13.1, "cut.clearance": 0.11, "cut.dxf_version": "both"}
    folder = tmp_path_factory.mktemp("beam-fit")
    return Coupon(folder, "plain-window", "fit", panel=panel, material=material)


@pytest.fixture(scope="module")
def cutter_fit(tmp_path_factory):
    """Clearances about 0.02, in bars 4.13 thick; the material bears -0.08 to 0.3."""
    panel = {"ground.face": 4.13, "cut.clearance": 0.02, "cut.dxf_version": "both"}
    material = {"thickness": 4.13, "press": 0.08, "play": 0.3}
    folder = tmp_path_factory.mktemp("cutter-fit")
    return Coupon(folder, "router-square", "fit", panel=panel, material=material)


def fits(beam_fit, cutter_fit):
    """Each with its cut, bar, clearance and step."""
    return [(beam_fit, 0.23, 2.37, 0.11, 0.02), (cutter_fit, 3.0, 4.13, 0.02, 0.05)]


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


def test_a_fit_comb_lies_about_face_and_clearance(beam_fit, cutter_fit):
    for coupon, cut, bar, clearance, step in fits(beam_fit, cutter_fit):
        drawn = coupon.told["notches"]
        assert (coupon.told["cut"], coupon.told["clearance"]) == (cut, clearance)
        assert drawn[len(drawn) // 2] == pytest.approx(bar + clearance)
        assert [b - a for a, b in zip(drawn, drawn[1:])] == pytest.approx([step] * (len(drawn) - 1))
        found = coupon.notches(coupon.left(cut))
        assert [w for _, w in found] == pytest.approx(drawn, abs=ROUNDED)


def test_marks_stand_under_the_first_notch_and_every_fifth(beam, cutter, beam_fit, cutter_fit):
    kinds = both(beam, cutter) + [fit[:4] for fit in fits(beam_fit, cutter_fit)]
    for coupon, cut, _, _ in kinds:
        left = coupon.left(cut)
        notches = coupon.notches(left)
        numbers = [n for n in range(1, len(notches) + 1) if n == 1 or n % 5 == 0]
        marks = coupon.gaps(left, 1.0)[: len(numbers)]
        assert [m for m, _ in marks] == pytest.approx([notches[n - 1][0] for n in numbers], abs=0.01)


def corners(line):
    """Vertices of a polyline of either release."""
    if line.dxftype() == "LWPOLYLINE":
        return [tuple(p) for p in line.get_points()]
    return [tuple(p) for p in line.points()]


def test_the_drawings_have_the_notches_too(beam, cutter, beam_fit, cutter_fit):
    """DXF at drawn size in both releases, read by ezdxf."""
    releases = {"*-drawn-size.dxf": "LWPOLYLINE", "*-drawn-size-mm-r12.dxf": "POLYLINE"}
    for coupon in (beam, cutter, beam_fit, cutter_fit):
        count = 0
        for pattern, kind in releases.items():
            for path in (coupon.folder / "dxf").glob(pattern):
                count += 1
                combs = [
                    Polygon([v[:2] for v in corners(line)])
                    for line in ezdxf.readfile(path).modelspace().query(kind)
                ]
                comb = max(combs, key=lambda shape: len(shape.exterior.coords))
                assert comb.is_valid
                found = coupon.notches(comb)
                assert [w for _, w in found] == pytest.approx(coupon.told["notches"], abs=1e-6)
        assert count == (2 if coupon in (beam_fit, cutter_fit) else 1)


def test_the_picture_tells_number_and_width_over_each_notch(beam, cutter, beam_fit, cutter_fit):
    kinds = both(beam, cutter) + [fit[:4] for fit in fits(beam_fit, cutter_fit)]
    for coupon, cut, _, _ in kinds:
        svg = ElementTree.parse(coupon.folder / "coupon.svg").getroot()
        name = "{http://www.w3.org/2000/svg}"
        (group,) = [g for g in svg.iter(name + "g") if g.get("class") == "notches"]
        texts = [(float(t.get("x")), t.text) for t in group.iter(name + "text")]
        widths = [t for t in texts if "." in t[1]]
        assert [float(w) for _, w in widths] == pytest.approx(coupon.told["notches"], abs=5e-4)
        numbers = [t for t in texts if "." not in t[1]]
        count = len(widths)
        marked = [n for n in range(1, count + 1) if n == 1 or n % 5 == 0]
        assert sorted(int(n) for _, n in numbers) == sorted(list(range(1, count + 1)) + marked)
        # Everything of a notch stands over its middle; the picture is moved as a whole.
        middles = [at for at, _ in coupon.notches(coupon.left(cut))]
        off = numbers[0][0] - middles[0]
        for x, number in numbers:
            assert x - off == pytest.approx(middles[int(number) - 1], abs=0.02)
        # Turned figures stand on their baseline: all beside their middle by the same.
        aside = {round(x - off - at, 2) for (x, _), at in zip(widths, middles)}
        assert max(aside) - min(aside) <= 0.02 and max(map(abs, aside)) < 2


def test_the_comb_keeps_wood_between_and_over_its_notches(beam, cutter, beam_fit, cutter_fit):
    """The checks web and section against what is left: lengths of the row halfway up the notches and of
    the column over the first mark, relief apart."""
    kinds = both(beam, cutter) + [fit[:4] for fit in fits(beam_fit, cutter_fit)]
    for coupon, cut, _, _ in kinds:
        told = {check["id"]: check for check in coupon.job["checks"]}
        left = coupon.left(cut)
        notches = coupon.notches(left)
        # Marks are as wide as the widest notch: land is least where two neighbours are widest.
        ends = [(at - width / 2, at + width / 2) for at, width in notches]
        lands = [b[0] - a[1] for a, b in zip(ends, ends[1:])]
        bite = cut / 2 if coupon.job["setups"][0]["kind"] == "flat-router" and coupon.relieved else 0
        slack = max(w for _, w in notches) - min(w for _, w in notches)
        value = told["web"]["value"]
        assert min(lands) - 2 * bite - slack - ROUNDED <= value <= min(lands) - 2 * bite + ROUNDED
        x = coupon.comb["x"] + notches[0][0]
        column = LineString([(x, coupon.comb["y"] - 5), (x, coupon.comb["y"] + coupon.depth + 5)])
        kept = column.intersection(left).length
        assert told["section"]["value"] == pytest.approx(kept, abs=ROUNDED)


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


def slides(coupon, cut, needed):
    """The narrowest notch at least so wide, and the next one: where a bar slides and where it binds."""
    widths = [w for _, w in coupon.notches(coupon.left(cut))]
    notch = next(n for n, w in enumerate(widths, 1) if w >= needed - ROUNDED)
    return notch, notch - 1


@pytest.mark.parametrize("play", [-0.03, 0.0, 0.04, 0.113, 0.2])
def test_the_reading_tells_the_play_at_which_bars_slide(beam_fit, cutter_fit, play):
    for coupon, cut, bar, _, step in fits(beam_fit, cutter_fit):
        notch, binds = slides(coupon, cut, bar + play)
        reading = coupon.read(notch, "--binds", binds)
        assert reading["key"] == "cut.clearance"
        assert reading["measured"] == pytest.approx(coupon.told["notches"][notch - 1] - bar, abs=1e-6)
        assert play - ROUNDED <= reading["measured"] <= play + step + ROUNDED
        assert reading["binds"] == pytest.approx(reading["measured"] - step, abs=1e-6)


def test_a_play_that_the_material_does_not_bear_is_no_reading(beam_fit, cutter_fit):
    for coupon, cut, bar, clearance, step in fits(beam_fit, cutter_fit):
        files = tomllib.loads((coupon.folder / "source" / "material.toml").read_text())
        for notch in range(2, len(coupon.told["notches"]) + 1):
            told = coupon.told["notches"][notch - 1] - bar
            borne = -files["press"] - 1e-9 <= told <= files["play"] + 1e-9
            done = call("read-coupon", coupon.folder, "--notch", notch, "--binds", notch - 1)
            assert done.returncode == (0 if borne else 1), said(done)
            if not borne:
                assert ("press" if told < 0 else "play") in done.stderr


@pytest.mark.parametrize("play", [0.0, 0.07])
def test_a_fit_that_was_written_down_lets_the_panels_own_joints_slide(tmp_path, play):
    """The whole round: the coupon cut and tried, the clearance written, the panel made; every notch of
    its bars is as much wider than the bar as bars need, to a step."""
    material = {"thickness": 1.53}
    coupon = Coupon(tmp_path, "plain-window", "fit", material=material)
    before = (tmp_path / "in" / "panel.toml").read_text()
    notch, binds = slides(coupon, 0.15, 1.53 + play)
    panel = tmp_path / "in" / "panel.toml"
    done = call("read-coupon", coupon.folder, "--notch", notch, "--binds", binds, "--into", panel)
    assert done.returncode == 0, said(done)
    lines = zip(before.splitlines(), panel.read_text().splitlines(), strict=True)
    assert [a.split(" =")[0] for a, b in lines if a != b] == ["clearance"]
    folder = make(panel, tmp_path / "job")
    for width in notch_widths(folder, 0.15):
        assert play - ROUNDED <= width - 1.53 <= play + 0.02 + ROUNDED


def notch_widths(folder, cut):
    """Widths of all notches of a job's bars, swept with a cut of this width, away from their floors: from
    wood to wood of the piece, whatever stands between."""
    widths = []
    for sheet in sweeps.sheets(folder):
        left = sheet.sheet.difference(sweeps.swept(sheet.paths, cut / 2))
        for piece in sheet.pieces:
            x0, _, x1, _ = piece.shape.bounds
            for part in (0.2, 0.8):
                y = piece.y + part * sheet.depth
                row = LineString([(x0, y), (x1, y)]).intersection(left)
                stretches = sorted(s.bounds[::2] for s in getattr(row, "geoms", [row]))
                wood = [s for s in stretches if piece.shape.contains(Point(sum(s) / 2, y))]
                widths += [b[0] - a[1] for a, b in zip(wood, wood[1:])]
    assert widths
    return widths


@pytest.mark.parametrize("flare", [0.0, 0.05, 0.13])
def test_flare_shows_as_gap_at_the_wider_face(tmp_path, flare):
    """Notches swept with the wider cut: half of what they are wider than the bar is the gap told."""
    panel = write_job(tmp_path / "in", "plain-window", material={"laser.flare": flare})
    folder = make(panel, tmp_path / "out")
    widest = max(notch_widths(folder, 0.15 + flare))
    told = summary(folder)["dry_fit"]["largest_gap_mm"]
    assert told == pytest.approx((widest - 1.5) / 2, abs=ROUNDED)


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
    coupon = Coupon(tmp_path, "plain-window")
    material = tmp_path / "in" / "material.toml"
    notch = first_fit(coupon, true, 1.5)
    done = call("read-coupon", coupon.folder, "--notch", notch, "--into", material)
    assert done.returncode == 0, said(done)
    folder = make(tmp_path / "in" / "panel.toml", tmp_path / "job")
    for sheet in sweeps.sheets(folder):
        left = sheet.sheet.difference(sweeps.swept(sheet.paths, true / 2))
        for piece in sheet.pieces:
            assert sweeps.judge(piece, left, true / 2).sound(), piece.id
