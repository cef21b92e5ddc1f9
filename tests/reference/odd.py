"""Panels at odd values, so that no figure comes out right by being round."""

from workshop import roomy, write_job

# A bed and a sheet that hold the longest bars below, so that size decides nothing.
BED = {"travel": [1200, 800]}
SHEET = {"blank": [{"name": "large sheet", "length": 1100, "width": 700}]}
CARD = {"thickness": 4.37}


def odd_square(folder, **more):
    """Card, flat: pitches 71.3 and 43.7, each side by another rule."""
    panel = {
        "name": "odd square",
        "ground.face": 4.37,
        "ground.depth": 13.1,
        "ground.pitch_across": 71.3,
        "ground.pitch_up": 43.7,
        "ground.columns": 3,
        "ground.rows": 4,
        "ground.ranks": {"upright": 2, "level": 1},
        "outline.left": {"clear": 9.3},
        "outline.right": "inner-edge",
        "outline.bottom": "inner-edge",
        "outline.top": {"clear": 17.9},
        "cut.clearance": 0.07,
    }
    panel.update(more)
    return write_job(folder, "plain-window", panel=panel, machine=BED, material=CARD, stock=SHEET)


def odd_three_way(folder, **more):
    """Card, flat: joints in the corners, ranks in another order, an overhang past the next joints."""
    panel = {
        "name": "odd three-way",
        "quantity": 2,
        "ground.depth": 13.1,
        "ground.face": 4.37,
        "ground.pitch": 71.3,
        "ground.columns": 5,
        "ground.rows": 2,
        "ground.corner_joint": True,
        "ground.ranks": {"rising": 2, "upright": 3, "falling": 1},
        "outline.overhang": 83.3,
        "cut.clearance": 0.0,
    }
    panel.update(more)
    return write_job(
        folder, "three-way-card", panel=panel, machine=BED, material=CARD, stock=SHEET
    )


def odd_trimmed(folder, **more):
    """Card, flat: no overhang, so that skew ends are cut square to their long points."""
    panel = {
        "name": "odd trimmed",
        "outline.overhang": 0,
        "outline.left": {"clear": 13.7},
        "outline.right": {"clear": 21.9},
        "outline.bottom": {"clear": 17.3},
        "outline.top": {"clear": 11.1},
        "ground.columns": 3,
        "ground.rows": 2,
    }
    panel.update(more)
    return odd_three_way(folder, **panel)


def odd_router(folder, **more):
    """Hardwood, flat: strips that have measured unevenly."""
    panel = {
        "name": "odd router",
        "ground.face": 4.3,
        "ground.depth": 13.1,
        "ground.pitch_across": 61.3,
        "ground.pitch_up": 47.9,
        "ground.columns": 3,
        "ground.rows": 3,
        "outline.left": {"clear": 16.1},
        "outline.bottom": {"clear": 19.7},
        "cut.clearance": 0.09,
    }
    panel.update(more)
    return write_job(folder, "router-square", panel=panel, material={"thickness": [4.31, 4.37]})


def odd_edge_up(folder, **more):
    """Hardwood, edge up: three faces, true walls."""
    panel = {
        "name": "odd edge-up",
        "ground.face": None,
        "ground.faces": {"rising": 4.37, "upright": 5.1, "falling": 3.9},
        "ground.depth": 13.1,
        "ground.pitch": 71.3,
        "ground.columns": 4,
        "ground.rows": 2,
        "ground.ranks": {"rising": 3, "upright": 1, "falling": 2},
        "outline.left": {"clear": 8.7},
        "outline.overhang": 27.3,
        "cut.clearance": 0.11,
        "sticks.limit": 900,
        "sticks.lead": 45,
        "sticks.tail": 30,
        "sticks.ends": {"upright": 60},
    }
    panel.update(more)
    return write_job(folder, "check", panel=panel)


