"""The words of every dialect, held against the standard's list, and the order in which the further ones must stand.

Programs are read by rs274.py, which is written from the standard (NISTIR 6556; section numbers from memory) and knows
nothing of the project's own reader.
"""

import re

import pytest

import rs274
from workshop import DIALECTS, ROOT, call, fixture, make, said, sources, summary, write_job

# Codes that every dialect may write, and letters.
PLAIN = {
    "G0", "G1", "G2", "G3", "G4", "G17", "G20", "G21", "G40", "G49", "G54", "G80", "G90", "G94", "M2", "M30", "M3",
    "M4", "M5", "F", "S", "X", "Y", "Z", "I", "J", "P",
}  # fmt: skip
SMALL = {"ground.columns": 2, "ground.rows": 2}
LENGTH = {
    "": "router-toolchange-mm", "words.work_zero": "G58", "words.length_offset": True, "words.coolant": "M7 and M8",
    "gcode.begin": "G21 G17 G90 G94 G40 G49 G80 G58 G61", "gcode.tool_change": "M5\nM9\nT{{ tool_number }} M6",
    "gcode.length_offset": "G43 H{{ tool_number }}", "gcode.stop_head": "M5\nM9\nG49",
    "gcode.start_head": "G0 Z{{ safe_z }}\nM3 S{{ speed }}\nG4 P{{ dwell }}\nM7\nM8",
}  # fmt: skip
HOME = {
    "": "router-inch", "words.path_mode": "continuous", "words.pause": True, "words.park": "G28",
    "gcode.begin": "G20 G17 G90 G94 G40 G49 G80 G54 G64",
    "gcode.tool_change": "M5\nG0 Z{{ safe_z }}\nM0", "gcode.park": "G28 Z{{ safe_z }}\nG28 X0 Y0",
}  # fmt: skip
BEAM = {
    "": "laser-mm", "words.coolant": "M7", "words.park": "G53", "words.work_zero": "G59",
    "gcode.begin": "G21 G17 G90 G94 G40 G49 G80 G59", "gcode.start_head": "M5\nM7", "gcode.stop_head": "M9",
    "gcode.park": "G53 G0 X0 Y{{ 2 * 140.5 }}",
}  # fmt: skip
# name: (panel, change to its dialect)
JOBS = {name: (panel, {"": name}) for name, panel in DIALECTS.items()} | {
    "length": ("router-square", LENGTH), "home": ("router-square", HOME), "beam": ("plain-window", BEAM),
}  # fmt: skip


@pytest.fixture(scope="module", params=JOBS)
def job(request, tmp_path_factory):
    base, change = JOBS[request.param]
    folder = tmp_path_factory.mktemp(request.param)
    return make(write_job(folder / "in", base, panel=SMALL, post_processor=change), folder / "out")


def read(folder, name):
    post = sources(folder)["post_processor"]
    return rs274.read(
        (folder / name).read_text(), semicolon=post["gcode"].get("remarks") == "semicolon",
        milliseconds=post.get("words", {}).get("dwell") == "ms",
    )  # fmt: skip


def programs(folder):
    return [read(folder, setup["file"]) for setup in summary(folder)["setups"]]


def announced(folder):
    return sources(folder)["post_processor"].get("words", {})


def coolant(words):
    return set(words.get("coolant", "").split(" and ")) - {""}


def further(post):
    """The words that a dialect's file announces beyond the plain ones."""
    words = post.get("words", {})
    own = {words.get("work_zero", "G54")} | coolant(words)
    own |= {"exact": {"G61"}, "continuous": {"G64"}}.get(words.get("path_mode"), set())
    own |= {"G43", "H"} if words.get("length_offset") else set()
    own |= {"G91.1"} if words.get("relative_centres") else set()
    own |= {"M0"} if words.get("pause") else set()
    own |= {"M9"} if coolant(words) else set()
    own |= {words["park"]} if "park" in words else set()
    own |= {"T", "M6"} if "M6" in post["gcode"].get("tool_change", "") else set()
    return own


