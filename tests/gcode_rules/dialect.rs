//! Dialect files: the built-in ones are sound, and a broken template is found before any planning.

use lapwright::panel::{Post, Templates};
use lapwright::path::{Note, NoteKind};
use lapwright::replay::dialect::check_dialect;
use lapwright::write::gcode::{PostError, check_templates};

use super::further::{self, FURTHER};
use super::sample::{FILES, dialect, laser_post, program_for, router_post};

fn broken(mut post: Post, spoil: impl Fn(&mut Templates)) -> PostError {
    spoil(&mut post.gcode.templates);
    check_templates(&post).expect_err("a broken template")
}

#[test]
fn the_built_in_dialects_are_sound() {
    for name in FILES.iter().map(|(name, _)| *name).chain(FURTHER) {
        let done = check_dialect(&dialect(name));
        assert_eq!(done, Ok(()), "{name}");
    }
}

/// Words round the text of a remark stand round every part of one that is broken.
#[test]
fn a_dialect_may_put_words_round_its_remarks() {
    for (mut post, remark) in [
        (router_post(), "(note - {{ text }}.)"),
        (laser_post(), "(note - {{ text }})"),
    ] {
        post.gcode.templates.remark = remark.into();
        assert_eq!(check_dialect(&post), Ok(()), "{remark}");
    }
}

#[test]
fn every_layer_has_a_name_and_a_colour_of_its_own() {
    for (name, _) in FILES {
        let dxf = dialect(name).dxf;
        let layers = [
            &dxf.outline,
            &dxf.notch,
            &dxf.groove,
            &dxf.fold,
            &dxf.label,
            &dxf.note,
            &dxf.stock,
        ];
        let told = layers.map(|layer| (layer.name.as_str(), layer.color));
        assert_eq!(
            told,
            [
                ("lap-outline", 92),
                ("lap-notch", 190),
                ("lap-groove", 42),
                ("lap-fold", 230),
                ("lap-label", 150),
                ("lap-note", 134),
                ("lap-stock", 8)
            ],
            "{name}"
        );
    }
}

#[test]
fn a_misspelt_value_is_named_with_its_template_and_line() {
    let e = broken(router_post(), |t| {
        t.begin = "G21 G17\n(tool {{ tool_nmae }})\n".into()
    });
    assert_eq!((e.key.as_str(), e.line), ("gcode.begin", Some(2)), "{e}");
    // A value of another template is as unknown as a misspelt one.
    let e = broken(laser_post(), |t| {
        t.travel = "G0 X{{ x }} Y{{ y }} Z{{ z }}".into()
    });
    assert_eq!(e.key, "gcode.travel", "{e}");
    // A router's value in a laser's dialect.
    let e = broken(laser_post(), |t| t.start_head = "M3 S{{ speed }}".into());
    assert_eq!(e.key, "gcode.start_head", "{e}");
    // Misspelt where the block that hides it is not rendered every time.
    let e = broken(laser_post(), |t| {
        t.line =
            "G1 X{{ x }} Y{{ y }}{% if feed_changed %} F{{ feed }}{% else %}{{ fed }}{% endif %}"
                .into();
    });
    assert_eq!(e.key, "gcode.line", "{e}");
}

#[test]
fn bad_syntax_and_endless_loops_are_refused() {
    let e = broken(laser_post(), |t| t.line = "G1 X{{ x }} Y{{ y".into());
    assert_eq!((e.key.as_str(), e.line), ("gcode.line", Some(1)), "{e}");
    let e = broken(laser_post(), |t| {
        t.end =
            "{% for a in range(9999) %}{% for b in range(9999) %}M2{% endfor %}{% endfor %}".into();
    });
    assert_eq!(e.key, "gcode.end", "{e}");
}

