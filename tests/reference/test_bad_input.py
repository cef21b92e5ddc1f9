"""Wrong input, end to end: the message, the place it points at, the exit status, nothing written."""

import json

import pytest

from refusals import refused, snapshot, write_edited
from workshop import call, fixture_path, said, write_job

PANEL, MACHINE, MATERIAL, STOCK, POST = "panel", "machine", "material", "stock", "post_processor"

# id: (fixture, {kind: [(old, new)]}, status, words of the message)
IN_FILES = {
    # Keys.
    "unknown-key": ("plain-window", {PANEL: [("depth = 12", "dpeth = 12")]}, 2, ["dpeth", "depth"]),
    "unknown-table": ("plain-window", {PANEL: [("[cut]", "[cutt]")]}, 2, ["cutt", "cut"]),
    "unknown-machine-key": (
        "plain-window", {MACHINE: [("travel_feed", "travel_fed")]}, 2, ["travel_fed", "travel_feed"]),
    "unknown-material-key": ("plain-window", {MATERIAL: [("kerf =", "kerff =")]}, 2, ["kerff", "kerf"]),
    "unknown-stock-key": ("plain-window", {STOCK: [("width =", "widht =")]}, 2, ["widht", "width"]),
    "unknown-post-key": ("plain-window", {POST: [("beam_on", "baem_on")]}, 2, ["baem_on", "beam_on"]),
    "missing-key": ("plain-window", {PANEL: [("depth = 12", "# depth = 12")]}, 2, ["depth", "missing"]),
    "unknown-word": ("plain-window", {PANEL: [('"flat"', '"flatt"')]}, 2, ["flatt", "flat"]),
    "unknown-file": (
        "plain-window", {PANEL: [('"material.toml"', '"card-15"')]}, 2, ["card-15", "card-1.5"]),
    "missing-file": (
        "plain-window", {PANEL: [('"stock.toml"', '"mine.toml"')]}, 2, ["mine.toml"]),
    "no-toml": ("plain-window", {PANEL: [("[ground]", "[ground")]}, 2, ["panel.toml"]),
    # Numbers.
    "missing-unit": (
        "plain-window", {PANEL: [("depth = 12", 'depth = "12"')]}, 2, ["unit", '"12 mm"']),
    "missing-unit-of-a-fraction": (
        "plain-window", {PANEL: [("depth = 12", 'depth = "1 3/8"')]}, 2, ["unit", '"1 3/8 in"']),
    "unknown-unit": ("plain-window", {PANEL: [("depth = 12", 'depth = "12 ft"')]}, 2, ["ft", "mm", "in"]),
    "negative": ("plain-window", {PANEL: [("depth = 12", "depth = -12")]}, 2, ["depth", "-12"]),
    "zero": ("plain-window", {PANEL: [("pitch_up = 24", "pitch_up = 0")]}, 2, ["pitch_up", "0"]),
    "huge": ("plain-window", {PANEL: [("pitch_up = 24", "pitch_up = 1e300")]}, 2, ["pitch_up"]),
    "not-a-number": ("plain-window", {PANEL: [("pitch_up = 24", "pitch_up = nan")]}, 2, ["pitch_up"]),
    "infinite": ("plain-window", {PANEL: [("pitch_up = 24", "pitch_up = inf")]}, 2, ["pitch_up"]),
    "negative-kerf": ("plain-window", {MATERIAL: [("kerf = 0.15", "kerf = -0.15")]}, 2, ["kerf", "-0.15"]),
    "zero-kerf": ("plain-window", {MATERIAL: [("kerf = 0.15", "kerf = 0")]}, 2, ["kerf"]),
    "nan-kerf": ("plain-window", {MATERIAL: [("kerf = 0.15", "kerf = nan")]}, 2, ["kerf"]),
    "nan-feed": ("plain-window", {MATERIAL: [("feed = 900", "feed = nan")]}, 2, ["feed"]),
    "huge-feed": ("plain-window", {MATERIAL: [("feed = 900", "feed = 1e300")]}, 2, ["feed"]),
    "nan-travel": ("plain-window", {MACHINE: [("[600, 400]", "[nan, 400]")]}, 2, ["travel"]),
    "negative-stock": ("plain-window", {STOCK: [("length = 420", "length = -420")]}, 2, ["length"]),
    "half-a-panel": (
        "plain-window", {PANEL: [("[ground]", "quantity = 0.5\n[ground]")]}, 2, ["quantity"]),
    "no-panel": ("plain-window", {PANEL: [("[ground]", "quantity = 0\n[ground]")]}, 2, ["quantity"]),
    "text-for-a-number": ("plain-window", {PANEL: [("columns = 5", 'columns = "five"')]}, 2, ["columns"]),
    # The ground.
    "pitch-below-the-notch": (
        "plain-window", {PANEL: [("pitch_across = 30", "pitch_across = 1.52")]}, 2, ["notch", "pitch"]),
    "pitch-below-the-skew-notch": (
        "three-way-card", {PANEL: [("pitch = 26", "pitch = 2.6")]}, 2, ["notch", "pitch"]),
    "outline-misses-every-line": (
        "three-way-card", {PANEL: [("columns = 6", "columns = 1")]}, 2,
        ["outline", "misses", "upright"]),
    "outline-without-area": (
        "three-way-card",
        {PANEL: [("pitch = 26", "pitch = 1.2"), ("columns = 6", "columns = 1")]}, 2, ["outline"]),
    "side-along-a-bar": (
        "plain-window", {PANEL: [("left = { clear = 9 }", 'left = "centres"')]}, 2,
        ["left", "inner-edge"]),
    "side-that-rips-a-bar": (
        "plain-window", {PANEL: [("left = { clear = 9 }", "left = { clear = 0.3 }")]}, 2, ["left", "rip"]),
    "short-overhang": (
        "three-way-card", {PANEL: [("overhang = 8", "overhang = 0.2")]}, 2, ["overhang"]),
    "face-off-the-stock": (
        "router-square", {PANEL: [("face = 4 ", "face = 4.31 ")]}, 2, ["face", "4.310", "4.000"]),
    "rank-twice": (
        "check", {PANEL: [("upright = 2, falling = 3", "upright = 3, falling = 3")]}, 2, ["rank"]),
    "a-million-joints": (
        "plain-window", {PANEL: [("columns = 5", "columns = 5000"), ("rows = 7", "rows = 700")]}, 2,
        ["joints", "limit"]),
    "a-slip-of-a-nought": (
        "plain-window", {PANEL: [("columns = 5", "columns = 50000"), ("rows = 7", "rows = 70000")]}, 2,
        ["joints", "limit"]),
    # Joints, tool, machine: checks.
    "tool-wider-than-the-notch": (
        "router-square", {MACHINE: [("diameter = 3.0", "diameter = 4.06")]}, 1, ["slot-width"]),
    "beam-wider-than-the-notch": (
        "plain-window", {MATERIAL: [("kerf = 0.15", "kerf = 1.56")]}, 1, ["slot-width"]),
    "feed-too-fast": (
        "plain-window", {MATERIAL: [("feed = 900", "feed = 12001")]}, 1, ["cut-feed", "12000"]),
    "feed-too-slow": ("plain-window", {MATERIAL: [("feed = 900", "feed = 59.9")]}, 1, ["cut-feed", "60"]),
    "plunge-too-fast": (
        "router-square", {MATERIAL: [("plunge_feed = 300", "plunge_feed = 601")]}, 1,
        ["plunge-feed", "600"]),
    "speed-too-fast": (
        "router-square", {MATERIAL: [("speed_rpm = 16000", "speed_rpm = 24001")]}, 1,
        ["spindle-speed", "24000"]),
    "speed-too-slow": (
        "router-square", {MATERIAL: [("speed_rpm = 16000", "speed_rpm = 7999")]}, 1,
        ["spindle-speed", "8000"]),
    "pass-too-deep": (
        "router-square", {MATERIAL: [("pass_depth = 1.5", "pass_depth = 9")]}, 1, ["pass-depth"]),
    "chips-too-thick": (
        "router-square", {MATERIAL: [("feed = 1200", "feed = 1921")]}, 1, ["chip-load", "0.06"]),
    "flutes-too-short": (
        "router-square", {MACHINE: [("flute_length = 15", "flute_length = 5.1")]}, 1,
        ["flute-length"]),
    "clamps-in-the-way": (
        "router-square", {MACHINE: [("clamp_height = 8", "clamp_height = 12")]}, 1,
        ["safe-height"]),
    "no-time-to-spin-up": (
        "router-square", {MACHINE: [("spin_up_s = 4", "spin_up_s = 1")]}, 1, ["spin-up"]),
    "power-too-low": (
        "plain-window", {MATERIAL: [("power_percent = 60", "power_percent = 4.9")]}, 1, ["laser-power"]),
    "no-bridges": ("plain-window", {MATERIAL: [("bridges = 2", "bridges = 0")]}, 1, ["bridges"]),
    "no-tabs": ("router-square", {MATERIAL: [("tabs = 3", "tabs = 0")]}, 1, ["tabs"]),
    "too-short-to-hold": (
        "router-square", {MACHINE: [("hold_length = 80", "hold_length = 800")]}, 1,
        ["hold-length"]),
    "thin-section": (
        "plain-window", {MATERIAL: [("least_section = 1.5", "least_section = 6.01")]}, 1, ["section"]),
    "press-beyond-the-material": (
        "plain-window", {PANEL: [("clearance = 0.05", "clearance = -0.06")]}, 1, ["press"]),
    "openings-in-hardwood": (
        "three-way-card", {MATERIAL: [("tight_joints = false", "tight_joints = true")]}, 1,
        ["opening"]),
    "fillet-beyond-crush": (
        "plain-window", {MATERIAL: [("crush = 0.1", "crush = 0.001")]}, 1, ["corner-fillet"]),
    # Edge up: fence, gang, sticks, rails, holds.
    "fence-angle-below-the-bed's": (
        "check", {MACHINE: [("fence_deg = [20, 160]", "fence_deg = [60.01, 160]")]}, 1,
        ["fence-angle", "60.01", "fence_deg in the machine file"]),
    "fence-angle-beyond-the-bed's": (
        "check", {MACHINE: [("fence_deg = [20, 160]", "fence_deg = [20, 119.99]")]}, 1,
        ["fence-angle", "119.99", "fence_deg in the machine file"]),
    "fence-range-turned-about": (
        "check", {MACHINE: [("fence_deg = [20, 160]", "fence_deg = [160, 20]")]}, 2, ["fence_deg"]),
    "gang-of-zero": ("check", {PANEL: [("[sticks]", "[sticks]\ngang = 0")]}, 2, ["gang", "3 to 200"]),
    "gang-of-two": ("check", {PANEL: [("[sticks]", "[sticks]\ngang = 2")]}, 2, ["gang", "3 to 200"]),
    "sticks-too-shallow-to-keep-a-section": (
        "check", {PANEL: [("depth = 12", "depth = 8.99")]}, 1, ["section", "a greater depth"]),
    "sticks-too-shallow-as-measured": (
        "check", {MATERIAL: [("tight_joints", "milled = [{ face = 4, depth = [11.94, 12] }]\ntight_joints")]},
        1, ["stick-depth", "0.06", "upright", "plane the sticks"]),
    "strips-too-narrow-for-the-depth": (
        "check", {STOCK: [("width = 60", "width = 11.9"), ("trim = 8", "trim = 0")]}, 2,
        ["stock", "at least 12 mm wide"]),
    "measured-face-off-the-drawn": (
        "check",
        {PANEL: [("face = 4 ", "face = 4.31 ")],
         MATERIAL: [("tight_joints", "milled = [{ face = 4, depth = 12 }]\ntight_joints")]}, 2,
        ["4.310", "measured 4.000", "[[milled]]"]),
    "measured-face-wider-than-the-slot": (
        "check", {PANEL: [("clearance = 0.05", "clearance = -0.021")]}, 1,
        ["press", "-0.02", "no harder"]),
    "slot-narrower-than-the-tool": (
        "check", {MACHINE: [("diameter = 3.0", "diameter = 4.06")]}, 1,
        ["slot-width", "4.05", "narrower tool"]),
    "lead-shorter-than-the-notch-reaches": (
        "check", {PANEL: [("lead = 40", "lead = 3"), ("overhang = 25", "overhang = 0")]}, 2,
        ["lead = 3.5 or more", "member R1", "reaches 3.5"]),
    "ends-shorter-than-the-notch-reaches": (
        "check", {PANEL: [("upright = 57.5", "upright = 3.4"), ("overhang = 25", "overhang = 0")]}, 2,
        ["upright = 3.5 or more", "reaches 3.5"]),
    "a-lead-that-leaves-no-hold": (
        "check", {PANEL: [("lead = 40", "lead = 15"), ("overhang = 25", "overhang = 10")]}, 1,
        ["hold-room", "at least 17 mm", "stick-1", "a longer lead"]),
    "a-tail-that-leaves-no-hold": (
        "check",
        {PANEL: [("tail = 25", "tail = 22")],
         MACHINE: [("clamp_height = 8 ", "hold_width = 13\nclamp_height = 8 ")]}, 1,
        ["hold-room", "at least 18 mm", "stick-1", "1.6 mm more of the stick there", "tail"]),
    "nowhere-to-put-a-mark": (
        "check", {PANEL: [("lead = 40", "lead = 20")]}, 1, ["mark-room", "longer lead in [sticks]"]),
    "rails-too-thin": (
        "check", {MACHINE: [("clamp_height = 8 ", "rail = 29.9\nclamp_height = 8 ")]}, 1,
        ["rail: 29.9", "at least 30 mm", "rail in the machine file"]),
    "battens-too-short": (
        "check", {MACHINE: [("clamp_height = 8 ", "rail_length = 458.3\nclamp_height = 8 ")]}, 1,
        ["rail-length: 458.3", "at least 458.309", "stick-1", "rail_length in the machine file", "sticks.limit"]),
    "battens-of-no-length": (
        "check", {MACHINE: [("clamp_height = 8 ", "rail_length = 0\nclamp_height = 8 ")]}, 2, ["rail_length"]),
    "hold-that-meets-the-path": (
        "check", {MACHINE: [("clamp_height = 8 ", "hold_width = 13.7\nclamp_height = 8 ")]}, 1,
        ["hold-room", "18.7", "hold_width in the machine file"]),
    "gang-wider-than-the-clamps": (
        "check", {MACHINE: [("clamp_height = 8 ", "clamp_width = 71.9\nclamp_height = 8 ")]}, 1,
        ["gang-width", "71.9", "72", "clamp_width in the machine file"]),
    "fence-too-far-off": (
        "check", {MACHINE: [("fence_error_deg = 0.02", "fence_error_deg = 0.2")]}, 1,
        ["parting: ", "0.11547", "stick-1", "fences", "fence_error_deg"]),
    "sticks-seated-badly": (
        "check", {MACHINE: [("seating = 0.03", "seating = 0.12")]}, 1,
        ["parting: ", "0.11547", "stick-1", "seating 0.139", "seating in the machine file"]),
    "sticks-longer-than-the-travel": (
        "check", {MACHINE: [("[600, 400", "[300, 400")]}, 2,
        ["travel", "R3", "6 joints", "390 mm", "255.19", "3 joints", "434.81 mm at least"]),
    "sticks-longer-than-the-limit": (
        "check", {PANEL: [("limit = 500", "limit = 389")]}, 2, ["limit", "389 mm", "390 mm at least"]),
    "sticks-longer-than-the-strips": (
        "check", {STOCK: [("length = 560", "length = 400")]}, 2, ["stock", "384 mm", "390 mm at least"]),
    # Material, machine and dialect that do not go together.
    "not-cleared-for-a-laser": (
        "plain-window", {MATERIAL: [("[laser]", "[router]\nspeed_rpm = 16000\nplunge_feed = 300\n"
                             "pass_depth = 1\nchip_load = [0.01, 0.06]\ntabs = 2\n"
                             "tab_width = 2\ntab_height = 0.5"),
                            ("kerf = 0.15", ""), ("flare = 0 ", "# "), ("power_percent = 60", ""),
                            ("bridges = 2", ""), ("bridge_width = 0.5", ""),
                            ("least_bridge_width = 0.3", ""), ("least_bridge_section = 0.4", "")]}, 2,
        ["laser"]),
    "must-not-be-lasered": (
        "plain-window", {PANEL: [('"material.toml"', '"vinyl-sheet"')]}, 2, ["chlorine", "laser"]),
    "refused-and-cleared": (
        "plain-window", {MATERIAL: [("[laser]", 'laser_refused = "holds chlorine"\n[laser]')]}, 2,
        ["laser_refused"]),
    "dialect-of-another-head": (
        "plain-window", {PANEL: [('"post_processor.toml"', '"router-mm"')]}, 2, ["router"]),
    "stock-too-short": (
        "plain-window", {STOCK: [("length = 420", "length = 195")]}, 2, ["stock"]),
    "stock-too-narrow": ("plain-window", {STOCK: [("width = 297", "width = 21")]}, 2, ["stock"]),
    "stock-beyond-the-travel": (
        "plain-window", {MACHINE: [("[600, 400]", "[190, 400]")]}, 2, ["travel"]),
    "too-little-stock": (
        "plain-window", {STOCK: [("width = 297", "width = 30\ncount = 1")]}, 2, ["stock"]),
    # Dialects.
    "template-not-closed": (
        "plain-window", {POST: [("X{{ x }}", "X{{ x }")]}, 2, ["travel"]),
    "template-with-an-unknown-value": (
        "plain-window", {POST: [("X{{ x }}", "X{{ xx }}")]}, 2, ["travel", "xx"]),
    "template-without-end": ("plain-window", {POST: [("X{{ x }}", "{% for a in [1] %}X{{ x }}")]}, 2, []),
    "template-that-runs-on": (
        "plain-window", {POST: [("X{{ x }}", "{% for a in range(99999999) %}{% endfor %}X{{ x }}")]}, 2,
        []),
    "template-that-drops-x": ("plain-window", {POST: [("G0 X{{ x }} ", "G0 ")]}, 2, ["travel"]),
    "beam-never-off": ("plain-window", {POST: [('beam_off = "M5"', 'beam_off = ""')]}, 2, ["beam_off"]),
    "laser-without-beam": (
        "plain-window", {POST: [('drives = "laser"', 'drives = "router"')]}, 2, []),
    "decimals": ("plain-window", {POST: [("decimals = 3", "decimals = 9")]}, 2, ["decimals"]),
    "layer-twice": ("plain-window", {POST: [('"lap-note"', '"lap-label"')]}, 2, ["lap-label"]),
}  # fmt: skip