def test_every_word_is_in_the_standards_list_and_announced(job):
    """NISTIR 6556, sections 3.5 to 3.7, or common practice by name; all that is announced stands."""
    post = sources(job)["post_processor"]
    for setup in summary(job)["setups"]:
        for name in (setup["file"], setup["air_run"]):
            found = read(job, name).words
            assert found <= set(rs274.SECTIONS) | rs274.PRACTICE, name
            assert found <= PLAIN | further(post), name
        assert further(post) <= read(job, setup["file"]).words


def test_states_hold_in_every_move(job):
    """3.5.11, 3.5.13, 3.5.14: work zero, path mode and the tool's length, in programs and air runs."""
    words, files = announced(job), sources(job)
    number = files["machine"].get("router", {}).get("tool", {}).get("number")
    for setup in summary(job)["setups"]:
        for name in (setup["file"], setup["air_run"]):
            program = read(job, name)
            assert program.moves
            for move in program.moves:
                assert move.zero == words.get("work_zero", "G54")
                assert move.path == {"exact": "G61", "continuous": "G64", None: None}[words.get("path_mode")]
                assert move.tool_length == (number if words.get("length_offset") else None)


def test_air_and_coolant_are_on_in_every_cut_and_off_at_the_end(job):
    """3.6.4."""
    wanted = coolant(announced(job))
    for program in programs(job):
        assert {m.coolant for m in program.moves if m.kind != "rapid"} == {frozenset(wanted)}
        assert program.coolant_at_end == set()
        assert bool(wanted) == any(code == "M9" for _, code in program.switches)
    for setup in summary(job)["setups"]:
        assert {m.coolant for m in read(job, setup["air_run"]).moves} == {frozenset()}


def test_the_head_is_parked_last_and_off(job):
    """3.5.8, 3.5.12: a cutter goes up first and alone, from the safe height; no move comes after."""
    words, post = announced(job), sources(job)["post_processor"]
    for setup, program in zip(summary(job)["setups"], programs(job)):
        assert not read(job, setup["air_run"]).parks
        if "park" not in words:
            assert not program.parks
            continue
        lines = [line for line, *_ in program.parks]
        assert {code for _, code, *_ in program.parks} == {words["park"]}
        assert all(move.line < lines[0] for move in program.moves)
        assert all(head == "off" for *_, head, _ in program.parks)
        text = (job / setup["file"]).read_text().splitlines()
        assert "M5" in text[: lines[0]]
        assert all(re.fullmatch(r"M5|M9|M2|M30", line) for line in text[lines[-1] :])
        _, _, first, _, at = program.parks[0]
        others = [set(places) for _, _, places, *_ in program.parks]
        if post["drives"] == "laser":
            assert all("Z" not in places for places in others)
            continue
        assert others[0] == {"Z"} and all("Z" not in places for places in others[1:])
        safe = setup["path"]["max"][2]
        assert at[2] == pytest.approx(safe, abs=0.002)
        assert first["Z"] == (0 if words["park"] == "G53" else pytest.approx(safe, abs=0.002))


def test_a_laser_ends_once(job):
    """3.6.2: each M5 switches a beam off that is on, but for the one before the first move."""
    if sources(job)["post_processor"]["drives"] != "laser":
        return
    for program in programs(job):
        beam = [code for _, code in program.switches if code in ("M3", "M4", "M5")]
        assert beam[0] == "M5" and beam[1] != "M5"
        assert all((one == "M5") != (other == "M5") for one, other in zip(beam, beam[1:]))
        assert beam[-1] == "M5" and beam.count("M5") > 2


def test_a_stop_stands_before_the_head_goes_on(job):
    """3.6.1: the head is off, nothing has been cut, and the next move is up, alone."""
    words = announced(job)
    for program in programs(job):
        assert [code for _, code in program.stops] == (["M0"] if words.get("pause") else [])
        for line, _ in program.stops:
            assert all(move.kind == "rapid" for move in program.moves if move.line < line)
            assert all(at > line for at, code in program.switches if code in ("M3", "M4"))
            after = next(move for move in program.moves if move.line > line)
            assert after.kind == "rapid" and after.start[:2] == after.end[:2]


