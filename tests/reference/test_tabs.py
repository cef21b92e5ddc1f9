"""Every piece is held by at least two tabs or bridges whose section is at least the least, at any overhang.

The tool is swept by shapely along the G-code; what no cut takes that reaches below the least height of a tab
stands at least that high. Places and widths of tabs are found there, and nowhere else. The least sections are
the README's, from memory.
"""

import pytest
from shapely import affinity
from shapely.geometry import box

import sweeps
from sweeps import REPLAY, judge, parts_of, swept
from test_joined import parts_of_chain
from workshop import call, make, said, summary, write_job

LEAST_WIDTH, LEAST_HEIGHT = 2.0, 0.5
LEAST_BRIDGE = 0.3
HOLDS = 2

SMALL = {"ground.columns": 2, "ground.rows": 3}
# Close notches in the level bars: the wood between them is 7.15 - 4.05 or 6.9 - 4.05 long, and at the ends
# 2.975 without overhang.
TEETH = {
    "ground.columns": 14, "ground.rows": 2, "cut.relief": "none",
    "outline.left": {"clear": 5}, "outline.right": {"clear": 5},
}  # fmt: skip
CLOSE = {"least_web": 1, "crush": 1.0}
# (name, base, panel, machine, material, overhangs)
SWEEPS = [
    ("as it is", "router-square", SMALL, {}, {}, [0, 1.5, 2, 3.5, 4.7, 6.9, 7, 11.3]),
    ("wide tabs", "router-square", SMALL, {}, {"router.tab_width": 9.3}, [0, 1.7, 5.9, 12.3]),
    ("narrow cutter", "router-square", SMALL, {"router.tool.diameter": 1.7}, {}, [1.5, 5.3]),
    (
        "narrower tabs", "router-square",
        {**TEETH, "ground.pitch_across": 7.15}, {}, CLOSE, [0],
    ),
    ("tabs on ends", "router-square", {**TEETH, "ground.pitch_across": 6.9}, {}, CLOSE, [1.5, 1.9]),
    ("card", "plain-window", {"ground.columns": 2, "ground.rows": 2}, {}, {}, [0, 1.3, 5.7]),
    (
        "bridges on ends", "plain-window",
        {"ground.columns": 20, "ground.rows": 2, "ground.pitch_across": 2.6,
         "outline.left": {"clear": 2}, "outline.right": {"clear": 2}},
        {}, {"least_web": 1}, [0.9, 1.1],
    ),
]  # fmt: skip
CASES = [(*case[:5], overhang) for case in SWEEPS for overhang in case[5]]


@pytest.fixture(scope="module", params=CASES, ids=lambda case: f"{case[0]}-{case[5]}")
def cut(request, tmp_path_factory):
    """(name, overhang, sheets) of a job at one overhang."""
    name, base, panel, machine, material, overhang = request.param
    folder = tmp_path_factory.mktemp("tabs")
    path = write_job(
        folder / "in", base, panel={**panel, "outline.overhang": overhang}, machine=machine,
        material=material,
    )  # fmt: skip
    return name, overhang, sweeps.sheets(make(path, folder / "out"))


def standing(sheet):
    """What is left of a sheet at every height below the least of a tab, and half the width of the cut."""
    beam = sheet.setup["kerf"]
    radius = (beam or sheet.setup["tool_diameter"]) / 2
    low = [p for p in sheet.paths if beam or p.height < LEAST_HEIGHT - 1e-9]
    return sheet.sheet.difference(swept(low, radius)), radius


def width_of(hold, piece, radius):
    """Narrowest width of a hold, in the middle of the cut, and whether it stands across an end."""
    x0, low, x1, high = piece.shape.bounds
    thin = 1e-3
    if hold.bounds[1] < low - 2 * REPLAY:
        middle = box(x0, low - radius - thin, x1, low - radius + thin).intersection(hold)
        return middle.bounds[2] - middle.bounds[0], False
    x = x0 - radius if hold.bounds[0] < x0 else x1 + radius
    middle = box(x - thin, low, x + thin, high).intersection(hold)
    return middle.bounds[3] - middle.bounds[1], True


