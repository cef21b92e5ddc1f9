"""Beam and tool swept by shapely along the G-code leave pieces of the drawn size.

Programs are read by rs274.py (NISTIR 6556), outlines come from job.json.
"""

import pytest
from shapely import affinity

import sweeps
from sweeps import REPLAY, SPECK, fits, judge, parts_of, swept
from workshop import make, sources, write_job

KERFS = [0.05, 0.2, 0.5]
# Fillets of wide beams press into corners; whether card may bear that is not what is tested here.
SOFT = {"crush": 0.5}


def laser_job(folder, kerf, base="three-way-card", relief="none"):
    laser = {"laser.kerf": kerf, "laser.bridges": 3, "laser.bridge_width": 0.7, "laser.gap": 2.5}
    panel = {"ground.columns": 4, "ground.rows": 2, "cut.relief": relief, "cut.clearance": 0.06}
    path = write_job(folder / "in", base, panel=panel, material={**SOFT, **laser})
    return make(path, folder / "out")


@pytest.fixture(scope="module", params=KERFS)
def beam(request, tmp_path_factory):
    """(kerf, sheets) of a scale model cut with that kerf."""
    folder = laser_job(tmp_path_factory.mktemp("kerf"), request.param)
    found = sweeps.sheets(folder)
    assert sum(len(sheet.pieces) for sheet in found) >= 8
    return request.param, found


def left_of(sheet, kerf):
    return sheet.sheet.difference(swept(sheet.paths, kerf / 2))


def test_pieces_have_the_drawn_size(beam):
    kerf, found = beam
    for sheet in found:
        left = left_of(sheet, kerf)
        for piece in sheet.pieces:
            verdict = judge(piece, left, kerf / 2)
            assert verdict.removed <= SPECK, piece.id
            assert verdict.standing <= SPECK, piece.id
            assert fits(verdict.loose, piece, kerf / 2), piece.id


def test_bridges_stand_as_planned(beam):
    """As many and as wide as the material file has them, on the back edge, clear of notches."""
    kerf, found = beam
    for sheet in found:
        laser = sheet.material["laser"]
        left = left_of(sheet, kerf)
        for piece in sheet.pieces:
            holds = judge(piece, left, kerf / 2).holds
            assert len(holds) == laser["bridges"], piece.id
            for hold in holds:
                x0, _, x1, _ = hold.bounds
                # The beam's rounds end on either side: narrowest in the middle of the cut.
                middle = hold.intersection(
                    affinity.translate(sheet.sheet, 0, piece.y - kerf / 2)
                ).intersection(
                    affinity.translate(sheet.sheet, 0, piece.y - kerf / 2 - sheet.strip["width"])
                    .buffer(1e-3)
                )  # fmt: skip
                width = middle.bounds[2] - middle.bounds[0]
                assert width == pytest.approx(laser["bridge_width"], abs=2 * REPLAY), piece.id
                back = affinity.translate(hold, 0, kerf).intersection(piece.shape)
                assert back.bounds[2] - back.bounds[0] >= x1 - x0 - 1e-6, "stands on wood"


def test_every_piece_hangs_on_its_bridges(beam):
    """With the bridges in, a piece is one with the sheet: nothing drops."""
    kerf, found = beam
    for sheet in found:
        left = left_of(sheet, kerf)
        frame = [p for p in parts_of(left) if p.bounds[0] <= 1e-9]
        assert len(frame) == 1, "the sheet's frame is one piece"
        for piece in sheet.pieces:
            assert frame[0].covers(piece.shape.representative_point()), piece.id


def test_waste_in_notches_is_part_of_the_frame(beam):
    """What is cut out of a notch hangs on the waste round the piece: nothing small lies loose."""
    kerf, found = beam
    for sheet in found:
        loose = [p for p in parts_of(left_of(sheet, kerf)) if p.bounds[0] > 1e-9]
        assert all(p.area <= SPECK for p in loose), [p.bounds for p in loose]


def test_a_path_on_the_wrong_side_is_told(beam):
    kerf, found = beam
    for sheet in found:
        wrong = sweeps.turned_inwards(sheet.paths, sheet.pieces)
        left = sheet.sheet.difference(swept(wrong, kerf / 2))
        for piece in sheet.pieces:
            verdict = judge(piece, left, kerf / 2)
            assert not verdict.sound(), piece.id
            assert verdict.removed > kerf, "wood of the piece is gone"


def test_half_a_hundredth_is_told(beam):
    """A kerf 0.02 wider or narrower than the one planned for is seen on every piece."""
    kerf, found = beam
    for sheet in found:
        for off in (-0.02, 0.02):
            left = sheet.sheet.difference(swept(sheet.paths, (kerf + off) / 2))
            for piece in sheet.pieces:
                assert not judge(piece, left, kerf / 2).sound(), (piece.id, off)


def test_beam_relief_stays_in_the_corners(tmp_path):
    """A relief passes through the corner and goes no further than its round."""
    kerf = 0.3
    for sheet in sweeps.sheets(laser_job(tmp_path, kerf, relief="corner")):
        left = left_of(sheet, kerf)
        for piece in sheet.pieces:
            verdict = judge(piece, left, kerf / 2, relief="corner")
            assert verdict.sound() and fits(verdict.loose, piece, kerf / 2, relief="corner"), piece.id
            for (x, y), _ in sweeps.inside_corners(piece.shape):
                corner = sweeps.Point(x, y)
                assert corner.distance(left.difference(piece.shape)) > 0, "the corner is open"


