//! Files as makers write them, when all is well.
#![allow(clippy::panic)]

use std::fs;
use std::path::Path;

use crate::panel_support::{sources, text};
use lapwright::panel::{
    BUILTIN, DxfLayer, DxfLayers, DxfScope, DxfSize, DxfVersion, HeadKind, JobFiles, Layout,
    Method, OutlineShape, Panel, Relief, SideRule, Sides, Size, SourceKind, builtin, new_layouts,
    new_panel,
};

#[test]
fn every_built_in_panel_loads_with_all_that_it_names() {
    for file in BUILTIN.iter().filter(|file| file.kind == SourceKind::Panel) {
        let job = JobFiles::builtin_panel(file.name).unwrap_or_else(|e| panic!("{e}"));
        assert_eq!(job.panel_text.text, file.text);
        let names: Vec<&str> = job.sources.iter().map(|s| s.name.as_str()).collect();
        let patterns = (1..=job.patterns.len()).map(|k| format!("pattern-{k}.toml"));
        let further = match file.name {
            "hemp-leaf-outlines" => vec!["material-2.toml", "material-3.toml"],
            _ => Vec::new(),
        };
        assert_eq!(names[5..5 + further.len()], further);
        assert_eq!(names[5 + further.len()..], patterns.collect::<Vec<_>>());
        let woods: Vec<&str> = (job.woods.iter())
            .map(|wood| wood.material.name.as_str())
            .collect();
        assert_eq!(woods.len(), further.len(), "{woods:?}");
        assert_eq!(
            names[..5],
            [
                "panel.toml",
                "machine.toml",
                "material.toml",
                "stock.toml",
                "post-processor.toml"
            ]
        );
    }
}

#[test]
fn every_built_in_file_is_the_one_on_disk_and_loads() {
    for file in BUILTIN {
        let folder = match file.kind {
            SourceKind::Panel => "fixtures/panels",
            SourceKind::Machine => "fixtures/machines",
            SourceKind::Material => "fixtures/materials",
            SourceKind::Stock => "fixtures/stock",
            SourceKind::Post => "post-processors",
            SourceKind::Pattern => "fixtures/patterns",
        };
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
        let on_disk = fs::read_to_string(path.join(format!("{}.toml", file.name))).expect("a file");
        assert_eq!(on_disk, file.text);
        // In the place of the plain window's own file: only what must agree between files may be at fault.
        let panel = match file.kind {
            // Those that need patterns in the place of their own.
            SourceKind::Pattern => "hemp-leaf-card",
            SourceKind::Panel if file.text.contains("[infill]") => file.name,
            _ => "plain-window",
        };
        let result = JobFiles::from_sources(sources(panel, file.kind, file.text.as_bytes()));
        if let Err(error) = result {
            let faults = error.to_string();
            let between = [
                "drives a",
                "not cleared",
                "must not be lasered",
                "has no [router]",
                "this stock is ",
            ];
            let disagree = between.iter().any(|word| faults.contains(word))
                || faults.contains("edge-up cutting needs a router");
            assert!(disagree, "{}: {faults}", file.name);
        }
    }
}

#[test]
fn the_files_to_start_from_load() {
    assert_eq!(
        new_layouts(),
        [
            "diamond",
            "eight-point",
            "free",
            "open-three-way",
            "square",
            "three-way"
        ]
    );
    assert!(new_panel("herringbone").is_none());
    for layout in new_layouts() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("mine.toml");
        fs::write(&path, new_panel(layout).expect("a file to start from")).expect("written");
        let job = JobFiles::load(&path).unwrap_or_else(|e| panic!("{e}"));
        let named = job.panel.ground.layout.family_names().len();
        assert_eq!(
            job.panel.ground.families.len(),
            if layout == "free" { 2 } else { named }
        );
        // A comment on every line with a key.
        for line in job.panel_text.text.lines().filter(|line| !line.is_empty()) {
            assert!(line.contains('#'), "no comment: {line}");
        }
    }
}

#[test]
fn the_check_panel_is_read_as_written() {
    // Values of the check panel: common practice, no source.
    let job = crate::panel_support::panel("check");
    let panel = &job.panel;
    let layout = Layout::ThreeWay {
        pitch: 65.0,
        corner_joint: false,
    };
    assert_eq!(panel.ground.layout, layout);
    assert_eq!(panel.ground.depth, 12.0);
    let families: Vec<(&str, f64, u32)> = panel
        .ground
        .families
        .iter()
        .map(|f| (f.name.as_str(), f.face, f.rank))
        .collect();
    assert_eq!(
        families,
        [("rising", 4.0, 1), ("upright", 4.0, 2), ("falling", 4.0, 3)]
    );
    let shape = OutlineShape::Rectangle {
        size: Size::Spacings {
            columns: 6,
            rows: 3,
        },
        sides: Sides {
            left: SideRule::InnerEdge,
            right: SideRule::InnerEdge,
            bottom: SideRule::Centres,
            top: SideRule::Centres,
        },
    };
    assert_eq!(panel.outline.shape, shape);
    assert_eq!(
        (panel.outline.overhang, panel.outline.trim_kerf),
        (25.0, 0.0)
    );
    assert_eq!(
        (
            panel.quantity,
            panel.surround.as_ref().map(|s| s.width),
            panel.joint_limit
        ),
        (1, Some(8.0), 200_000)
    );
    assert_eq!(
        (panel.cut.method, panel.cut.clearance),
        (Method::EdgeUp, 0.05)
    );
    assert_eq!(
        (panel.cut.scale_model, panel.cut.loose_joints),
        (false, false)
    );
    assert_eq!(panel.cut.dxf, [DxfSize::Drawn, DxfSize::Compensated]);
    assert_eq!(panel.cut.dxf_version, [DxfVersion::R2000]);
    assert_eq!(panel.cut.dxf_files, [DxfScope::Sheet]);
    assert_eq!(panel.cut.dxf_layers, DxfLayers::All);
    let sticks = &panel.sticks;
    assert_eq!(
        (sticks.lead, sticks.tail, sticks.saw_kerf),
        (40.0, 25.0, 1.5)
    );
    assert_eq!((sticks.limit, sticks.spares), (Some(500.0), 1));
    assert_eq!(sticks.ends, [("upright".to_owned(), 57.5)]);
    let HeadKind::Router(router) = &job.own().expect("a machine").machine.head else {
        panic!("a router")
    };
    assert_eq!((router.tool.diameter, router.fence_error_deg), (3.0, 0.02));
}

