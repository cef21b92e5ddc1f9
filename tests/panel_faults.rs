//! Files with a slip in them: what the maker is told, and where.

use crate::panel_support::{edited, one_fault};
use lapwright::panel::SourceKind;

#[test]
fn unknown_keys_get_the_nearest_known_one() {
    use SourceKind::{Machine, Material, Panel, Post, Stock};
    let check = |kind, from, to, said| one_fault("check", kind, from, to, said);
    check(
        Panel,
        "spares = 1",
        "spars = 1",
        "unknown key `spars` in [sticks]; did you mean `spares`?",
    );
    check(
        Panel,
        "spares = 1",
        "spares = 1\n[sheet]\npaper = \"a5\"",
        "`paper` cannot be \"a5\"; did you mean \"a4\"? write \"a4\" or \"letter\"",
    );
    // A required key that is only misspelt is one fault, not two.
    check(
        Panel,
        "pitch = 65",
        "pich = 65",
        "unknown key `pich` in [ground]; did you mean `pitch`?",
    );
    check(
        Panel,
        "[cut]",
        "[cutt]",
        "unknown key `cutt` at the top of the file; did you mean `cut`?",
    );
    check(
        Panel,
        "post_processor =",
        "post-processor =",
        "unknown key `post-processor` at the top of the file; did you mean `post_processor`?",
    );
    check(
        Panel,
        "pitch = 65",
        "pitch = 65\npitch_up = 24",
        "unknown key `pitch_up` in [ground]; a three-way layout has one `pitch`, from joint to joint",
    );
    check(
        Panel,
        "ends = { upright = 57.5 }",
        "ends = { level = 57.5 }",
        "unknown key `level` in [sticks.ends]; families here: rising, upright, falling",
    );
    check(
        Panel,
        "face = 4",
        "face = 4\n\"\\u001b[31mred\" = 4",
        "unknown key `\u{1b}[31mred` in [ground]; keys here: layout, pitch, corner_joint, columns, rows, depth, face, faces, ranks",
    );
    check(
        Machine,
        "spin_up_s = 4",
        "spinup_s = 4",
        "unknown key `spinup_s` in [router]; did you mean `spin_up_s`?",
    );
    check(
        Machine,
        "flutes = 2",
        "flute = 2",
        "unknown key `flute` in [router.tool]; did you mean `flutes`?",
    );
    check(
        Material,
        "crush",
        "crash",
        "unknown key `crash` at the top of the file; did you mean `crush`?",
    );
    check(
        Stock,
        "width",
        "widht",
        "unknown key `widht` in [blank]; did you mean `width`?",
    );
    check(
        Post,
        "color = 92",
        "colour = 92",
        "unknown key `colour` in [dxf.outline]; did you mean `color`?",
    );
    for (to, said) in [
        (
            "dxf_versions = \"R12\"",
            "unknown key `dxf_versions` in [cut]; did you mean `dxf_version`?",
        ),
        (
            "dxf_file = \"piece\"",
            "unknown key `dxf_file` in [cut]; did you mean `dxf_files`?",
        ),
    ] {
        check(Panel, "clearance = 0.05", to, said);
    }
}