def test_the_built_in_dialects_show_each_further_word():
    posts = [fixture("post_processor", name) for name in DIALECTS]
    shown = set().union(*(further(post) for post in posts))
    assert {"M7", "M8", "M9", "G53", "M0", "G61", "G91.1"} <= shown
    assert any(post.get("words", {}).get("dwell") == "ms" for post in posts)
    exact = {post["name"] for post in posts if "G61" in further(post)}
    silent = {post["name"] for post in posts if post["drives"] == "router"} - exact
    assert silent == {"router, inches, no arcs, numbered short lines"}, "its controller may not know G61"


def test_rounded_corners_are_told_everywhere(tmp_path):
    path = write_job(tmp_path / "in", "router-square", panel=SMALL, post_processor=HOME)
    folder = make(path, tmp_path / "out")
    told = summary(folder)
    [check] = [c for c in told["checks"] if c["id"] == "path-mode"]
    assert check["status"] == "warn" and check["value"] == 1 and check["limit"] == 0
    words = "corners may be rounded, and that is not proven"
    assert any(words in warning for warning in told["warnings"])
    assert words in (folder / "sheet.html").read_text()
    for setup in told["setups"]:
        text = (folder / setup["file"]).read_text()
        assert any(words in remark for _, remark in rs274.read(text).remarks)
        assert any("G28 parks the head" in remark for _, remark in rs274.read(text).remarks)
    done = call("make", path, "--out", tmp_path / "again")
    assert words in done.stderr, said(done)
    exact = make(write_job(tmp_path / "exact", "router-square", panel=SMALL), tmp_path / "plain")
    assert [c["status"] for c in summary(exact)["checks"] if c["id"] == "path-mode"] == ["pass"]
    assert words not in (exact / "sheet.html").read_text()


# Words that the file does not announce: (dialect, key, its text, a word of what is told).
UNSAID = {
    "another zero": ("router-mm", "gcode.begin", "G21 G17 G90 G94 G40 G49 G80 G56 G61", "G56"),
    "a path mode": ("laser-mm", "gcode.begin", "G21 G17 G90 G94 G40 G49 G80 G54 G64", "G64"),
    "air": ("laser-mm", "gcode.start_head", "M5\nM8", "M8"),
    "a length": ("router-mm", "gcode.start_head",
                 "G43 H{{ tool_number }}\nG0 Z{{ safe_z }}\nM3 S{{ speed }}\nG4 P{{ dwell }}", "G43"),
    "a stop": ("router-mm", "gcode.stop_head", "M5\nM0", "M0"),
    "a park": ("laser-mm", "gcode.end", "G28 X0 Y0\nM2", "G28"),
    "a wait in ms": ("router-mm", "gcode.start_head",
                     "G0 Z{{ safe_z }}\nM3 S{{ speed }}\nG4 P{{ dwell * 1000 }}", "wait"),
    "a word of none": ("laser-mm", "gcode.start_head", "M5\nM48", "M48"),
}  # fmt: skip


@pytest.mark.parametrize("case", UNSAID)
def test_a_word_that_is_not_announced_is_refused_at_its_key(case, tmp_path):
    name, key, text, word = UNSAID[case]
    path = write_job(tmp_path / "in", DIALECTS[name], panel=SMALL, post_processor={"": name, key: text})
    done = call("make", path, "--out", tmp_path / "out")
    assert done.returncode == 2 and not (tmp_path / "out").exists(), said(done)
    lines = (path.parent / "post_processor.toml").read_text().splitlines()
    at = next(n for n, line in enumerate(lines, start=1) if line.startswith(key.split(".")[1] + " ="))
    assert f"post_processor.toml:{at}:" in done.stderr and key in done.stderr and word in done.stderr, said(done)


