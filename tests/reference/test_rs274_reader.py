"""The reference reader against worked examples.

Examples marked "from memory" are as NISTIR 6556 has them, quoted from memory; the others are worked
here from its rules and from plain geometry.
"""

import math
from pathlib import Path

import pytest
from rs274 import RS274Error, read, split_line

HEAD = "G21 G17 G90 G94 G40 G49 G80 G54\n"


def run(body, head=HEAD, end="M2\n"):
    return read(head + body + end)


def near(a, b, tolerance=1e-9):
    assert len(a) == len(b)
    assert all(abs(x - y) <= tolerance for x, y in zip(a, b)), (a, b)


def test_spaces_and_case_mean_nothing():
    # From memory, 3.3: "g0x +0. 12 34y 7" is equivalent to "g0 x+0.1234 y7".
    assert split_line("g0x +0. 12 34y 7", 1)[2] == split_line("g0 x+0.1234 y7", 1)[2]
    assert split_line("g0 x+0.1234 y7", 1)[2] == [("G", 0.0), ("X", 0.1234), ("Y", 7.0)]


def test_center_format_arc():
    # From memory, 3.5.3.2: "G17 G2 x 10 y 16 i 3 j 4 z 9" is a clockwise circular or helical arc whose
    # axis is parallel to z, ending at x=10, y=16, z=9, its centre offset from the current point by 3 in x
    # and 4 in y; the radius is 5. From (10, 8) the centre is (13, 12), 5 away from both ends.
    program = run("F100\nG0 X10 Y8 Z9\nG17 G2 x 10 y 16 i 3 j 4 z 9\n")
    arc = program.moves[1]
    near(arc.centre, (13, 12))
    # Half the chord is 4, so the angle between the arms is 2 asin(4/5); clockwise from the lower left
    # to the upper left by way of the left side.
    assert arc.sweep == pytest.approx(-2 * math.asin(0.8))
    assert arc.length == pytest.approx(10 * math.asin(0.8))


def test_radius_format_arc():
    # From memory, 3.5.3.1: "G17 G2 x 10 y 15 r 20 z 5" is a clockwise arc of radius 20. The start (0, 0)
    # is this test's: half the chord is sqrt(325)/2.
    program = run("F100\nG0 X0 Y0 Z5\nG17 G2 x 10 y 15 r 20 z 5\n")
    arc = program.moves[1]
    assert math.hypot(*arc.centre) == pytest.approx(20)
    assert math.hypot(arc.centre[0] - 10, arc.centre[1] - 15) == pytest.approx(20)
    assert arc.sweep == pytest.approx(-2 * math.asin(math.sqrt(325) / 40))
    # A negative radius goes the long way round.
    long = run("F100\nG0 X0 Y0\nG2 X10 Y15 R-20\n").moves[1]
    assert long.sweep == pytest.approx(-2 * math.pi + 2 * math.asin(math.sqrt(325) / 40))
    # Counter-clockwise from (1, 0) to (0, 1) about the origin.
    quarter = run("F100\nG0 X1 Y0\nG3 X0 Y1 R1\n").moves[1]
    near(quarter.centre, (0, 0))
    assert quarter.sweep == pytest.approx(math.pi / 2)


def test_half_and_full_turns():
    for code, sign in (("G3", 1), ("G2", -1)):
        program = run(f"F100\nG0 X5 Y0\n{code} X-5 Y0 I-5\n")
        assert program.moves[1].sweep == pytest.approx(sign * math.pi)
        program = run(f"F100\nG0 X5 Y0\n{code} X5 Y0 I-5\n")
        assert program.moves[1].sweep == pytest.approx(sign * 2 * math.pi)


def test_motion_is_modal():
    program = run("F100\nG0 X1 Y1 Z1\nG1 X2\nY3\nZ0\nG0 X0\n")
    assert [m.kind for m in program.moves] == ["rapid", "line", "line", "line", "rapid"]
    near(program.moves[3].start, (2, 3, 1))
    near(program.moves[3].end, (2, 3, 0))
    assert program.cut_length() == pytest.approx(1 + 2 + 1)


