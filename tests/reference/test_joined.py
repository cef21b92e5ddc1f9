"""Pieces too short for a router to hold, cut joined end to end and sawn apart in grooves.

The tool is swept by shapely along the G-code, height by height. Sawing and paring are one more cut: all
that a groove's outline covers is gone. What makes a piece short is the machine file's hold length; that a
groove is half as deep as the stock is a rule of the project.
"""

import math

import pytest
from shapely import affinity
from shapely.geometry import LineString, box
from shapely.ops import unary_union

import sweeps
from sweeps import REPLAY, SPECK, fits, judge, swept
from test_kerf import slabs
from workshop import call, flat_runs, make, said, summary, write_job

# Small lattices at odd values; the second with notches that run out of ends, the third three to a joint.
PANELS = {
    "clear": {
        "quantity": 3, "ground.columns": 2, "ground.rows": 2,
        "ground.pitch_across": 41.3, "ground.pitch_up": 37.7,
        "outline.overhang": 12,
    },
    "run out": {
        "quantity": 2, "ground.columns": 2, "ground.rows": 3,
        "ground.pitch_across": 33.3, "ground.pitch_up": 22.7,
        **{f"outline.{side}": {"clear": 11} for side in ("left", "right", "bottom", "top")},
        "outline.overhang": 10,
    },
}  # fmt: skip
# (panel, hold length, kerf of the saw, tool, thickness readings)
JOBS = [
    ("clear", 270.0, None, 3.0, 4.0),
    ("clear", 300.0, 4.1, 3.0, [3.93, 4.0, 4.01]),
    ("run out", 200.0, 1.0, 3.0, 4.0),
    ("run out", 330.0, 6.2, 2.4, 4.13),
]


def job(folder, panel, hold, kerf, tool, thickness, **more):
    machine = {"router.hold_length": hold, "router.tool.diameter": tool}
    if kerf is not None:
        machine["router.saw_kerf"] = kerf
    material = {"thickness": thickness, **more.pop("material", {})}
    return write_job(
        folder, "router-square", panel=PANELS[panel], machine=machine, material=material, **more
    )


@pytest.fixture(scope="module", params=JOBS, ids=str)
def joined(request, tmp_path_factory):
    """(parameters, folder) of a job with joined pieces."""
    folder = tmp_path_factory.mktemp("joined")
    return request.param, make(job(folder / "in", *request.param), folder / "out")


def grooves(strip):
    return [g for chain in strip["joined"] for g in chain["grooves"]]


def rect(groove):
    return box(*groove["min"][:2], *groove["max"][:2])


def end_wood(piece, x):
    """From where to where a piece has wood at its end x, in the sheet's frame."""
    inwards = x + (1e-4 if x < piece.shape.centroid.x else -1e-4)
    low, high = piece.shape.bounds[1] - 1, piece.shape.bounds[3] + 1
    wood = LineString([(inwards, low), (inwards, high)]).intersection(piece.shape)
    return wood.bounds[1], wood.bounds[3]


def length_of(job, member):
    return next(m["length"] for m in job["members"] if m["id"] == member)


def ends_at(job, piece, x):
    return abs(piece.x + length_of(job, piece.id) - x) < 1e-6


def parts_of_chain(job, chain, pieces):
    """The pieces of a chain from left to right: each ends or begins at a groove, in the grooves' row."""
    row = [p for p in pieces if abs(p.y - chain["grooves"][0]["min"][1]) < 1e-6]
    [first] = [p for p in row if ends_at(job, p, chain["grooves"][0]["min"][0])]
    parts = [first]
    for groove in chain["grooves"]:
        [after] = [p for p in row if abs(p.x - groove["max"][0]) < 1e-6]
        parts.append(after)
    assert [p.id for p in parts] == chain["ids"]
    return parts


def test_everything_is_long_enough_to_hold(joined):
    (_, hold, kerf, tool, _), folder = joined
    job = summary(folder)
    gap = max(tool, (1.0 if kerf is None else kerf) + 0.5)
    placed, shortest = [], math.inf
    for strip, sheet in zip(job["nest"]["strips"], sweeps.sheets(folder)):
        alone = list(sheet.pieces)
        for chain in strip["joined"]:
            parts = parts_of_chain(job, chain, sheet.pieces)
            for part in parts:
                alone.remove(part)
            for a, b, groove in zip(parts, parts[1:], chain["grooves"]):
                assert b.x - (a.x + length_of(job, a.id)) == pytest.approx(gap, abs=1e-6)
                assert groove["min"][:2] == pytest.approx([b.x - gap, a.y], abs=1e-6)
                top = [b.x, a.y + sheet.depth, sheet.face]
                assert groove["max"] == pytest.approx(top, abs=1e-6)
                assert groove["min"][2] == pytest.approx(sheet.face / 2, abs=5.1e-4)
            total = sum(length_of(job, p.id) for p in parts) + gap * (len(parts) - 1)
            assert chain["length"] == pytest.approx(total, abs=1e-6)
            assert total >= hold - 1e-6
            shortest = min(shortest, total)
        assert all(length_of(job, p.id) >= hold for p in alone), "nothing short is cut alone"
        placed += [p["id"] for p in strip["pieces"]]
    quantity = job["panel"]["quantity"]
    assert sorted(placed) == sorted(m["id"] for m in job["members"] for _ in range(quantity))
    [check] = [c for c in job["checks"] if c["id"] == "hold-length"]
    assert check["value"] == pytest.approx(shortest) and check["limit"] == hold
    assert any("joined end to end" in w for w in job["warnings"])


