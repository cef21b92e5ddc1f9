"""Panels drawn at random (from fixed seeds): what is accepted agrees with ground.py and goes together
as solids; what is refused is refused with a reason, never by a fault of the program itself."""

import json
import os
import random

import pytest

import bars
import ground as reference
import test_lattice as lattice
from workshop import call, measured, millimetres, roomy, said, sizes, write_job

# More of them by hand: RANDOM_PANELS=1000.
SEEDS = range(int(os.environ.get("RANDOM_PANELS", "70")))
# Six decimals, a few of them added up; and a press fit is told apart.
GROWN = 5e-6
COMPARISONS = [
    lattice.test_start_comes_before_end,
    lattice.test_mates_are_the_members_of_the_lines_that_cross,
    lattice.test_a_line_has_one_name,
    lattice.test_classes_are_the_same_pieces_under_rotation,
    lattice.test_turns_carry_the_class_to_its_members,
    lattice.test_order_runs_from_back_to_front,
]


def draw(rnd):
    """(fixture, changes) of a panel; sides, ranks, faces, overhang and clearance at random."""
    three, edge_up = rnd.random() < 0.65, rnd.random() < 0.4
    face = round(rnd.uniform(1.5, 6), 2)
    pitch = round(rnd.uniform(5, 14) * face, 1)
    names = ["rising", "upright", "falling"] if three else ["upright", "level"]
    panel = {
        "ground.depth": round(rnd.uniform(6, 20), 1),
        "ground.face": face,
        "ground.columns": rnd.randint(1, 6),
        "ground.rows": rnd.randint(1, 5),
        "ground.ranks": dict(zip(names, rnd.sample(range(1, len(names) + 1), len(names)))),
        "cut.clearance": rnd.choice([0, 0.05, 0.11, -0.02]),
        "cut.loose_joints": True,
        "outline.overhang": rnd.choice([0, 0, round(rnd.uniform(4, 90), 1)]),
        "outline.trim_kerf": 0,
        "quantity": rnd.choice([1, 1, 3]),
        "surround": None,
        "sticks": None,
    }
    if three:
        panel.update({"ground.pitch": pitch, "ground.corner_joint": rnd.random() < 0.5})
    else:
        up = round(rnd.uniform(5, 14) * face, 1)
        panel.update({"ground.pitch_across": pitch, "ground.pitch_up": up})
    for side in ("left", "right", "bottom", "top"):
        rules = ["inner-edge", {"clear": round(rnd.uniform(face / 2, 1.3 * pitch), 3)}]
        if three and side in ("bottom", "top"):
            rules.append("centres")
        panel[f"outline.{side}"] = rnd.choice(rules)
    soft = {"least_web": 0, "least_section": 0.5, "press": 0.05}
    if not edge_up:
        base = "three-way-card" if three else "demo"
        large = {"blank": [{"name": "large", "length": 2500, "width": 1500}]}
        soft.update({"crush": 0.5, "thickness": [round(face - 0.03, 2), face]})
        return base, dict(
            panel=panel, machine={"travel": [3000, 3000]}, stock=large, material=soft
        )
    panel["cut.method"] = "edge-up"
    if rnd.random() < 0.5:
        panel["ground.face"] = None
        panel["ground.faces"] = {n: round(face * rnd.uniform(0.7, 1.3), 2) for n in names}
    return "check" if three else "router-square", roomy(panel, material=soft)


@pytest.fixture(scope="module")
def outcomes(tmp_path_factory):
    """[(seed, panel file, run)] of every panel."""
    folder = tmp_path_factory.mktemp("random")
    found = []
    for seed in SEEDS:
        base, changes = draw(random.Random(seed))
        path = write_job(folder / str(seed), base, **changes)
        found.append((seed, path, call("check", path, "--json")))
    return found


def test_every_panel_is_accepted_or_refused_with_a_reason(outcomes):
    accepted = 0
    for seed, _, done in outcomes:
        accepted += done.returncode == 0
        assert done.returncode in (0, 1, 2), f"seed {seed}: {said(done)}"
        assert "panicked" not in done.stderr, f"seed {seed}: {said(done)}"
        if done.returncode == 1:
            # Of the checks: what is drawn may be too small to hold, never unsound in itself.
            assert "checks failed" in done.stderr, f"seed {seed}: {said(done)}"
            for id in ("interference", "gap", "replay", "proof"):
                assert id not in done.stderr, f"seed {seed}: {said(done)}"
        if done.returncode == 2:
            assert "panel.toml:" in done.stderr and "help" in done.stderr, said(done)
    assert accepted > len(outcomes) / 2


def test_accepted_panels_agree_with_the_reference(outcomes):
    for seed, path, done in outcomes:
        if done.returncode:
            continue
        job = json.loads(done.stdout)
        ground = reference.Ground(*sizes(path))
        pairs = lattice.paired(ground, job, f"seed {seed}")
        for bar, member in pairs.values():
            lattice.joints_agree(bar, member, f"seed {seed}")
        for comparison in COMPARISONS:
            if len(ground.bars) > 2:
                comparison((ground, job, pairs))


def test_accepted_panels_go_together(outcomes):
    """Solids of members with square ends or ends in one plane; a press fit's bars are taken thinner
    by the press."""
    looked = 0
    for seed, path, done in outcomes:
        if done.returncode:
            continue
        panel, material = sizes(path)
        job = json.loads(done.stdout)
        if any(end["shape"] == "point" for m in job["members"] for end in m["ends"]):
            continue
        depth = millimetres(panel["ground"]["depth"])
        press = max(0, -panel["cut"]["clearance"])
        faces = panel["ground"].get("faces")
        if panel["cut"]["method"] == "flat":
            faces = dict.fromkeys((m["family"] for m in job["members"]), measured(material)[1])
        elif not faces:
            faces = dict.fromkeys((m["family"] for m in job["members"]), panel["ground"]["face"])
        solids = {
            m["id"]: bars.bar_solid(m, depth, faces[m["family"]] - press, grown=GROWN)
            for m in job["members"]
        }
        worst, where = bars.assemble(job["order"], solids, depth, step=depth / 8)
        # A wall's round-off over the area of a joint: far below what a wrong notch shares.
        assert worst < 1e-3, f"seed {seed}: {where}"
        looked += 1
    assert looked > len(outcomes) / 4
