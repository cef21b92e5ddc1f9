//! Dialect files: the built-in ones are sound, and a broken template is found before any planning.

use lapwright::panel::{Post, Templates};
use lapwright::write::gcode::{PostError, check_templates};

use super::sample::{laser_post, router_post};

fn broken(mut post: Post, spoil: impl Fn(&mut Templates)) -> PostError {
    spoil(&mut post.gcode.templates);
    check_templates(&post).expect_err("a broken template")
}

#[test]
fn the_built_in_dialects_are_sound() {
    check_templates(&laser_post()).expect("laser");
    check_templates(&router_post()).expect("router");
}

#[test]
fn layers_tell_cut_from_uncut_by_colour() {
    for post in [laser_post(), router_post()] {
        let dxf = post.dxf;
        let cut = [&dxf.outline, &dxf.notch];
        let uncut = [&dxf.label, &dxf.note, &dxf.stock];
        assert!(cut.iter().all(|l| l.color == 7), "cut layers");
        assert!(
            uncut.iter().all(|l| l.color == 8 || l.color == 9),
            "uncut layers"
        );
        let names: Vec<&str> = cut.iter().chain(&uncut).map(|l| l.name.as_str()).collect();
        assert_eq!(
            names,
            [
                "lap-outline",
                "lap-notch",
                "lap-label",
                "lap-note",
                "lap-stock"
            ]
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