#[test]
fn wrong_values_are_told_what_would_be_right() {
    use SourceKind::Panel;
    let pitch = |to, said| one_fault("check", Panel, "pitch = 65", to, said);
    pitch(
        "pitch = \"65\"",
        "`pitch`: the unit is missing: write 65 or \"65 mm\"",
    );
    pitch(
        "pitch = -65",
        "`pitch` must be more than 0 and at most 10000 mm, but is -65",
    );
    pitch(
        "pitch = 0",
        "`pitch` must be more than 0 and at most 10000 mm, but is 0",
    );
    pitch(
        "pitch = -0.0",
        "`pitch` must be more than 0 and at most 10000 mm, but is -0.0",
    );
    pitch(
        "pitch = 1e9",
        "`pitch` must be more than 0 and at most 10000 mm, but is 1e9",
    );
    pitch(
        "pitch = 1e999",
        "`pitch` must be more than 0 and at most 10000 mm, but is 1e999",
    );
    pitch(
        "pitch = inf",
        "`pitch` must be more than 0 and at most 10000 mm, but is inf",
    );
    pitch(
        "pitch = -inf",
        "`pitch` must be more than 0 and at most 10000 mm, but is -inf",
    );
    pitch(
        "pitch = nan",
        "`pitch` must be more than 0 and at most 10000 mm, but is not a number",
    );
    pitch(
        "pitch = 99999999999999999999999999999999999999999999999999",
        "`pitch` must be more than 0 and at most 10000 mm, \
         but is 9999999999999999999999999999999999999999...",
    );
    pitch(
        "pitch = \"-3/4 in\"",
        "`pitch` must be more than 0 and at most 10000 mm, but is \"-3/4 in\"",
    );
    pitch(
        "pitch = true",
        "`pitch` must be a length, but is true or false; write pitch = 12 (mm), or pitch = \"1/2 in\"",
    );
    pitch(
        "pitch = []",
        "`pitch` must be a length, but is an empty list; write pitch = 12 (mm), or pitch = \"1/2 in\"",
    );
    let whole = "write a whole number from 1 to 100000, without point and quotes";
    let columns = |to, said: &str| one_fault("check", Panel, "columns = 6", to, said);
    columns(
        "columns = 6.0",
        &format!("`columns` must be a whole number, but is a number with a point; {whole}"),
    );
    columns(
        "columns = \"6\"",
        &format!("`columns` must be a whole number, but is text; {whole}"),
    );
    columns(
        "columns = 0",
        "`columns` must be from 1 to 100000, but is 0",
    );
    columns(
        "columns = -6",
        "`columns` must be from 1 to 100000, but is -6",
    );
    columns(
        "columns = 6000000000",
        "`columns` must be from 1 to 100000, but is 6000000000",
    );
    one_fault(
        "check",
        Panel,
        "corner_joint = false",
        "corner_joint = \"no\"",
        "`corner_joint` must be true or false, but is text; \
         write corner_joint = true or corner_joint = false, without quotes",
    );
    one_fault(
        "check",
        Panel,
        "\"three-way\"",
        "\"threeway\"",
        "`layout` cannot be \"threeway\"; did you mean \"three-way\"? \
         write \"square\", \"diamond\", \"three-way\", \"open-three-way\", \"eight-point\" or \"free\"",
    );
    one_fault(
        "check",
        Panel,
        "left = \"inner-edge\"",
        "left = 12",
        "`left` must be one of a few words in quotes, but is a whole number; \
         write \"centres\", \"inner-edge\" or { clear = 12 }",
    );
    one_fault(
        "check",
        Panel,
        "upright = 2,",
        "upright = 3,",
        "rank 3 is given twice; give each family its own of the ranks 1 (back) to 3 (front)",
    );
    one_fault(
        "check",
        Panel,
        "face = 4",
        "faces = { rising = 4, upright = 4, falling = 4 }\nface = 4",
        "the file says both `face` and `faces`; \
         keep `face` for bars that are all alike, or `faces` for each family",
    );
    // A name goes into remarks and labels: it must not bring lines of its own.
    one_fault(
        "check",
        Panel,
        "\"check panel\"",
        "\"check\\nG0 Z-5\"",
        "`name` has a control character or more than one line; write one short line: name = \"...\"",
    );
    // Nor turn about what stands behind it.
    one_fault(
        "check",
        Panel,
        "\"check panel\"",
        "\"check \u{202E}lenap\"",
        "`name` has a control character or more than one line; write one short line: name = \"...\"",
    );
    one_fault(
        "check",
        Panel,
        "\"check panel\"",
        "\"  \"",
        "`name` is blank; write one short line: name = \"...\"",
    );
}