/// What an engine of templates lets run on is refused before it runs, on a stack of 128 KiB: loops, lists and
/// expressions that take any memory, and brackets and signs that take any stack.
#[test]
fn a_template_takes_neither_memory_nor_stack() {
    let many = |s: &str| s.repeat(20_000);
    let hostile = [
        "{% set n = namespace(l=[1]) %}{% for a in range(40) %}{% set n.l = n.l + n.l %}{% endfor %}".to_owned(),
        "{{ 'x' * 1000000000 }}".into(),
        "{{ range(99999999) | list }}".into(),
        "{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}".into(),
        format!("{{{{ {}1{} }}}}", many("("), many(")")),
        format!("{{{{ {}1 }}}}", many("-")),
        format!("{{% if {}name %}}{{% endif %}}", many("not ")),
        format!("{{{{ name{} }}}}", many(" ~ name")),
        format!("{}{}", many("{% if name %}"), many("{% endif %}")),
        format!("{{% if name %}}{}{{% endif %}}", many("{% elif name %}")),
        many("{{ name }}"),
    ];
    let small = std::thread::Builder::new().stack_size(128 << 10);
    let run = small.spawn(move || {
        for text in hostile {
            let e = broken(laser_post(), |t| t.end.clone_from(&text));
            assert_eq!(e.key, "gcode.end", "{e}");
            assert!(e.to_string().len() < 300, "{e}");
        }
    });
    run.expect("a thread").join().expect("no fault");
}

/// As much as the language allows fits on the same stack, and is within the steps of a rendering.
#[test]
fn the_longest_templates_are_sound() {
    let small = std::thread::Builder::new().stack_size(128 << 10);
    let run = small.spawn(|| {
        let mut post = laser_post();
        let t = &mut post.gcode.templates;
        t.begin = "{{name}}\n".repeat(40);
        check_templates(&post).expect("40 lines");
        let chain = ["not name"; 8].join(" or ");
        let deep = format!("{{% if {chain} %}}").repeat(8) + &"{% endif %}".repeat(8);
        post.gcode.templates.begin = format!("G21\n{deep}");
        check_templates(&post).expect("8 choices of 8 names");
        post.gcode.templates.begin = "{%if name%}{%endif%}".repeat(99) + "G21";
        check_templates(&post).expect("choices one after the other");
        post.gcode.templates.begin = "{{name}}".repeat(30) + &"{##}".repeat(400);
        check_templates(&post).expect("values and remarks");
    });
    run.expect("a thread").join().expect("no fault");
}

#[test]
fn a_template_must_write_the_values_its_move_hangs_on() {
    for (value, text) in [
        ("x", "G2 Y{{ y }} I{{ i }} J{{ j }} F{{ feed }}"),
        ("y", "G2 X{{ x }} I{{ i }} J{{ j }} F{{ feed }}"),
        ("i", "G2 X{{ x }} Y{{ y }} J{{ j }} F{{ feed }}"),
        ("j", "G2 X{{ x }} Y{{ y }} I{{ i }} F{{ feed }}"),
        ("feed", "G2 X{{ x }} Y{{ y }} I{{ i }} J{{ j }}"),
    ] {
        let e = broken(laser_post(), |t| t.arc_cw = text.into());
        let said = e.to_string();
        assert!(
            said.contains("gcode.arc_cw") && said.contains(&format!("{{{{ {value} }}}}")),
            "{said}"
        );
    }
    let e = broken(router_post(), |t| t.stop_head = " \n".into());
    assert!(
        e.to_string().contains("gcode.stop_head: writes nothing"),
        "{e}"
    );
}

#[test]
fn lines_that_a_controller_cannot_read_are_refused() {
    let e = broken(laser_post(), |t| t.end = "M5\nM2 (s\u{e4}ge)".into());
    assert_eq!((e.key.as_str(), e.line), ("gcode.end", Some(2)), "{e}");
    // At most 256 characters to a line (NISTIR 6556, 3.3).
    let long = |n: usize| format!("({})", "x".repeat(n - 2));
    let e = broken(laser_post(), |t| t.begin = long(257));
    assert!(e.to_string().contains("257 characters"), "{e}");
    let mut fits = laser_post();
    fits.gcode.templates.begin = long(256);
    check_templates(&fits).expect("256 characters are allowed");
}