# What a template may not say, or cannot work out: (its text, a word of what is told).
UNSOUND = {
    "a list doubled": ("{% set l = [1] %}" + "{% set l = l + l %}" * 32 + "G4 P{{ l }}", "is not allowed"),
    "a list doubled in a loop": ("{% for i in range(32) %}{% set l = l + l %}{% endfor %}", "is not allowed"),
    "a text doubled": ("G4 P{{ " + "(" * 32 + "dwell" + " ~ dwell)" * 32 + " }}", "4 deep"),
    "nought": ("G0 Z{{ safe_z }}\nM3 S{{ speed / (dwell - dwell) }}", "divides by nought"),
    "no number": ("G0 Z{{ safe_z }}\nM3 S{{ tool_name * 2 }}", "is no number"),
    "no value": ("G0 Z{{ safe_z }}\nM3 S{{ sped * 2 }}", "`sped`"),
    "too many": ("G0 Z{{ " + " + ".join(["safe_z"] * 17) + " }}", "more than 16"),
    "a power": ("G4 P{{ dwell ** 9 }}", "nothing else is allowed"),
}  # fmt: skip


@pytest.mark.parametrize("case", UNSOUND)
def test_a_template_says_names_and_sums_and_no_more(case, tmp_path):
    text, words = UNSOUND[case]
    path = write_job(tmp_path / "in", "router-square", panel=SMALL, post_processor={"gcode.start_head": text})
    done = call("check", path, timeout=20)
    assert done.returncode == 2 and "gcode.start_head" in done.stderr and words in done.stderr, said(done)


def test_sums_print_with_the_decimals_of_the_dialect(tmp_path):
    """By hand: 4 s are 4000 ms; a third of 16000 is 5333.333; noughts at the end are dropped."""
    change = {
        "gcode.start_head": "(a third {{ speed / 3 }}, {{ (speed + 0.5) * -1 }}, {{ 2 * 0.25 }})\n"
        "G0 Z{{ safe_z - 1 + 1 }}\nM3 S{{ speed }}\nG4 P{{ dwell * 1000 }}",
        "words.dwell": "ms",
    }
    machine = {"router.spin_up_s": 4}
    material = {"router.speed_rpm": 16000}
    path = write_job(
        tmp_path / "in", "router-square", panel=SMALL, machine=machine, material=material, post_processor=change,
    )  # fmt: skip
    folder = make(path, tmp_path / "out")
    for setup in summary(folder)["setups"]:
        text = (folder / setup["file"]).read_text()
        assert "(a third 5333.333, -16000.5, 0.5)" in text
        assert "\nG4 P4000\n" in text


def parts(section):
    """3.5.9 comes before 3.5.10."""
    return tuple(map(int, section.split(".")))


def test_the_guide_lists_every_word():
    """Its table of words, code by code, with the sections that the reference reader has."""
    text = (ROOT / "src" / "guide" / "files.md").read_text()
    table = text[text.index("## Words of a program") : text.index("## Pattern file")]
    told = {}
    for row in re.findall(r"^\| (.*?) \|.*\| (.*?) \|$", table, re.MULTILINE):
        words, section = row
        codes = re.findall(r"\b(?:[GM]\d+(?:\.\d)?|[XYZIJFPSTHN])\b", " ".join(re.findall(r"`([^`]*)`", words)))
        if "`G54` to `G59`" in words:
            codes = [f"G{n}" for n in range(54, 60)]
        # The row that a word stands in first is its own.
        told = dict.fromkeys(codes, section) | told
    assert set(told) == set(rs274.SECTIONS) | rs274.PRACTICE
    for word, section in rs274.SECTIONS.items():
        if word in ("X", "Y", "Z", "N"):
            continue
        said = [parts(n) for n in re.findall(r"3\.\d+\.\d+", told[word])]
        through = " to " in told[word] and said[0] <= parts(section) <= said[1]
        assert parts(section) in said or through, (word, section, told[word])