# Dialects whose lines a controller would read, with another meaning: the proof must tell.
FALSE_DIALECTS = {
    "inches": ("plain-window", [("G21", "G20")]),
    "by-increments": ("plain-window", [("G90", "G91")]),
    "another-plane": ("plain-window", [("G17", "G18")]),
    "beam-stays-on": ("plain-window", [('beam_off = "M5"', 'beam_off = "M3"')]),
    "beam-on-from-the-start": ("plain-window", [('start_head = "M5"', 'start_head = "M3 S1000"')]),
    "x-and-y-exchanged": ("plain-window", [("G0 X{{ x }} Y{{ y }}", "G0 X{{ y }} Y{{ x }}")]),
    "arcs-the-other-way": ("plain-window", [('arc_ccw = "G3', 'arc_ccw = "G2')]),
    "cuts-as-rapids": ("plain-window", [('line = "G1', 'line = "G0')]),
    "no-end": ("plain-window", [('end = "M2"', 'end = "M5"')]),
    "no-feed": ("plain-window", [("F{{ feed }}", "F0")]),
    "power-of-its-own": ("plain-window", [("S{{ power_word }}", "S1000")]),
    "spindle-never-on": ("router-square", [("M3 S{{ speed }}", "S{{ speed }}")]),
    "spindle-backwards": ("router-square", [("M3 S{{ speed }}", "M4 S{{ speed }}")]),
    "no-wait": ("router-square", [("G4 P{{ dwell }}", "")]),
    "raise-too-low": ("router-square", [('raise = "G0 Z{{ z }}"', 'raise = "G0 Z5"')]),
    "plunge-as-rapid": ("router-square", [('plunge = "G1 Z{{ z }}', 'plunge = "G0 Z{{ z }}')]),
}


