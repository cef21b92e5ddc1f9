//! Changes in the file for the rules of motion: those that break one, and those that are none.

const LASER: &str = "laser-mm";
const ROUTER: &str = "router-mm";
const INCH: &str = "router-inch";
const LINES: &str = "laser-lines-mm";
const CHANGE: &str = "router-toolchange-mm";
const FOLLOW: &str = "laser-follow-mm";
const PAUSE: &str = "router-pause-mm";
const LENGTH: &str = "router-length-mm";
const HOME: &str = "router-home-inch";
const PARK: &str = "laser-park-mm";

/// The second corner of the hole's first half turn: 2 / cos a from its centre in the direction 3 a,
/// where a is a 72nd of half a turn, the widest with 2 / cos a - 2 below 0.002.
const CORNER: &str = "G1 X34.985 Y16.261\n";

/// Changes in the file and the rule that each breaks, `off-plan` and others aside.
pub const IN_FILE: &[(&str, &str, &str, &str)] = &[
    (
        "rapid-low",
        ROUTER,
        "G1 Z2.000 F300",
        "G0 Z2.000\nG1 Z2.000 F300",
    ),
    ("rapid-low", ROUTER, "G0 Z19.000\n(outline)", "(outline)"),
    (
        "rapid-low",
        ROUTER,
        "G0 Z19.000\n(outline)",
        "G0 Z18.000\n(outline)",
    ),
    ("rapid-high", ROUTER, "G0 Z19.000\nM3", "G0 Z20.000\nM3"),
    ("rapid-high", HOME, "G28 Z0.74803", "G28 Z1.00000"),
    (
        "sloped-cut",
        ROUTER,
        "G1 X32.000 Y17.500 F900",
        "G1 X32.000 Y17.500 Z1.000 F900",
    ),
    ("bed", ROUTER, "G1 Z-0.200 F300", "G1 Z-0.400 F300"),
    ("head-off-cut", ROUTER, "M3 S16000\n", ""),
    ("head-off-cut", LASER, "M3 S600\n", ""),
    ("beam-on-travel", LASER, "J0.000\nM5", "J0.000"),
    ("beam-on-travel", LASER, "M5\n(hole)", "(hole)"),
    ("beam-dwell", LASER, "M3 S600", "M3 S600\nG4 P1"),
    (
        "dwell-low",
        ROUTER,
        "G1 Z2.000 F300",
        "G1 Z2.000 F300\nG4 P9",
    ),
    ("spin-up", ROUTER, "G4 P2.5\n", ""),
    ("spin-up", ROUTER, "G4 P2.5", "G4 P2.4"),
    (
        "spin-up",
        ROUTER,
        "M3 S16000\nG4 P2.5",
        "G4 P2.5\nM3 S16000",
    ),
    (
        "head-low",
        ROUTER,
        "G0 Z19.000\nM3 S16000",
        "M3 S16000\nG0 Z19.000",
    ),
    ("head-low", ROUTER, "G0 Z19.000\nM5", "M5\nG0 Z19.000"),
    ("head-on-end", ROUTER, "M5\n", ""),
    ("end-low", ROUTER, "G0 Z19.000\nM5\n", "M5\n"),
    ("feed", ROUTER, "Y17.500 F900", "Y17.500"),
    ("feed", ROUTER, "Y17.500 F900", "Y17.500 F901"),
    ("feed", ROUTER, "Z-0.200 F300", "Z-0.200"),
    ("feed", LASER, "F900", "F9000"),
    ("power", LASER, "M3 S600", "M3 S601"),
    ("power", LASER, "G1 X70.000", "G1 S60 X70.000"),
    ("speed", ROUTER, "M3 S16000", "M3 S1600"),
    ("tool", ROUTER, "M3 S16000", "T4\nM3 S16000"),
    ("tool", LASER, "M3 S600", "T4 M3 S600"),
    ("off-plan", LASER, "X70.000", "X70.002"),
    // A lift after a plunge: the pass would run in the air, and the next one cut twice as deep.
    (
        "off-plan",
        ROUTER,
        "G1 Z2.000 F300",
        "G1 Z2.000 F300\nG0 Z19.000",
    ),
    ("off-plan", LASER, "G0 X20.000 Y9.920", "G0 X20.000 Y9.910"),
    (
        "off-plan",
        LASER,
        "G3 X31.000 Y16.000",
        "G2 X31.000 Y16.000",
    ),
    (
        "off-plan",
        LASER,
        "G3 X31.000 Y16.000 I-2.000 J0.000",
        "G1 X31.000 Y16.000",
    ),
    (
        "off-plan",
        LASER,
        "G3 X70.080 Y10.000 I0.000 J0.080",
        "G2 X70.080 Y10.000 I0.000 J0.080",
    ),
    ("tool", CHANGE, "T3 M6", "T4 M6"),
    (
        "change-unsafe",
        CHANGE,
        "M5\nG0 Z19.000\nT3 M6",
        "G0 Z19.000\nT3 M6",
    ),
    ("change-unsafe", CHANGE, "G0 Z19.000\nT3 M6", "T3 M6"),
    (
        "change-unsafe",
        CHANGE,
        "G0 Z19.000\nT3 M6",
        "G0 Z18.000\nT3 M6",
    ),
    ("change-unsafe", CHANGE, "T3 M6", "T3 M6\nG0 Z19.000\nM6"),
    ("change-missing", CHANGE, "T3 M6\n", ""),
    ("change-missing", HOME, "M0\n", ""),
    // Where z is the nose's until G43, the tool is changed before anything moves, and head off all the same.
    ("change-unsafe", LENGTH, "M5\nM9\nT3", "M9\nT3"),
    ("tool", LENGTH, "H3", "H4"),
    ("wait", PAUSE, "G4 P2500", "G4 P3500"),
    ("spin-up", PAUSE, "G4 P2500", "G4 P2.5"),
    // Air and coolant: all that is announced is on in every cut, and off at the end.
    ("coolant-off-cut", FOLLOW, "M8\n", ""),
    ("coolant-off-cut", LENGTH, "M7\n", ""),
    ("coolant-off-cut", LENGTH, "M8\n", ""),
    ("coolant-off-cut", PAUSE, "(outline)\n", "M9\n(outline)\n"),
    ("coolant-off-cut", PAUSE, "M7\n", "M7\nM9\n"),
    ("coolant-on-end", FOLLOW, "M9\n", ""),
    ("coolant-on-end", LENGTH, "M5\nM9\nG49", "M5\nG49"),
    ("coolant-on-end", PAUSE, "M5\nM9\nG53", "M9\nM7\nM5\nG53"),
    // A stop: after M5, at the safe height or before the first move.
    ("pause-low", PAUSE, "M5\nM9\n(fit", "M9\n(fit"),
    ("pause-low", HOME, "M5\nG0 Z0.74803\nT3", "G0 Z0.74803\nT3"),
    ("pause-low", HOME, "G0 Z0.74803\nT3", "G0 Z0.74802\nT3"),
    ("pause-low", PARK, "M5\nM0", "M0"),
    ("body-words", PARK, "(bar A1)\n", "M9\nM0\n(bar A1)\n"),
    ("frame", PAUSE, "M0\n", ""),
    // Parking: from the safe height, to places that the machine can reach.
    ("park-low", PAUSE, "G0 Z19.000\nM5\nM9\nG53", "M5\nM9\nG53"),
    ("park-low", HOME, "G28 Z0.74803", "G28 Z0.74802"),
    ("travel", HOME, "G28 Z0.74803", "G28 Z2.36300"),
    ("travel", PARK, "X-380.0", "X-400.001"),
    ("travel", PARK, "Y290", "Y300.001"),
    ("travel", PAUSE, "G53 G0 X0 Y0", "G53 G0 X400.001 Y0"),
    ("frame", PARK, "X-380.0", "X-379.0"),
    ("frame", PAUSE, "G53 G0 X0 Y0\n", ""),
    ("frame", HOME, "G28 X0 Y0\n", ""),
    ("end-low", HOME, "M5\nG28 Z0.74803\nG28 X0 Y0", "M5\nM0"),
    // Inches: a step of the last decimal is 0.000254 mm.
    (
        "off-plan",
        INCH,
        "G1 X1.25984 Y0.68898",
        "G1 X1.25985 Y0.68898",
    ),
    ("off-plan", INCH, "G1 Z0.07874", "G1 Z0.07875"),
    ("feed", INCH, "F35.43307", "F35.43309"),
    ("bed", INCH, "Z-0.00787", "Z-0.01187"),
    // Without arcs: a corner left out cuts inside the arc, a corner moved lies off it, back is no way.
    ("off-plan", LINES, CORNER, ""),
    ("off-plan", LINES, CORNER, "G1 X34.990 Y16.261\n"),
    (
        "off-plan",
        LINES,
        CORNER,
        "G1 X34.985 Y16.261\nG1 X35.000 Y16.087\nG1 X34.985 Y16.261\n",
    ),
    ("off-plan", LASER, "M5\nM2", "G0 X0.0 Y0.0\nM5\nM2"),
    ("off-plan", ROUTER, "G1 Z1.200 F300\n", ""),
    ("off-plan", ROUTER, "G1 Z1.200 F300", "G1 Z0.700 F300"),
    (
        "off-plan",
        ROUTER,
        "(notch)\n",
        "(notch)\nG0 X5.000 Y5.000\n",
    ),
    ("remark", ROUTER, "(notch)", "G0 X5.000 Y5.000"),
    ("off-plan", ROUTER, "G1 X33.050 Y17.500\n", ""),
    (
        "off-plan",
        LASER,
        "G1 X70.080 Y22.000\n",
        "G1 X70.080 Y16.000\nG1 X70.080 Y22.000\n",
    ),
    (
        "off-plan",
        ROUTER,
        "G1 X31.646 Y17.146",
        "G1 X31.146 Y17.146",
    ),
    ("off-plan", ROUTER, "G1 Z1.200", "G1 Z0.700"),
    ("off-plan", LASER, "G0 X20.000", "G0 X10.000"),
    // A move, a rise, a switch that is there twice.
    (
        "off-plan",
        LASER,
        "G0 X35.000 Y16.000\n",
        "G0 X35.000 Y16.000\nG0 X35.000 Y16.000\n",
    ),
    ("off-plan", ROUTER, "(outline)\n", "(outline)\nG0 Z19.000\n"),
    ("remark", LASER, "J0.000\nM5", "J0.000\nM5\nM5"),
    ("off-plan", LASER, "Y22.080\nM5", "Y22.080\nM5\nM5"),
    // The notch at once, and deeper than a pass.
    ("pass-depth", ROUTER, "G1 Z2.000 F300", "G1 Z-0.250 F300"),
    // Waits: longer, another one, before the start, after the stop, and any of a laser's.
    ("wait", ROUTER, "G4 P2.5", "G4 P3.5"),
    ("wait", ROUTER, "G4 P2.5", "G4 P86400"),
    ("wait", ROUTER, "G4 P2.5", "G4 P2.5\nG4 P1"),
    ("wait", ROUTER, "M3 S16000", "G4 P1\nM3 S16000"),
    ("wait", ROUTER, "(outline)\n", "G4 P60\n(outline)\n"),
    ("wait", ROUTER, "M5\nM2", "M5\nG4 P60\nM2"),
    ("wait", LASER, "G0 X20.000", "G4 P1\nG0 X20.000"),
    // What a person reads.
    ("remark", LASER, "(hole)", "(a hole)"),
    ("remark", LASER, "(hole)\n", ""),
    (
        "remark",
        LASER,
        "zero needs, mm - 0.00",
        "zero needs, mm - 0)\n(.00",
    ),
    ("remark", LASER, "(goggles on)", "(gog)\n(gles on)"),
    ("remark", LASER, "(hole)\nG0", "(hole) G0"),
    ("remark", LASER, "(hole)\n", "(hole)\n(hole)\n"),
    ("remark", LASER, "(goggles on)\n", ""),
    ("remark", LASER, "(goggles on)", "(goggles off)"),
    (
        "remark",
        LASER,
        "(hole)\nG0 X35.000 Y16.000\n",
        "G0 X35.000 Y16.000\n(hole)\n",
    ),
    (
        "remark",
        ROUTER,
        "(zero on the bed, lower left)",
        "(zero on the top, lower left)",
    ),
    (
        "remark",
        ROUTER,
        "zero needs, mm - 0.00",
        "zero needs, mm - 1.00",
    ),
    ("remark", ROUTER, "(tool 3, straight", "(tool 4, straight"),
    ("remark", ROUTER, "M5\nM2", "M5\n(change the cutter)\nM2"),
    // Head and tail, word for word.
    ("remark", LASER, "M5\n(hole)", "M5\nM5\n(hole)"),
    ("off-plan", LASER, "M5\nM2", "M2"),
    ("frame", ROUTER, "M5\nM2", "M2"),
    ("frame", LASER, "M5\nM2", "M5\nM30"),
    ("frame", LASER, "M5\n(hole)", "M5 F900\n(hole)"),
    ("frame", ROUTER, "M3 S16000", "M3 S16000 T3"),
    (
        "frame",
        ROUTER,
        "G0 Z19.000\nM3 S16000",
        "M5\nG0 Z19.000\nM3 S16000",
    ),
    // Words among the moves that change nothing, or not yet.
    ("body-words", LASER, "G0 X35.000", "G54\nG0 X35.000"),
    ("body-words", LASER, "Y9.920\nM3 S600", "Y9.920\nM3"),
    (
        "body-words",
        LASER,
        "G0 X35.000 Y16.000",
        "G0 X35.000 Y16.000 F900",
    ),
    ("body-words", ROUTER, "(outline)\n", "(outline)\nF900\n"),
    ("body-words", ROUTER, "(outline)\n", "(outline)\nM3\n"),
    ("body-words", ROUTER, "(outline)\n", "(outline)\nT3\n"),
    ("body-words", ROUTER, "(outline)\n", "(outline)\nG80\n"),
];

/// Changes in the file that are none: blanks, forms of numbers, order in a block, words that are in force.
pub const SAME: &[(&str, &str, &str)] = &[
    (LASER, "(goggles on)", "( goggles  on )"),
    (LASER, "(goggles on)", "(goggles)\n(on)"),
    (LASER, "G0 X35.000 Y16.000", "G00X+35.Y16"),
    (LASER, "G0 X35.000 Y16.000", "Y16.000 X35.000 G0"),
    (LASER, "G21 G17 G90", "G90 G21 G17"),
    (LASER, "G1 X70.000 Y9.920", "G1 X70.000"),
    (LASER, "M3 S600", "S600 M3"),
    (LASER, "I-2.000 J0.000", "I-2.000"),
    (LASER, "(hole)\n", "\n(hole)\n"),
    (ROUTER, "G1 X33.050 Y17.500", "X33.050 Y17.500 F900"),
    (ROUTER, "G0 Z19.000\nM3", "G0  Z19.0 \n\nM03"),
];