def odd_two_faces(folder, **more):
    """Hardwood, edge up: bars of 4.1 and 5.3 lie in turn over the same uprights, so that their notches are
    the same and their sticks are not."""
    rows = {"direction": 0, "pitch": 95.4}
    panel = {
        "name": "odd two faces",
        "quantity": 2,
        "ground": {
            "layout": "free",
            "depth": 13.1,
            "width": 214.2,
            "height": 190.8,
            "family": [
                {"name": "upright", "direction": 90, "first": 35.7, "pitch": 71.4, "face": 4.37, "rank": 1},
                {"name": "narrow", "first": 21.2, "face": 4.1, "rank": 2, **rows},
                {"name": "wide", "first": 68.9, "face": 5.3, "rank": 3, **rows},
            ],
        },
        "outline": dict.fromkeys(("left", "right", "bottom", "top"), "centres"),
        "outline.overhang": 27.3,
        "outline.trim_kerf": 1.5,
        "cut.clearance": 0.11,
        "sticks": {"lead": 66, "tail": 62, "saw_kerf": 1.5, "spares": 1},
    }
    panel.update(more)
    return write_job(folder, "check", panel=panel)


def odd_diamond(folder, **more):
    """Hardwood, edge up: bars that rise at 57 degrees, in faces of 4.37 and 3.9; both ends of a stick lie
    near its joints."""
    panel = {
        "name": "odd diamond",
        "ground": {
            "layout": "diamond", "depth": 13.1, "pitch": 71.3, "angle": 57, "columns": 5, "rows": 3,
            "faces": {"rising": 4.37, "falling": 3.9}, "ranks": {"rising": 2, "falling": 1},
        },
        "outline": dict.fromkeys(("left", "right", "bottom", "top"), {"clear": 9.7}),
        "outline.overhang": 19.3,
        "cut.clearance": 0.07,
        "sticks": {"lead": 48, "tail": 31, "saw_kerf": 1.7, "limit": 540, "spares": 2},
    }  # fmt: skip
    panel.update(more)
    return write_job(folder, "check", panel=panel)


def odd_untrimmed(folder, **more):
    """Hardwood, edge up, its bars cut off along the inner edge of the outermost joints: half a clearance of
    their ends lies in the slots of lines that are no bars."""
    panel = {
        "name": "odd untrimmed",
        "surround": None,
        "ground.face": 4.37,
        "ground.depth": 13.1,
        "ground.pitch": 71.3,
        "ground.columns": 4,
        "ground.rows": 2,
        "outline": dict.fromkeys(("left", "right"), "inner-edge") | dict.fromkeys(("bottom", "top"), "centres"),
        "cut.clearance": 0.11,
        "sticks": {"lead": 45, "tail": 45, "saw_kerf": 1.5, "limit": 900},
    }
    panel.update(more)
    return write_job(folder, "check", panel=panel)


def eight_point():
    """Four bars to a joint, each family with a face of its own, in an order that is not the usual one."""
    return {
        "ground": {
            "layout": "eight-point", "depth": 17.3, "pitch": 61.7, "columns": 2, "rows": 2,
            "faces": {"upright": 3.7, "level": 4.37, "rising": 5.1, "falling": 3.9},
            "ranks": {"upright": 3, "level": 1, "rising": 2, "falling": 4},
        },
        "outline": dict.fromkeys(("left", "right", "bottom", "top"), {"clear": 11.3}),
        "outline.overhang": 27.3,
    }  # fmt: skip


def odd_eight_point(folder, post_processor=None, **more):
    """Hardwood, edge up: four faces, four bars to a joint, on a bench with room for it."""
    panel = {
        "name": "odd eight-point",
        **eight_point(),
        "cut.clearance": 0.06,
        **more,
    }
    job = roomy(panel, material={"least_section": 0.5, "least_web": 0, "router.pass_depth": 1.5})
    job["machine"].update({"router.tool.diameter": 3.0, "router.hold_width": 12})
    job["panel"]["sticks"]["limit"] = 640
    return write_job(folder, "check", post_processor=post_processor or {}, **job)


def measured_sticks(folder, **more):
    """The check panel from sticks that have measured unevenly."""
    milled = [{"face": [4.02, 3.97, 4.03, 4.0], "depth": [12.0, 11.98, 12.02]}]
    return write_job(folder, "check", panel={"name": "measured sticks", **more}, material={"milled": milled})


FLAT = {
    "odd-square": odd_square,
    "odd-three-way": odd_three_way,
    "odd-trimmed": odd_trimmed,
    "odd-router": odd_router,
}
EDGE_UP = {
    "odd-edge-up": odd_edge_up,
    "odd-two-faces": odd_two_faces,
    "odd-diamond": odd_diamond,
    "odd-untrimmed": odd_untrimmed,
    "odd-eight-point": odd_eight_point,
}
# ground.py knows sticks as drawn alone.
MEASURED = {"measured-sticks": measured_sticks}