#[test]
fn the_panels_of_the_tests_are_not_among_those_that_users_are_given() {
    for name in ["check", "plain-window"] {
        assert_eq!(builtin(SourceKind::Panel, name), None);
    }
    // The figures of the check panel are known: those that users are given have others.
    let check = crate::panel_support::panel("check").panel;
    let own = |name: &str, text: &str, panel: Panel| {
        assert_ne!(panel.ground.layout, check.ground.layout, "{name}");
        if text.contains("[sticks]") {
            assert_ne!(panel.sticks.lead, check.sticks.lead, "{name}");
            assert_ne!(panel.sticks.tail, check.sticks.tail, "{name}");
            assert_ne!(panel.sticks.saw_kerf, check.sticks.saw_kerf, "{name}");
            assert_ne!(panel.sticks.limit, check.sticks.limit, "{name}");
        }
    };
    for file in BUILTIN.iter().filter(|file| file.kind == SourceKind::Panel) {
        let panel = crate::panel_support::panel(file.name).panel;
        own(file.name, file.text, panel);
    }
    for layout in new_layouts() {
        let text = new_panel(layout).expect("a layout");
        let files = JobFiles::from_text(layout, text.as_bytes(), None).expect("a sound panel");
        own(layout, text, files.panel);
    }
}

#[test]
fn relief_follows_the_head_unless_the_file_says() {
    let relief = |panel: &str| crate::panel_support::panel(panel).panel.cut.relief;
    assert_eq!(relief("plain-window"), Relief::None);
    assert_eq!(relief("router-square"), Relief::Floor);
    let asked =
        text(SourceKind::Panel, "plain-window").replace("[cut]", "[cut]\nrelief = \"corner\"");
    let job = JobFiles::from_sources(sources("plain-window", SourceKind::Panel, asked.as_bytes()));
    assert_eq!(job.expect("a job").panel.cut.relief, Relief::Corner);
}

#[test]
fn lengths_take_units_wherever_they_stand() {
    let with_units = text(SourceKind::Panel, "plain-window")
        .replace("depth = 12 ", "depth = \"1/2 in\" ")
        .replace("pitch_across = 30 ", "pitch_across = '1 3/8 in' ")
        .replace("left = { clear = 9 }", "left = { clear = \"0.9 cm\" }");
    let job = JobFiles::from_sources(sources(
        "plain-window",
        SourceKind::Panel,
        with_units.as_bytes(),
    ));
    let panel = job.expect("a job").panel;
    assert_eq!(panel.ground.depth, 12.7);
    let Layout::Square { pitch_across, .. } = panel.ground.layout else {
        panic!("square")
    };
    assert_eq!(pitch_across, 34.925);
    let OutlineShape::Rectangle { sides: rules, .. } = panel.outline.shape else {
        panic!("a rectangle")
    };
    assert_eq!(rules.left, SideRule::Clear(9.0));
    let machine =
        text(SourceKind::Machine, "desk-laser").replace("[600, 400]", "[\"20 in\", \"400 mm\"]");
    let job = JobFiles::from_sources(sources(
        "plain-window",
        SourceKind::Machine,
        machine.as_bytes(),
    ));
    assert_eq!(
        job.expect("a job").own().expect("a machine").machine.travel,
        [508.0, 400.0, 0.0]
    );
}

/// Layers that a dialect's file leaves out get a name and a colour that no other has.
#[test]
fn layers_that_are_left_out_are_like_no_other() {
    let fold =
        "# Dashes along which pieces are folded.\n[dxf.fold]\nname = \"lap-fold\"\ncolor = 230\n";
    let whole = text(SourceKind::Post, "laser-mm");
    assert!(whole.contains(fold), "the dialect names it");
    let post = whole
        .replace(fold, "")
        .replace("color = 150", "color = 230")
        .replace("color = 134", "color = 1")
        .replace("\"lap-stock\"", "\"LAP-groove\"");
    let job = JobFiles::from_sources(sources("plain-window", SourceKind::Post, post.as_bytes()));
    let dxf = job.expect("a job").dxf_style().clone();
    let own = |layer: &DxfLayer| (layer.name.clone(), layer.color);
    assert_eq!(own(&dxf.groove), ("lap-groove-2".to_owned(), 42));
    // 230 and 1 are taken.
    assert_eq!(own(&dxf.fold), ("lap-fold".to_owned(), 2));
}