@pytest.mark.parametrize("verb", ["make", "check"])
@pytest.mark.parametrize("case", IN_FILES)
def test_wrong_files(case, verb, tmp_path):
    base, edits, status, says = IN_FILES[case]
    panel, place = write_edited(tmp_path / "in", base, edits)
    words = [verb, panel] + (["--out", tmp_path / "out"] if verb == "make" else [])
    done = refused(tmp_path, *words, status=status, says=says)
    if status == 2:
        file = place.split(":")[0]
        assert file in done.stderr or "panel.toml" in done.stderr, said(done)


POINTED = [
    "unknown-key", "unknown-machine-key", "unknown-material-key", "unknown-stock-key",
    "unknown-post-key", "unknown-word", "missing-unit", "unknown-unit", "negative", "zero", "huge",
    "not-a-number", "infinite", "negative-kerf", "nan-kerf", "nan-feed", "nan-travel",
    "negative-stock", "text-for-a-number", "side-along-a-bar", "short-overhang",
    "face-off-the-stock", "pitch-below-the-skew-notch", "decimals", "layer-twice",
    "template-not-closed", "template-with-an-unknown-value", "fence-range-turned-about",
    "measured-face-off-the-drawn", "lead-shorter-than-the-notch-reaches",
    "ends-shorter-than-the-notch-reaches", "sticks-longer-than-the-limit",
]  # fmt: skip