#[test]
fn templates_of_the_other_head_must_be_empty() {
    let e = broken(laser_post(), |t| {
        t.plunge = "G1 Z{{ z }} F{{ feed }}".into()
    });
    assert!(
        e.to_string().contains("gcode.plunge: a laser never uses"),
        "{e}"
    );
    let e = broken(router_post(), |t| t.beam_on = "M3".into());
    assert!(
        e.to_string().contains("gcode.beam_on: a router never uses"),
        "{e}"
    );
}

#[test]
fn decimals_are_three_or_four() {
    let mut post = laser_post();
    post.gcode.number.decimals = 2;
    let e = check_templates(&post).expect_err("2 decimals");
    assert!(e.to_string().contains("number.decimals"), "{e}");
}

/// A dialect, what is replaced in one of its templates, by what, the key and a word of what is told.
pub type Unsound = (
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
);

/// Words that are missing or wrong, found by the small program that every dialect must write: the
/// dialect, what is replaced in one of its templates, by what, the key and a word of what is told.
const UNSOUND: &[Unsound] = &[
    ("laser-mm", "G21 ", "", "gcode.begin", "G20 or G21"),
    ("laser-mm", "G21 ", "G20 ", "gcode.begin", "G21"),
    // A beam that fires before the first move, a spindle that runs before the tool is changed, a move to x 0 y 0
    // from wherever the head stands.
    (
        "laser-mm",
        "M5",
        "M3 S{{ power_word }}\nM5",
        "gcode.start_head",
        "before the plan's first move",
    ),
    (
        "router-toolchange-mm",
        "M5\nG0 Z",
        "G0 Z{{ safe_z }}\nM3 S{{ speed }}\nG4 P{{ dwell }}\nM5\nG0 Z",
        "gcode.tool_change",
        "before the plan's first move",
    ),
    (
        "router-mm",
        "M3 S{{ speed }}\n",
        "G0 X0 Y0\nM3 S{{ speed }}\n",
        "gcode.start_head",
        "a move in the plane before",
    ),
    ("laser-mm", " G90", "", "gcode.begin", "G90"),
    (
        "laser-mm",
        "M3 S{{ power_word }}",
        "M3 S100",
        "gcode.beam_on",
        "S100",
    ),
    (
        "laser-mm",
        "M3 S{{ power_word }}",
        "S{{ power_word }}",
        "gcode.beam_on",
        "beam off",
    ),
    ("laser-mm", "M3 S", "M4 S", "gcode.beam_on", "M4"),
    (
        "laser-mm",
        "G2 X",
        "G3 X",
        "gcode.arc_cw",
        "counter-clockwise",
    ),
    (
        "laser-mm",
        "({{ text }})",
        "; {{ text }}",
        "gcode.remark",
        "semicolon",
    ),
    ("laser-mm", "M2", "M5", "gcode.end", "M2 or M30"),
    ("laser-follow-mm", "M4 S", "M3 S", "gcode.beam_on", "M3"),
    (
        "laser-follow-mm",
        "; {{ text }}",
        "({{ text }})",
        "gcode.remark",
        "bracket",
    ),
    ("laser-inch", "G20", "G21", "gcode.begin", "G20"),
    (
        "router-mm",
        "G4 P{{ dwell }}",
        "",
        "gcode.start_head",
        "spindle starts",
    ),
    (
        "router-mm",
        "M3 S{{ speed }}\n",
        "",
        "gcode.start_head",
        "off",
    ),
    (
        "router-mm",
        "G4 P{{ dwell }}",
        "G4 P{{ dwell }}\nT3 M6",
        "gcode.start_head",
        "M6",
    ),
    (
        "router-numbered-mm",
        "G21 ",
        "N5 G21 ",
        "gcode.begin",
        "N5 where N10",
    ),
    (
        "router-toolchange-mm",
        "M5\nG0 Z",
        "G0 Z",
        "gcode.tool_change",
        "M5",
    ),
    (
        "router-toolchange-mm",
        "G0 Z{{ safe_z }}\nT",
        "T",
        "gcode.tool_change",
        "safe height",
    ),
    ("router-toolchange-mm", " M6", "", "gcode.tool_change", "M6"),
    (
        "router-toolchange-mm",
        "T{{ tool_number }}",
        "T9",
        "gcode.tool_change",
        "tool 3",
    ),
];