def foot_of(hold, piece, radius, on_end):
    """How much of the piece's border a hold stands on."""
    x0, _, x1, _ = piece.shape.bounds
    if not on_end:
        foot = affinity.translate(hold, 0, 2 * radius).intersection(piece.shape)
        return foot.bounds[2] - foot.bounds[0]
    by = 2 * radius if hold.bounds[0] < x0 else -2 * radius
    foot = affinity.translate(hold, by, 0).intersection(piece.shape)
    return foot.bounds[3] - foot.bounds[1]


def test_two_sound_holds_stand_on_wood(cut):
    name, overhang, found = cut
    seen_ends = False
    for sheet in found:
        left, radius = standing(sheet)
        least = LEAST_BRIDGE if sheet.setup["kerf"] else LEAST_WIDTH
        for piece in sheet.pieces:
            holds = judge(piece, left, radius, ends=overhang > 0).holds
            assert len(holds) >= HOLDS, piece.id
            for hold in holds:
                width, on_end = width_of(hold, piece, radius)
                seen_ends = seen_ends or on_end
                assert width >= least - 2 * REPLAY, (piece.id, width)
                assert foot_of(hold, piece, radius, on_end) >= width - 1e-6, "never in a notch"
    assert seen_ends == name.endswith("on ends"), "ends hold where the edge has no room"


def test_every_piece_hangs_in_the_frame(cut):
    _, _, found = cut
    for sheet in found:
        left, _ = standing(sheet)
        (frame,) = [p for p in parts_of(left) if p.bounds[0] <= 1e-9]
        for piece in sheet.pieces:
            assert frame.covers(piece.shape.representative_point()), piece.id


def test_a_tab_cut_through_or_cut_thin_is_told(tmp_path):
    """The measure itself: a cut through a tab takes it away, one into it leaves it narrower."""
    path = write_job(tmp_path / "in", "router-square", panel={**SMALL, "outline.overhang": 2})
    sheet = sweeps.sheets(make(path, tmp_path / "out"))[0]
    left, radius = standing(sheet)
    piece = next(iter(sheet.pieces))
    holds = judge(piece, left, radius, ends=True).holds
    x0, y0, x1, y1 = holds[0].bounds
    through = left.difference(box(x0 - 1, y0 - 1, x1 + 1, piece.y))
    assert len(judge(piece, through, radius, ends=True).holds) == len(holds) - 1
    middle = (x0 + x1) / 2
    thin = left.difference(box(x0 - 1, y0 - 1, middle + 0.02, piece.y))
    cut = judge(piece, thin, radius, ends=True).holds
    widths = [width_of(hold, piece, radius)[0] for hold in cut]
    assert min(widths) == pytest.approx(LEAST_WIDTH - 0.02, abs=2 * REPLAY)


def test_joined_pieces_are_held_as_one(tmp_path):
    """A chain has its two tabs wherever its grooves lie, at an overhang shorter than a tab."""
    panel = {**SMALL, "quantity": 2, "outline.overhang": 2.3}
    path = write_job(
        tmp_path / "in", "router-square", panel=panel, machine={"router.hold_length": 300}
    )
    folder = make(path, tmp_path / "out")
    chains = 0
    for strip, sheet in zip(summary(folder)["nest"]["strips"], sweeps.sheets(folder)):
        left, radius = standing(sheet)
        for chain in strip["joined"]:
            chains += 1
            parts = parts_of_chain(summary(folder), chain, sheet.pieces)
            holds = [(h, p) for p in parts for h in judge(p, left, radius).holds]
            assert len(holds) >= HOLDS, chain["ids"]
            for hold, piece in holds:
                assert width_of(hold, piece, radius)[0] >= LEAST_WIDTH - 2 * REPLAY
    assert chains >= 2


def test_no_room_at_all_is_refused_with_an_overhang_that_passes(tmp_path):
    """Without overhang no tab of 2 finds room: the overhang that is named does."""
    panel = {**TEETH, "ground.pitch_across": 6.9, "outline.overhang": 0}
    done = call("check", write_job(tmp_path / "a", "router-square", panel=panel, material=CLOSE))
    assert done.returncode == 1 and "tabs: 0 holds" in done.stderr, said(done)
    named = done.stderr.split("`overhang = ")[1].split("`")[0]
    panel["outline.overhang"] = float(named)
    done = call("check", write_job(tmp_path / "b", "router-square", panel=panel, material=CLOSE))
    assert done.returncode == 0, said(done)