@pytest.mark.parametrize("case", POINTED)
def test_the_message_points_at_the_line(case, tmp_path):
    """File, line and a caret under the place; and a word on what would be right."""
    base, edits, status, _ = IN_FILES[case]
    panel, place = write_edited(tmp_path / "in", base, edits)
    done = refused(tmp_path, "check", panel, status=status, says=[f"{place}:", "^"])
    assert "error" in done.stderr, said(done)


@pytest.mark.parametrize(
    "travel, joints", [(396, None), (434.8, None), (434.81, 6), (499.8, 6), (499.81, 7)]
)
def test_sticks_are_as_long_as_gang_and_fence_leave_of_the_travel(travel, joints, tmp_path):
    """By hand, three sticks of 4 at 60 degrees, of 6 joints 390 long, of 7 joints 455. The battens must lie on the
    bed, which is as long as the travel: to the left the fence's back, 30 thick,
    (12 / sin 60 + 3) cos 60 + 30 sin 60 = 34.409; to the right the reference rail to under the last hold, 12 wide,
    which may lie as far as the sticks' end: at the rail's back 30 / tan 60 - 6 / sin 60 = 10.392. 44.801 together."""
    edits = {
        MACHINE: [("[600, 400", f"[{travel}, 400")],
        PANEL: [("spares = 1", "spares = 1\ngang = 3")],
    }
    panel, _ = write_edited(tmp_path / "in", "check", edits)
    done = call("check", panel, "--json")
    if joints is None:
        assert done.returncode == 2 and "travel" in done.stderr, said(done)
        return
    assert done.returncode == 0, said(done)
    slanting = json.loads(done.stdout)["sticks"][0]
    assert slanting["joints"] == joints
    assert slanting["length"] == pytest.approx(joints * 65)