#[test]
fn an_unsound_dialect_is_told_at_its_own_key() {
    for &(name, from, to, key, says) in UNSOUND.iter().chain(further::UNSOUND) {
        let mut post = dialect(name);
        let t = &mut post.gcode.templates;
        let mut done = false;
        for text in [
            &mut t.begin,
            &mut t.tool_change,
            &mut t.length_offset,
            &mut t.start_head,
            &mut t.beam_on,
            &mut t.arc_cw,
            &mut t.remark,
            &mut t.stop_head,
            &mut t.park,
            &mut t.end,
        ] {
            if !done && text.contains(from) {
                *text = text.replacen(from, to, 1);
                done = true;
            }
        }
        assert!(done, "{name}: {from:?} is not there");
        let e = check_dialect(&post).expect_err(to);
        assert_eq!(e.key, key, "{name}, {from:?} to {to:?}: {e}");
        assert!(e.reason.contains(says), "{name}, {from:?} to {to:?}: {e}");
    }
}

/// Keys that do not go with the templates.
#[test]
fn keys_and_templates_must_agree() {
    let mut post = dialect("laser-lines-mm");
    post.gcode.templates.arc_cw = laser_post().gcode.templates.arc_cw;
    let e = check_dialect(&post).expect_err("arcs in a dialect without");
    assert_eq!(e.key, "gcode.arc_cw");
    assert!(e.reason.contains("without arcs never uses"), "{e}");
    let mut post = router_post();
    post.gcode.templates.tool_change = "T{{ tool }} M6".into();
    let e = check_dialect(&post).expect_err("misspelt");
    assert!(
        e.key == "gcode.tool_change" && e.reason.contains("`tool`"),
        "{e}"
    );
    let mut post = laser_post();
    post.gcode.templates.tool_change = "M6".into();
    let e = check_dialect(&post).expect_err("a laser has no tool");
    assert!(e.reason.contains("a laser never uses"), "{e}");
    let mut post = dialect("router-numbered-mm");
    post.gcode.line_numbers.as_mut().expect("numbered").greatest = 100;
    let e = check_dialect(&post).expect_err("ten lines");
    assert_eq!(e.key, "line_numbers");
    assert!(
        e.reason.contains("N110") && e.reason.contains("N100"),
        "{e}"
    );
}

/// A line that is too long is refused with its template and its text; remarks are broken instead.
#[test]
fn lines_keep_to_the_dialects_limit() {
    let mut post = dialect("router-lines-inch");
    post.gcode
        .templates
        .begin
        .push_str(&format!("; {}\n", "x".repeat(76)));
    let e = check_dialect(&post).expect_err("81 characters");
    assert_eq!((e.key.as_str(), e.line), ("gcode.begin", Some(3)), "{e}");
    assert!(
        e.reason.contains("81 characters; at most 80") && e.reason.contains("xxx"),
        "{e}"
    );
    let mut post = dialect("router-lines-inch");
    post.gcode
        .templates
        .begin
        .push_str(&format!("; {}\n", "x".repeat(75)));
    assert_eq!(check_dialect(&post), Ok(()), "80 characters with N3");

    for name in ["laser-lines-mm", "router-lines-inch"] {
        let post = dialect(name);
        let (mut program, _) = program_for(&post);
        let note = "word ".repeat(70);
        program.notes = [note.trim_end().to_owned(), "y".repeat(300)]
            .map(|text| Note::new(NoteKind::Title, text))
            .into();
        let text = super::text(&program, &post);
        let mut longest = 0;
        for line in text.lines() {
            longest = longest.max(line.len());
        }
        assert!((75..=80).contains(&longest), "{name}: {longest}");
        assert_eq!(text.matches("word").count(), 70, "{name}: nothing is lost");
    }
}