def test_inches():
    head = HEAD.replace("G21", "G20")
    program = run("F10\nG0 X1 Y1 Z1\nG3 X2 Y2 I1\n", head=head)
    arc = program.moves[1]
    near(arc.end, (50.8, 50.8, 25.4))
    near(arc.centre, (50.8, 25.4))
    assert arc.feed == pytest.approx(254)
    assert arc.sweep == pytest.approx(1.5 * math.pi)
    # Radii may differ by 0.0002 inch, which is more than 0.002 mm.
    run("F10\nG0 X1 Y1 Z1\nG3 X2 Y2.00019 I1\n", head=head)
    with pytest.raises(RS274Error, match="arc-radii"):
        run("F10\nG0 X1 Y1 Z1\nG3 X2 Y2.00021 I1\n", head=head)


def test_units_may_change_on_the_way():
    program = run("F100\nG0 X25.4 Y0\nG20 G1 X2\nG21 X0\n")
    assert [m.end[0] for m in program.moves] == pytest.approx([25.4, 50.8, 0])


def test_incremental_distance():
    program = run("F100\nG0 X10 Y10\nG91 G1 X5 Y-2\nX1\nG90 X0\n")
    near(program.moves[1].end[:2], (15, 8))
    near(program.moves[2].end[:2], (16, 8))
    near(program.moves[3].end[:2], (0, 8))


def test_order_of_execution():
    # Table 8: feed and speed first, then the spindle, then motion, then the stop.
    program = read(HEAD + "G0 X0 Y0\nG1 X1 F100 M3 S500\nM5 X2\nG0 X0 M2\n")
    _, on, off, last = program.moves
    assert (on.head, on.speed, on.feed) == ("cw", 500, 100)
    assert off.head == "off"
    assert last.kind == "rapid" and program.end_line == 5


def test_dwell_is_in_seconds_and_counts_from_the_switch():
    program = run("M3 S1000\nG4 P1.5\nG4 P1\nF100\nG0 X0 Y0\nM5\nG0 X1\n")
    assert [m.dwell for m in program.moves] == [2.5, 0]


def test_comments_block_delete_and_percent_lines():
    program = read("%\n" + HEAD + "/G18\nG0 (go) X1 (there)\nM2\n%\nthis is not read\n")
    assert program.moves[0].end[0] == 1
    assert [text for _, text in program.remarks] == ["go", "there"]


def test_extent_takes_in_the_belly_of_an_arc():
    program = run("F100\nG0 X1 Y0\nG3 X-1 Y0 I-1\nG1 X-1 Y-0.5\n")
    low, high = program.extent()
    near(low, (-1, -0.5))
    near(high, (1, 1))


def test_head_at_end_is_what_the_program_left():
    assert run("M3 S100\nG0 X0\n").head_at_end == "cw"
    assert run("M3 S100\nG0 X0\nM5\n").head_at_end == "off"


CUT = "F100\nG0 X0 Y0 Z0\n"