def test_all_faults_of_all_files_in_one_report(tmp_path):
    edits = {
        PANEL: [("depth = 12", "dpeth = 12"), ("columns = 5", "columns = -5")],
        MATERIAL: [("kerf = 0.15", "kerf = nan")],
        MACHINE: [("travel_feed", "travel_fed")],
    }
    panel, _ = write_edited(tmp_path / "in", "plain-window", edits)
    says = ["dpeth", "columns", "kerf", "travel_fed", "panel.toml", "material.toml"]
    refused(tmp_path, "check", panel, status=2, says=says)


@pytest.mark.parametrize("case", FALSE_DIALECTS)
def test_false_dialects_are_told(case, tmp_path):
    base, pairs = FALSE_DIALECTS[case]
    panel, _ = write_edited(tmp_path / "in", base, {POST: pairs})
    before = snapshot(tmp_path)
    done = call("make", panel, "--out", tmp_path / "out")
    assert done.returncode in (1, 2), said(done)
    assert done.stderr and not done.stdout and "panicked" not in done.stderr, said(done)
    assert snapshot(tmp_path) == before


@pytest.mark.parametrize("fixture", ["plain-window", "router-square"])
def test_the_edited_fixtures_are_sound_without_edits(fixture, tmp_path):
    panel, _ = write_edited(tmp_path / "in", fixture, {})
    done = call("make", panel, "--out", tmp_path / "out")
    assert done.returncode == 0, said(done)


