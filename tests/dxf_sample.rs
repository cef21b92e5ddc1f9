//! Sample sheets as DXF, in the build's own folder for tests, for a look with other readers.

use std::{env, fs, path::Path};

use lapwright::panel::DxfLayers;
use lapwright::panel::DxfVersion::{R12, R2000};
use lapwright::path::{Note, NoteKind};
use lapwright::write::dxf::{DxfContent, DxfFile, DxfParts, DxfSubject, write_dxf};

#[test]
fn samples_are_written_and_the_same_twice() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("dxf-sample");
    fs::create_dir_all(&folder).expect("the folder of the build");
    let layout = crate::sheets::layout();
    let (laser, router) = (
        crate::sheets::laser(&layout, 0.16),
        crate::sheets::router(&layout, 3.0),
    );
    let notes = [
        Note::new(NoteKind::Title, "Panel: sample, quantity 1"),
        Note::new(NoteKind::Caution, "Eyes, ears, dust."),
    ];
    let style = crate::sheets::style();
    let sheet = &layout.sheets.rows()[0];
    let whole = DxfSubject::Sheet(sheet);
    let alone = DxfSubject::Piece {
        sheet,
        placement: crate::sheets::nth(&sheet.placements, 1),
    };
    let mut samples = Vec::new();
    for (name, content) in [
        ("drawn", DxfContent::Drawn),
        ("laser", DxfContent::Compensated(laser.shown())),
        ("router", DxfContent::Compensated(router.shown())),
    ] {
        for (subject, subject_name) in [(whole, "sheet"), (alone, "piece")] {
            for (version, release, n) in [
                (R2000, "r2000", 0),
                (R12, "r12", 0),
                (R12, "r12-never-cut", 1),
            ] {
                let parts = DxfParts::files(DxfLayers::All, version)[n];
                let file = DxfFile {
                    layout: &layout,
                    subject,
                    content,
                    parts,
                    version,
                    style: &style,
                };
                samples.push((format!("{subject_name}-{name}-{release}"), file));
            }
        }
    }
    for (name, file) in samples {
        let write = || write_dxf(&file, &notes).expect("a sound file");
        let bytes = write();
        assert!(bytes.is_ascii(), "{name}: ASCII only");
        assert_eq!(bytes, write(), "{name}: the same plan gives the same bytes");
        let text = String::from_utf8(bytes).expect("ASCII");
        let nought = |line: &str| {
            line.trim()
                .parse()
                .is_ok_and(|v: f64| v == 0.0 && v.is_sign_negative())
        };
        assert!(!text.lines().any(nought), "{name}: no minus nought");
        fs::write(folder.join(format!("{name}.dxf")), text).expect("the folder of the build");
    }
}