@pytest.mark.parametrize(
    ("rule", "body"),
    [
        ("line-length", "(" + "x" * 255 + ")\n"),
        ("character", "G0 X1 (\u00e4)\n"),
        ("comment-nested", "(a (b))\n"),
        ("comment-unclosed", "(a\n"),
        ("comment", ")\n"),
        ("letter", "G0 X1 E3\n"),
        ("letter", "% G0 X1\n"),
        ("number", "G0 X\n"),
        ("number", "G0 X--1\n"),
        ("letter", "G0 X1.2.3\n"),
        ("line-number", "N100000 G0 X1\n"),
        ("line-number", "N1.5 G0 X1\n"),
        ("line-number", "G0 N5 X1\n"),
        ("unknown-code", "G7 X1\n"),
        ("unknown-code", "G1.05 X1\n"),
        ("unknown-code", "M99\n"),
        ("unsupported", "G18\n"),
        ("unsupported", "G0 A1\n"),
        ("modal-group", "G0 G1 X1\n"),
        ("modal-group", "G20 G21\n"),
        ("modal-group", "M3 M5\n"),
        ("m-words", "M0 M6 M3 M9 M5\n"),
        ("repeated-word", "G0 X1 X2\n"),
        ("repeated-word", "F1 F2\n"),
        ("feed", HEAD + "G0 X0 Y0\nG1 X1\n"),
        ("feed", "F-1\n"),
        ("speed", "S-1\n"),
        ("tool", "T1.5\n"),
        ("dwell", "G4\n"),
        ("dwell", "G4 P-1\n"),
        ("unused-word", "G0 X1 P1\n"),
        ("unused-word", "G0 X1 I1\n"),
        ("unused-word", CUT + "G1 X1 R1\n"),
        ("axis-words", "X1\n"),
        ("axis-words", "G0\n"),
        ("axis-words", CUT + "G1 F200\n"),
        ("axis-words", "G80 X1\n"),
        ("axis-words", CUT + "G2 Z1 I1\n"),
        ("arc-format", CUT + "G2 X1\n"),
        ("arc-format", CUT + "G2 X1 I1 R1\n"),
        ("arc-format", CUT + "G2 X0 Y0 R1\n"),
        ("arc-radii", CUT + "G2 X10 Y0 I5.0011\n"),
        ("arc-radii", CUT + "G2 X10 Y0 R4.99\n"),
        ("arc-radii", CUT + "G2 X0.001 Y0 I0 J0\n"),
        ("position", "F100\nG2 X1 Y1 I1\n"),
        ("position", "G91 G0 X1\n"),
        ("length-offset", "G43\n"),
        ("length-offset", "H1\n"),
        ("length-offset", "G49 H1\n"),
        ("length-offset", "G43 H1.5\n"),
        ("modal-group", "G43 G49 H1\n"),
        ("modal-group", "G54 G55\n"),
        ("modal-group", "G61 G64\n"),
        ("modal-group", "M7 M8\n"),
        ("modal-group", "M0 M2\n"),
        ("modal-group", "G28 G53 G0 X0\n"),
        ("own-frame", "G53 X0\n"),
        ("own-frame", "G53 G0\n"),
        ("own-frame", CUT + "G53 G2 X1 I1\n"),
        ("axis-words", "G28 G0 X0\n"),
        ("unknown-code", "G59.4\n"),
        ("program-end", "M2\nG0 X1\n"),
    ],
)
def test_a_broken_rule_is_named(rule, body):
    with pytest.raises(RS274Error) as caught:
        run(body)
    assert caught.value.rule == rule, str(caught.value)


@pytest.mark.parametrize(
    ("rule", "text"),
    [
        ("program-end", HEAD),
        ("unit", "G17 G90\nG0 X1\nM2\n"),
        ("unit", "F100\nM2\n"),
        ("distance-mode", "G21 G17\nG0 X1\nM2\n"),
        ("plane", "G21 G90\nF100\nG0 X0 Y0\nG2 X1 I0.5\nM2\n"),
    ],
)
def test_a_program_must_set_its_modes_and_end(rule, text):
    with pytest.raises(RS274Error) as caught:
        read(text)
    assert caught.value.rule == rule, str(caught.value)


def test_radii_just_inside_the_limit_pass():
    # The arms are 5.0009 and 4.9991 long: 0.0018 apart, where 0.002 mm is allowed (3.5.3.2).
    run(CUT + "G2 X10 Y0 I5.0009\n")


def test_an_error_names_its_line():
    with pytest.raises(RS274Error) as caught:
        run("G0 X1\nG0 Y1 Y2\n")
    assert caught.value.line == 3


DATA = Path(__file__).parent / "data"


def test_the_laser_sample_is_cut_as_drawn():
    # A hole of radius 2 and a bar of 60 by 12, offset by 0.08, with bridges of 0.5 and 1.2 left standing.
    program = read((DATA / "laser-sample.nc").read_text())
    length = 2 * math.pi * (2 + 0.08) + 2 * (60 + 12) - 0.5 - 1.2
    assert program.cut_length() == pytest.approx(length, abs=0.02)
    low, high = program.extent()
    near(low, (9.92, 9.92), 0.001)
    near(high, (70.08, 22.08), 0.001)
    assert all(m.head == "cw" and m.speed == 600 and m.feed == 900 for m in cuts(program))
    assert all(m.head == "off" for m in program.moves if m.kind == "rapid")
    assert all(abs(m.sweep) <= math.pi + 1e-6 and m.sweep > 0 for m in program.moves if m.kind == "arc")
    assert program.head_at_end == "off"


