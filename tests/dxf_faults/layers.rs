//! Which layers a file lists, what it holds of them, and how far it reaches.

use lapwright::panel::DxfLayers;
use lapwright::panel::DxfVersion::{R12, R2000};
use lapwright::write::dxf::DxfParts;

use super::{Case, Groups, entities};

/// Layers of a file, with their colours and whether they are plotted.
fn listed(groups: &Groups) -> Vec<[&str; 3]> {
    let rows = groups.chunk_by(|_, next| next.0 != "0");
    let rows = rows.filter(|row| row[0].1 == "LAYER");
    rows.map(|row| {
        let of = |code| {
            let found = row.iter().find(|g| g.0 == code);
            found.map_or("", |g| g.1.trim())
        };
        [of("2"), of("62"), of("290")]
    })
    .collect()
}

/// A layer with nothing on it is not listed; DXF reference, LAYER, group 290: 0 is not plotted, from R2000 on.
#[test]
fn layers_that_are_never_cut_are_not_plotted_or_in_another_file() {
    let [outline, notch] = [["cut-outline", "1", "1"], ["cut-notch", "5", "1"]];
    let label = ["no-cut-label", "3", "0"];
    let rest = [["no-cut-note", "8", "0"], ["no-cut-stock", "9", "0"]];
    let zero = ["0", "7", "1"];
    let in_r12 = |layers: Vec<[&'static str; 3]>| -> Vec<_> {
        let rows = layers.into_iter();
        rows.map(|[name, color, _]| [name, color, ""]).collect()
    };
    for alone in [None, Some(1)] {
        let mut never = vec![label];
        if alone.is_none() {
            never.extend(rest);
        }
        for (k, case) in Case::sizes(R2000, alone).iter().enumerate() {
            let cut = if k == 2 {
                vec![outline, notch]
            } else {
                vec![outline]
            };
            let wanted = [vec![zero], cut, never.clone()].concat();
            assert_eq!(listed(&case.groups()), wanted, "R2000, {alone:?}");
        }
        for (k, case) in Case::sizes(R12, alone).iter().enumerate() {
            let cut = if k == 2 {
                vec![outline, notch]
            } else {
                vec![outline]
            };
            let wanted = in_r12([vec![zero], cut].concat());
            assert_eq!(listed(&case.groups()), wanted, "R12, cut, {alone:?}");
        }
        for case in Case::never_cut(alone) {
            let wanted = in_r12([vec![zero], never.clone()].concat());
            assert_eq!(listed(&case.groups()), wanted, "R12, never cut, {alone:?}");
            let proof = case.prove(&case.bytes).expect("a sound file");
            assert_eq!(proof.contours, 0, "nothing in it is cut");
        }
    }
    for case in Case::all().iter().filter(|case| case.version == R2000) {
        let groups = case.groups();
        for i in (0..groups.len()).filter(|&i| groups[i].0 == "290") {
            case.refuses("plotted or not", |g| {
                let flag = if g[i].1.trim() == "1" { "0" } else { "1" };
                g[i].1 = flag.to_owned();
            });
        }
    }
}

/// What the panel file asks for: cuts alone, labels, all.
#[test]
fn layers_are_chosen() {
    for (layers, version, files) in [
        (DxfLayers::Cuts, R2000, vec![[true, false, false]]),
        (DxfLayers::Labels, R2000, vec![[true, true, false]]),
        (DxfLayers::All, R2000, vec![[true, true, true]]),
        (DxfLayers::Cuts, R12, vec![[true, false, false]]),
        (
            DxfLayers::Labels,
            R12,
            vec![[true, false, false], [false, true, false]],
        ),
        (
            DxfLayers::All,
            R12,
            vec![[true, false, false], [false, true, true]],
        ),
    ] {
        let parts = DxfParts::files(layers, version);
        assert_eq!(parts.len(), files.len(), "{layers:?} in {version:?}");
        for (parts, [cut, label, border]) in parts.into_iter().zip(files) {
            for case in Case::parts(version, parts, None) {
                let groups = case.groups();
                let on = |part: &str| {
                    let within = entities(&groups);
                    groups[within]
                        .iter()
                        .any(|g| g.0 == "8" && g.1.contains(part))
                };
                let there = ["cut-outline", "label", "stock", "note"].map(on);
                assert_eq!(
                    there,
                    [cut, label, border, border],
                    "{layers:?} in {version:?}"
                );
                assert!(case.prove(&case.bytes).is_ok(), "{layers:?} in {version:?}");
            }
        }
    }
}

/// The extents of a sheet's file are the stock's, those of a piece what is cut of it.
#[test]
fn a_file_is_as_large_as_what_it_shows() {
    let variable = |groups: &Groups, name: &str| -> [f64; 2] {
        let at = groups.iter().position(|g| g.1 == name).expect("a variable");
        [1, 2].map(|k| groups[at + k].1.parse().expect("a number"))
    };
    for case in Case::all() {
        let groups = case.groups();
        // Half a kerf of 0.16, a cutter's radius of 1.5; the piece is 331.7 by 13.1, and its notches are cut from outside.
        let out = match &case.program {
            None => 0.0,
            Some(program) => program.head.radius(),
        };
        let (low, high) = match case.alone {
            None => ([0.0; 2], [450.0, 240.0]),
            Some(_) => ([-out; 2], [331.7 + out, 13.1 + out]),
        };
        for (name, want) in [
            ("$EXTMIN", low),
            ("$LIMMIN", low),
            ("$EXTMAX", high),
            ("$LIMMAX", high),
        ] {
            let found = variable(&groups, name);
            for (a, b) in found.into_iter().zip(want) {
                // A notch begins half a millimetre or so beyond the edge; all else is exact.
                let slack = if case.alone.is_some() && out > 1.0 {
                    2.0
                } else {
                    1e-6
                };
                assert!((a - b).abs() <= slack, "{name}: {found:?}, not {want:?}");
            }
        }
    }
}