#[test]
fn wrong_values_of_the_other_files_too() {
    use SourceKind::{Machine, Material, Post, Stock};
    one_fault(
        "check",
        Machine,
        "speed_rpm = [8000, 24000]",
        "speed_rpm = [24000, 8000]",
        "`speed_rpm` must name the least first; speed_rpm = [least, greatest]",
    );
    one_fault(
        "check",
        Machine,
        "speed_rpm = [8000, 24000]",
        "speed_rpm = [24000]",
        "`speed_rpm` has 1 numbers in its brackets; write speed_rpm = [least, greatest]",
    );
    one_fault(
        "check",
        Machine,
        "[600, 400, 80]",
        "[600, 400]",
        "a router's `travel` needs a third number; write travel = [600, 400, 80], the third for z",
    );
    one_fault(
        "check",
        Machine,
        "[600, 400, 80]",
        "[600, 0, 80]",
        "`travel` in x and y must be more than 0; write travel = [600, 400]",
    );
    for (keys, says) in [
        (
            "zero = { x = [0, 601] }",
            "zero cannot stand at 601 in a travel of 600; write x = [least, greatest], from 0 to 600",
        ),
        (
            "zero = { y = [-1, 10] }",
            "`y` must be from 0 to 100000 mm, but is -1",
        ),
        (
            "zero = { y = [20, 10] }",
            "`y` must name the least first; y = [least, greatest]",
        ),
        (
            "bed = { x = [5, 5] }",
            "the bed in x must be more than 0 long; write where it begins and where it ends",
        ),
        (
            "bed = { y = [400, 500] }",
            "the bed in y lies beside the travel, 0 to 400; count from the travel's lower left corner",
        ),
    ] {
        let both = format!("feed = [60, 12000]\n{keys}");
        one_fault("plain-window", Machine, "feed = [60, 12000]", &both, says);
    }
    one_fault(
        "plain-window",
        Machine,
        "[5, 100]",
        "[5, 101]",
        "`power_percent` must be from 0 to 100 percent, but is 101",
    );
    one_fault(
        "plain-window",
        Machine,
        "feed = [60, 12000]",
        "feed = [60, \"12 m\"]",
        "`feed` must be a number (mm/min), but is text; \
         write a number without quotes, more than 0 and at most 200000 mm/min",
    );
    one_fault(
        "plain-window",
        Material,
        "kerf = 0.15",
        "kerf = 0",
        "`kerf` must be from 0.02 to 5 mm, but is 0",
    );
    let readings = |to, said: &str| one_fault("check", Material, "thickness = 4.0", to, said);
    let right = "thickness = 4, thickness = [least, greatest], or a list of three readings or more";
    readings(
        "thickness = [4.1, 4.0]",
        &format!("`thickness` must name the least first; {right}"),
    );
    readings(
        "thickness = [4.1]",
        &format!("`thickness` has 1 numbers in its brackets; write {right}"),
    );
    readings(
        "thickness = []",
        &format!("`thickness` has 0 numbers in its brackets; write {right}"),
    );
    readings(
        "thickness = [4.0, 4.1, 0]",
        "`thickness` must be more than 0 and at most 500 mm, but is 0",
    );
    readings(
        "thickness = [4.0, 4.1, \"4.05 m\"]",
        "`thickness`: unknown unit `m`: write mm, cm or in",
    );
    let many = format!("thickness = [{}]", ["4.0"; 101].join(", "));
    readings(
        many.as_str().to_owned().leak(),
        &format!("`thickness` has 101 numbers in its brackets; write {right}"),
    );
    one_fault(
        "check",
        Material,
        "tight_joints = true",
        "tight_joints = true\nmilled = 4",
        "`milled` must be one table or more, but is a whole number; \
         write [[milled]] on a line of its own and its keys below",
    );
    one_fault(
        "plain-window",
        Stock,
        "width = 297",
        "width = 10",
        "`width` leaves nothing between the trims of 5 mm; make the blank larger or `trim` smaller",
    );
    one_fault(
        "plain-window",
        Post,
        "name = \"lap-note\"",
        "name = \"LAP-label\"",
        "two layers have the name \"LAP-label\"; give each layer a name of its own",
    );
    one_fault(
        "plain-window",
        Post,
        "name = \"lap-note\"",
        "name = \"0\"",
        "layer \"0\" belongs to every DXF file; give the layer a name of its own, such as \"lap-outline\"",
    );
    one_fault(
        "plain-window",
        Post,
        "name = \"lap-note\"",
        "name = \"lap note\"",
        "a layer cannot be called \"lap note\"; use only A to Z, a to z, 0 to 9, - and _",
    );
    one_fault(
        "plain-window",
        Post,
        "color = 134",
        "color = 256",
        "`color` must be from 1 to 255, but is 256",
    );
    one_fault(
        "plain-window",
        Post,
        "color = 134",
        "color = 92",
        "layer \"lap-outline\" has the colour 92 too; give each layer a colour of its own, so that what is cut can be \
         told from what is not",
    );
    one_fault(
        "plain-window",
        Post,
        "decimals = 3",
        "decimals = 5",
        "`decimals` must be from 3 to 4, but is 5",
    );
}