def test_a_failed_make_leaves_the_folder_as_it_was(tmp_path):
    out = tmp_path / "out"
    assert call("make", fixture_path("panel", "plain-window"), "--out", out).returncode == 0
    for case in ("unknown-key", "no-bridges", "template-not-closed", "stock-too-short"):
        base, edits, status, says = IN_FILES[case]
        panel, _ = write_edited(tmp_path / case, base, edits)
        refused(tmp_path, "make", panel, "--out", out, status=status, says=says)
    assert call("prove", out).returncode == 0


# Bytes in place of a file: id: (bytes, status).
NOISE = {
    "empty": b"",
    "blank": b"\n \n\t\n",
    "not-utf-8": b'name = "caf\xe9"\n',
    "utf-16": 'name = "x"\n'.encode("utf-16"),
    "nul": b"\0" * 4096,
    "deep": b"a = " + b"[" * 200_000,
    "long-line": b"a = \"" + b"x" * 1_000_000 + b"\"\n",
    "many-keys": b"".join(b"k%d = 1\n" % i for i in range(20_000)),
}


@pytest.mark.parametrize("kind", [PANEL, MACHINE, MATERIAL, STOCK, POST])
@pytest.mark.parametrize("noise", NOISE)
def test_noise_in_place_of_a_file(noise, kind, tmp_path):
    panel, _ = write_edited(tmp_path / "in", "plain-window", {})
    (tmp_path / "in" / f"{kind}.toml").write_bytes(NOISE[noise])
    out = ["--out", tmp_path / "out"]
    refused(tmp_path, "make", panel, *out, status=2, says=[f"{kind}.toml"])


@pytest.mark.parametrize("kind", [PANEL, MATERIAL])
def test_a_hundred_megabytes_of_noise(kind, tmp_path):
    panel, _ = write_edited(tmp_path / "in", "plain-window", {})
    chunk = bytes((i * 7919 + i // 251) % 256 for i in range(1 << 20))
    with open(tmp_path / "in" / f"{kind}.toml", "wb") as file:
        for _ in range(100):
            file.write(chunk)
    out = ["--out", tmp_path / "out"]
    refused(tmp_path, "make", panel, *out, status=2, says=[f"{kind}.toml"])


def test_a_folder_in_place_of_the_panel_file(tmp_path):
    done = call("check", tmp_path)
    assert done.returncode in (2, 3) and done.stderr and not done.stdout, said(done)


def test_odd_values_are_no_fault(tmp_path):
    """What looks odd and is right: inches, lengths as text, a name in another script."""
    changes = {"name": "窓 №1", "ground.depth": "1/2 in", "ground.pitch_up": "1 in"}
    path = write_job(tmp_path / "in", "plain-window", panel=changes)
    done = call("make", path, "--out", tmp_path / "out")
    assert done.returncode == 0, said(done)