@pytest.fixture(scope="module", params=["corner", "floor", "none"])
def router(request, tmp_path_factory):
    """(tool radius, relief?, sheets) of a hardwood panel."""
    folder = tmp_path_factory.mktemp("router")
    panel = {"ground.columns": 2, "ground.rows": 3, "cut.relief": request.param}
    path = write_job(
        folder / "in",
        "router-square",
        panel={**panel, "cut.clearance": 0.08},
        material={"crush": 1.0},
        machine={"router.tool": {**TOOL, "diameter": 2.0}},
    )
    relief = None if request.param == "none" else request.param
    return 1.0, relief, sweeps.sheets(make(path, folder / "out"))


TOOL = {
    "name": "straight cutter",
    "diameter": 3.0,
    "flutes": 2,
    "flute_length": 15,
    "stick_out": 25,
    "number": 1,
}


def slabs(sheet):
    """[(low, high, region left)] between the heights at which the tool cuts, over the stock."""
    heights = sorted({p.height for p in sheet.paths})
    top = sheet.face
    levels = sorted({0.0, top, *[h for h in heights if 0 < h < top]})
    for low, high in zip(levels, levels[1:]):
        through = [p for p in sheet.paths if p.height <= low + 1e-9]
        yield low, high, through


def test_tool_leaves_the_drawn_size_in_every_slab(router):
    radius, relief, found = router
    for sheet in found:
        count = 0
        for low, high, through in slabs(sheet):
            left = sheet.sheet.difference(swept(through, radius))
            for piece in sheet.pieces:
                verdict = judge(piece, left, radius, relief)
                assert verdict.removed <= SPECK, (piece.id, low)
                assert verdict.standing <= SPECK, (piece.id, low)
                assert fits(verdict.loose, piece, radius, relief), (piece.id, low)
            count += 1
        assert count >= 3, "several passes"


def test_tabs_stand_as_planned(router):
    """Below their height as many as the material file has, above it none; never in a notch."""
    radius, _, found = router
    for sheet in found:
        cut = sheet.material["router"]
        for low, high, through in slabs(sheet):
            left = sheet.sheet.difference(swept(through, radius))
            for piece in sheet.pieces:
                holds = judge(piece, left, radius).holds
                if low >= cut["tab_height"] - 1e-9:
                    assert not holds, (piece.id, low)
                    continue
                assert high <= cut["tab_height"] + 1e-9
                assert len(holds) == cut["tabs"], (piece.id, low)
                for hold in holds:
                    narrowest = hold.intersection(
                        sweeps.box(hold.bounds[0], piece.y - radius - 1e-3,
                                   hold.bounds[2], piece.y - radius + 1e-3)
                    )  # fmt: skip
                    width = narrowest.bounds[2] - narrowest.bounds[0]
                    assert width == pytest.approx(cut["tab_width"], abs=2 * REPLAY), piece.id
                    foot = affinity.translate(hold, 0, 2 * radius).intersection(piece.shape)
                    assert foot.bounds[2] - foot.bounds[0] >= width, "stands on wood"


def test_tool_goes_through_and_not_into_the_bed(router):
    """The last pass is below the stock by no more than the spoil allowance of the machine file."""
    _, _, found = router
    for sheet in found:
        lowest = min(p.height for p in sheet.paths)
        assert -0.3 - 1e-9 <= lowest <= 0.0


def test_passes_are_no_deeper_than_the_material_allows(router):
    _, _, found = router
    for sheet in found:
        heights = sorted({p.height for p in sheet.paths if p.height <= sheet.face}, reverse=True)
        tab = sheet.material["router"]["tab_height"]
        steps = [sheet.face, *[h for h in heights if abs(h - tab) > 1e-9]]
        for high, low in zip(steps, steps[1:]):
            assert high - low <= sheet.material["router"]["pass_depth"] + 1e-3


def test_a_tool_on_the_wrong_side_is_told(router):
    radius, relief, found = router
    for sheet in found:
        wrong = sweeps.turned_inwards(sheet.paths, sheet.pieces)
        left = sheet.sheet.difference(swept(wrong, radius))
        for piece in sheet.pieces:
            assert judge(piece, left, radius, relief).removed > 1, piece.id


def test_relief_is_asked_for_in_the_panel(router):
    """Without it the fillets stay in the notches' corners; with it they are gone."""
    radius, relief, found = router
    for sheet in found:
        left = sheet.sheet.difference(swept(sheet.paths, radius))
        for piece in sheet.pieces:
            stay = sweeps.fillets(piece.shape, radius).buffer(-0.01).intersection(left).area
            assert (stay < 1e-3) == (relief is not None), (piece.id, stay)


def test_sources_say_what_was_tested(tmp_path):
    """The kerf of the job is the one that the material file of the test asked for."""
    folder = laser_job(tmp_path, 0.37)
    assert sources(folder)["material"]["laser"]["kerf"] == 0.37
    assert {s.setup["kerf"] for s in sweeps.sheets(folder)} == {0.37}


def test_every_flat_job_leaves_the_drawn_pieces(flat_job):
    """All fixtures and all panels at odd values, at their own kerf or tool."""
    for sheet in sweeps.sheets(flat_job):
        beam = sheet.setup["kerf"]
        radius = (beam or sheet.setup["tool_diameter"]) / 2
        relief = sources(flat_job)["panel"]["cut"].get("relief", "none" if beam else "floor")
        relief = None if relief == "none" else relief
        for low, through in [(0.0, sheet.paths)] if beam else [s[::2] for s in slabs(sheet)]:
            left = sheet.sheet.difference(swept(through, radius))
            for piece in sheet.pieces:
                verdict = judge(piece, left, radius, relief)
                assert verdict.sound(), (piece.id, low, verdict)
                assert fits(verdict.loose, piece, radius, relief), (piece.id, low)