def test_grooves_are_half_deep_and_the_rest_stands(joined):
    (_, _, _, tool, _), folder = joined
    job = summary(folder)
    seen = 0
    for strip, sheet in zip(job["nest"]["strips"], sweeps.sheets(folder)):
        for low, high, through in slabs(sheet):
            cut = swept(through, tool / 2)
            for chain in strip["joined"]:
                parts = parts_of_chain(job, chain, sheet.pieces)
                for a, b, groove in zip(parts, parts[1:], chain["grooves"]):
                    seen += 1
                    between(sheet, a, b, groove, (low, high), cut, tool)
    assert seen >= 6


def between(sheet, a, b, groove, slab, cut, tool):
    """What is cut between two pieces at one height."""
    (low, high), floor, shape = slab, groove["min"][2], rect(groove)
    if low >= floor - REPLAY:
        clear = shape.buffer(-REPLAY, join_style="mitre").difference(cut)
        assert clear.area <= SPECK, "cleared down to the floor"
        return
    assert high <= floor + REPLAY, "a pass ends at the floor"
    x0, y0, x1, y1 = shape.bounds
    wood = [end_wood(a, x0), end_wood(b, x1)]
    bottom, top = max(w[0] for w in wood), min(w[1] for w in wood)
    assert top - bottom >= sheet.material["least_section"] - 1e-6
    bridge = box(x0, bottom + REPLAY, x1, top - REPLAY)
    assert bridge.intersection(cut).area <= SPECK, "the wood that joins them stands"
    for under, over in [(y0 - tool + 0.02, y0 - REPLAY), (y1 + REPLAY, y1 + tool - 0.02)]:
        waste = box(x0 + REPLAY, under, x1 - REPLAY, over)
        assert waste.difference(cut).area <= SPECK, "cut round as one"


def test_sawn_and_pared_pieces_have_the_drawn_size(joined):
    (_, _, _, tool, _), folder = joined
    job = summary(folder)
    for strip, sheet in zip(job["nest"]["strips"], sweeps.sheets(folder)):
        sawn = unary_union([rect(g) for g in grooves(strip)])
        for low, high, through in slabs(sheet):
            left = sheet.sheet.difference(swept(through, tool / 2)).difference(sawn)
            for piece in sheet.pieces:
                verdict = judge(piece, left, tool / 2, "floor")
                assert verdict.sound(), (piece.id, low, verdict)
                assert fits(verdict.loose, piece, tool / 2, "floor"), (piece.id, low)


def test_tabs_hold_every_chain_and_keep_off_the_grooves(joined):
    (_, _, _, tool, _), folder = joined
    job = summary(folder)
    for strip, sheet in zip(job["nest"]["strips"], sweeps.sheets(folder)):
        [(_, _, through)] = [s for s in slabs(sheet) if s[0] == 0.0]
        sawn = unary_union([rect(g) for g in grooves(strip)])
        left = sheet.sheet.difference(swept(through, tool / 2)).difference(sawn)
        for chain in strip["joined"]:
            parts = parts_of_chain(job, chain, sheet.pieces)
            holds = [h for p in parts for h in judge(p, left, tool / 2, "floor").holds]
            assert len(holds) == sheet.material["router"]["tabs"]
            for hold in holds:
                above = affinity.translate(hold, 0, tool)
                assert all(not above.intersects(rect(g)) for g in chain["grooves"])