def test_the_router_sample_is_cut_as_drawn():
    # An outline at 1.5 about a bar of 60 by 12 with a quarter turn at each corner; a notch in two passes,
    # the first with a relief of 0.5 out and back.
    program = read((DATA / "router-sample.nc").read_text())
    level = [m for m in cuts(program) if m.start[2] == m.end[2]]
    upright = [m for m in cuts(program) if m.start[2] != m.end[2]]
    assert len(level) + len(upright) == len(cuts(program))
    outline = 2 * (60 + 12) + 2 * math.pi * 1.5
    notch = 2 * (6.5 + 1.05 + 6.5) + 2 * math.hypot(0.3536, 0.3536)
    assert sum(m.length for m in level) == pytest.approx(outline + notch, abs=0.02)
    assert {m.feed for m in level} == {900} and {m.feed for m in upright} == {300}
    assert all(m.start[:2] == m.end[:2] for m in upright)
    assert all(m.head == "cw" and m.speed == 16000 and m.dwell >= 2.5 for m in cuts(program))
    assert {m.end[2] for m in program.moves if m.kind == "rapid"} == {19.0}
    # Clockwise round the piece, a quarter turn at each corner.
    sweeps = [m.sweep for m in level if m.kind == "arc"]
    near(sweeps, [-math.pi / 2] * 4, 0.002)
    assert min(m.end[2] for m in cuts(program)) == -0.2
    assert program.head_at_end == "off"


def cuts(program):
    return [m for m in program.moves if m.kind != "rapid"]


def test_semicolons_mark_remarks_only_where_they_are_told_to():
    # Not in the standard, where a semicolon starts no word.
    with pytest.raises(RS274Error) as told:
        run("F100 ; slow\n")
    assert told.value.rule == "letter"
    program = read(HEAD + "F100 ; slow, very\nG0 X1 Y2\nM2\n", semicolon=True)
    assert program.remarks == [(2, " slow, very")] and len(program.moves) == 1


def test_line_numbers_and_tool_changes_are_told():
    program = run("N10 M5\nN20 G0 Z19\nN30 T3 M6\nG0 Z19\n")
    assert [n for _, n in program.numbers] == [None, 10, 20, 30, None, None]
    assert program.changes == [(4, 3, "off", 19.0)]
    # 3.6.3: the axes may have moved.
    assert program.moves[-1].start == (None, None, None)
    with pytest.raises(RS274Error, match="M6 before any T"):
        run("M6\n")


def test_states_stand_beside_every_move():
    # 3.5.11, 3.5.13, 3.5.14, 3.6.4: what is in force when the move is made.
    program = run("G55 G61\nG43 H3\nM7\nM8\nG0 X1\nM9\nG64\nG49\nG0 X2\n")
    one, other = program.moves
    assert (one.zero, one.path, one.tool_length, one.coolant) == ("G55", "G61", 3, {"M7", "M8"})
    assert (other.zero, other.path, other.tool_length, other.coolant) == ("G55", "G64", None, set())
    assert program.lengths == [(1, None), (3, 3), (9, None)]
    assert [code for _, code in program.switches] == ["M7", "M8", "M9"]
    assert run("M7\nG0 X1\n").coolant_at_end == {"M7"}


def test_places_of_the_machines_own_leave_no_axis_known():
    # 3.5.12: G53 needs G0 or G1 in force, in its line or before; 3.5.8: axis words of G28 name a place on the way.
    program = run("G0 X1 Y2 Z3\nG53 Z0\nG53 G0 X-5 Y7\nG28 X0 Y0\nG28\n")
    assert [(code, places) for _, code, places, *_ in program.parks] == [
        ("G53", {"Z": 0}), ("G53", {"X": -5, "Y": 7}), ("G28", {"X": 0, "Y": 0}), ("G28", {}),
    ]  # fmt: skip
    assert program.parks[0][3:] == ("off", (1, 2, 3)) and program.parks[1][4] == (None, None, None)
    assert len(program.moves) == 1
    inch = run("G0 X1 Y2 Z3\nG53 X2\n", head=HEAD.replace("G21", "G20"))
    assert inch.parks[0][2] == {"X": 50.8}


def test_a_wait_is_in_milliseconds_where_that_is_said():
    text = HEAD + "M3 S1000\nG4 P2500\nG0 X0\nM5\nM2\n"
    assert read(text, milliseconds=True).moves[0].dwell == 2.5
    assert read(text).moves[0].dwell == 2500