#[test]
fn dialects_whose_keys_do_not_go_together() {
    let window = |from, to, said| one_fault("plain-window", SourceKind::Post, from, to, said);
    let check = |from, to, said| one_fault("check", SourceKind::Post, from, to, said);
    window(
        "decimals = 3",
        "unit = \"inch\"\ndecimals = 3",
        "`decimals` must be from 4 to 5, but is 3",
    );
    window(
        "decimals = 3",
        "decimals = 5",
        "`decimals` must be from 3 to 4, but is 5",
    );
    window(
        "decimals = 3",
        "decimals = 3\nunit = \"inches\"",
        "`unit` cannot be \"inches\"; did you mean \"inch\"? write \"mm\" or \"inch\"",
    );
    let missing = edited(
        "plain-window",
        SourceKind::Post,
        &[("decimals = 3", "decimals = 3\narcs = false")],
    );
    let said =
        "`chord_mm` is missing in [number]; add a line such as: chord_mm = 0.003 # mm of distance";
    assert_eq!(missing.len(), 1);
    assert_eq!(missing[0].1, said);
    window(
        "decimals = 3",
        "decimals = 3\nchord_mm = 0.002",
        "`chord_mm` is for a dialect without arcs; leave it out, or write arcs = false",
    );
    window(
        "decimals = 3",
        "decimals = 3\narcs = false\nchord_mm = 0.0031",
        "`chord_mm` must be from 0.0005 to 0.003 mm of distance, but is 0.0031",
    );
    window(
        "arc_cw =",
        "arc_wc =",
        "unknown key `arc_wc` in [gcode]; did you mean `arc_cw`?",
    );
    window(
        "[gcode]",
        "[gcode]\nline_limit = 257",
        "`line_limit` must be from 40 to 256, but is 257",
    );
    window(
        "[gcode]",
        "[gcode]\nremarks = \"hash\"",
        "`remarks` cannot be \"hash\"; write \"brackets\" or \"semicolon\"",
    );
    window(
        "drives = \"laser\"",
        "drives = \"laser\"\nline_numbers = { start = 10, step = 10 }",
        "`greatest` is missing in [line_numbers]; add a line such as: greatest = 4",
    );
    window(
        "drives = \"laser\"",
        "drives = \"laser\"\nline_numbers = { start = 10, step = 0, greatest = 999 }",
        "`step` must be from 1 to 1000, but is 0",
    );
    window(
        "drives = \"laser\"",
        "drives = \"laser\"\nline_numbers = { start = 1000, step = 1, greatest = 999 }",
        "the first line number, 1000, is beyond the greatest, 999; \
         write a smaller `start`, or the greatest number that the controller takes",
    );
    check(
        "[gcode]",
        "[gcode]\npower_follows_speed = true",
        "a router has no beam whose power could follow the speed; \
         leave `power_follows_speed` out, or write drives = \"laser\"",
    );
}

/// A release and a kind of file that there are not; what is meant is told where it is near.
#[test]
fn dxf_releases_and_files_are_words_of_their_own() {
    use SourceKind::{Panel, Post};
    fn cut(to: &str, said: &str) {
        one_fault("check", Panel, "clearance = 0.05", to, said);
    }
    let releases = "write \"R2000\", \"R12\" or \"both\"";
    for (word, near) in [
        ("r12", "did you mean \"R12\"? "),
        ("R2004", "did you mean \"R2000\"? "),
        ("R13", "did you mean \"R12\"? "),
        ("newest", ""),
    ] {
        let said = format!("`dxf_version` cannot be \"{word}\"; {near}{releases}");
        cut(&format!("dxf_version = \"{word}\""), &said);
    }
    cut(
        "dxf_files = \"pieces\"",
        "`dxf_files` cannot be \"pieces\"; did you mean \"piece\"? \
         write \"sheet\", \"piece\" or \"both\"",
    );
    cut(
        "dxf_layers = \"label\"",
        "`dxf_layers` cannot be \"label\"; did you mean \"labels\"? \
         write \"cuts\", \"labels\" or \"all\"",
    );
    cut(
        "dxf_version = 12",
        "`dxf_version` must be one of a few words in quotes, but is a whole number; \
         write \"R2000\", \"R12\" or \"both\"",
    );
    // DXF reference of release 12, from memory: symbol table names of at most 31 letters.
    let name = |count| format!("name = \"{}\"", "x".repeat(count));
    one_fault(
        "check",
        Post,
        "name = \"lap-outline\"",
        &name(32),
        "a layer's name has at most 31 letters; shorten it: DXF release R12 takes no more",
    );
}