def test_the_bound_holds_however_pieces_are_joined(joined):
    """No fewer strips than wood and gaps fill; no more claimed than first fit takes with every row one
    chain (first fit decreasing, a textbook's way to pack)."""
    (_, _, kerf, tool, _), folder = joined
    job = summary(folder)
    gap = max(tool, (1.0 if kerf is None else kerf) + 0.5)
    nest = job["nest"]
    strip = nest["strips"][0]
    # Trim 8, which keeps the tool over the stock; rows of depth 12 with gap 2 and two cuts between.
    room = strip["length"] - 2 * 8 + gap
    rows_on_strip = math.floor((strip["width"] - 2 * 8 + 2 + 2 * tool) / (12 + 2 + 2 * tool))
    sizes = [m["length"] + gap for m in job["members"]] * job["panel"]["quantity"]
    rows = []
    for size in sorted(sizes, reverse=True):
        row = next((r for r in rows if sum(r) + size <= room + 1e-9), None)
        if row is None:
            rows.append([size])
        else:
            row.append(size)
    assert nest["lower_bound"] <= math.ceil(len(rows) / rows_on_strip)
    assert nest["used"] == len(nest["strips"]) >= math.ceil(sum(sizes) / room / rows_on_strip - 1e-9)
    assert nest["optimal"] == (nest["lower_bound"] == nest["used"])


@pytest.mark.parametrize(
    "hold, status",
    # Two of 133.4 and a gap of 3 are 269.8; three of them are longer than the strip's 544 less its trim.
    [(133.4, 0), (269.8, 0), (600, 1)],
)
def test_what_cannot_be_held_is_refused(tmp_path, hold, status):
    panel = {**PANELS["clear"], "ground.pitch_across": 33.7, "ground.pitch_up": 33.7, "quantity": 2}
    path = write_job(
        tmp_path, "router-square", panel=panel, machine={"router.hold_length": hold}
    )  # fmt: skip
    done = call("check", path)
    assert done.returncode == status, said(done)
    if status:
        assert "hold-length" in done.stderr and not (tmp_path / "out").exists()


def test_a_groove_has_a_layer_of_its_own(tmp_path):
    ezdxf = pytest.importorskip("ezdxf")
    path = job(
        tmp_path / "in", *JOBS[1],
        post_processor={"dxf.groove": {"name": "half-deep", "color": 42}},
    )  # fmt: skip
    folder = make(path, tmp_path / "out")
    told = summary(folder)
    for setup, strip in flat_runs(told):
        stem = setup["file"].removeprefix("gcode/").removesuffix(".nc")
        drawn = ezdxf.readfile(folder / "dxf" / f"{stem}-drawn-size.dxf")
        assert drawn.layers.get("half-deep").color == 42
        lines = [e for e in drawn.modelspace() if e.dxftype() == "LWPOLYLINE"]
        found = [e for e in lines if e.dxf.layer == "half-deep"]
        wanted = [rect(g) for g in grooves(strip)]
        assert len(found) == len(wanted)
        for line, shape in zip(found, wanted):
            x, y = zip(*line.get_points("xy"))
            assert (min(x), min(y), max(x), max(y)) == pytest.approx(shape.bounds, abs=2e-6)
        outlines = [e for e in lines if e.dxf.layer == "lap-outline"]
        chains = strip["joined"]
        alone = len(strip["pieces"]) - sum(len(c["ids"]) for c in chains)
        assert len(outlines) == len(chains) + alone, "joined pieces have one outline"
        path_of = ezdxf.readfile(folder / "dxf" / f"{stem}-tool-compensated.dxf")
        strokes = [e for e in path_of.modelspace() if e.dxf.layer == "half-deep"]
        assert len(strokes) == len(wanted) and not any(e.closed for e in strokes)
        notes = " ".join(e.dxf.text for e in drawn.modelspace() if e.dxf.layer == "lap-note")
        # Where there is no room for all notes on the stock, they are beside the files alone.
        told = ["half-deep" in notes, "Saw the pieces apart" in notes]
        assert all(told) or ("More: notes.txt" in notes or not notes) and not any(told)
    beside = (folder / "dxf" / "notes.txt").read_text()
    assert "half-deep, colour 42: grooves" in beside and "Saw the pieces apart" in beside


def test_no_grooves_no_layer(tmp_path):
    """What has no joined pieces is as it was: five layers, no chains."""
    ezdxf = pytest.importorskip("ezdxf")
    path = write_job(tmp_path / "in", "router-square")
    folder = make(path, tmp_path / "out")
    assert all(strip["joined"] == [] for strip in summary(folder)["nest"]["strips"])
    for file in (folder / "dxf").glob("*.dxf"):
        assert "lap-groove" not in [layer.dxf.name for layer in ezdxf.readfile(file).layers]


def test_a_short_piece_has_no_drawing_of_its_own(tmp_path):
    path = write_job(
        tmp_path / "in",
        "router-square",
        panel={**PANELS["clear"], "cut.dxf_files": "both"},
        machine={"router.hold_length": 270},
    )
    folder = make(path, tmp_path / "out")
    assert not list((folder / "dxf").glob("*-piece-*"))
    assert (folder / "dxf" / "square-in-hardwood-sheet-01-drawn-size.dxf").exists()
