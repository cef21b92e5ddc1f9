//! `dxf/notes.txt`: what whoever cuts the DXF files must know of them, as plain text (UTF-8).

use std::fmt::Write as _;

use super::dxf::{BRIDGES, DxfContent, DxfFile, DxfSubject, FOLDS, grooves, size};
use crate::document::counted;
use crate::geom::micron;
use crate::panel::{
    DxfLayer, DxfLayers, DxfSize, DxfStyle, DxfVersion, JobFiles, Material, Relief,
};
use crate::path::{Note, NoteKind};
use crate::plan::{ELSEWHERE, cautions, drawn_settings, outlines_apart};

/// A DXF file and what was found in it when it was read back.
#[derive(Debug, Clone)]
pub struct Drawing<'a> {
    /// Where it lies in the folder.
    pub path: &'a str,
    /// What it is cut from.
    pub material: &'a Material,
    /// What it holds.
    pub file: &'a DxfFile<'a>,
    /// Layers with something on them.
    pub layers: &'a [DxfLayer],
    /// Contours on layers that are cut.
    pub contours: usize,
    /// Their length, arcs included, mm.
    pub cut_length: f64,
    /// What it tells besides, where that finds room on it.
    pub notes: Vec<Note>,
}

/// The notes to the DXF files of a job; `uncut` is what they do not cut, in words. The same files give the same bytes.
#[must_use]
pub fn dxf_notes(files: &JobFiles, drawings: &[Drawing<'_>], uncut: &[String]) -> Vec<u8> {
    let mut out = String::new();
    job(&mut out, files, drawings);
    layers(&mut out, files, drawings);
    choices(&mut out, files, drawings);
    round_cutters(&mut out, files, drawings);
    further(&mut out, drawings);
    section(&mut out, "Files");
    for drawing in drawings {
        one(&mut out, drawing);
    }
    if !uncut.is_empty() {
        section(&mut out, "What these files do not cut");
        uncut.iter().for_each(|part| line(&mut out, part));
    }
    section(&mut out, "Before you cut");
    line(&mut out, BRIDGES);
    // A file at drawn size may come under any head: what must keep clear of a beam is told of every material.
    for material in materials(drawings) {
        if let Some(text) = material.not_for_a_beam() {
            line(&mut out, &text);
        }
    }
    cautions(files).for_each(|caution| line(&mut out, &caution));
    line(
        &mut out,
        "These notes defer to the machine's manual and the workshop's rules.",
    );
    out.into_bytes()
}

fn line(out: &mut String, text: &str) {
    // Writing to a `String` cannot fail, here and below.
    let _ = writeln!(out, "  {text}");
}

fn section(out: &mut String, title: &str) {
    let _ = writeln!(out, "\n{title}");
}

fn told(out: &mut String, what: &str, value: &str) {
    let _ = writeln!(out, "  {what:<12}{value}");
}

/// The materials of the drawings, each once.
fn materials<'a>(drawings: &[Drawing<'a>]) -> Vec<&'a Material> {
    let mut seen: Vec<&Material> = Vec::new();
    for drawing in drawings {
        if !seen.contains(&drawing.material) {
            seen.push(drawing.material);
        }
    }
    seen
}

fn job(out: &mut String, files: &JobFiles, drawings: &[Drawing<'_>]) {
    let panel = &files.panel;
    let _ = writeln!(out, "Notes to the DXF files of this folder\n");
    told(out, "job", &format!("{}, {}", panel.name, files.mark()));
    told(out, "panels", &format!("{} to make", panel.quantity));
    for material in materials(drawings) {
        told(out, "material", &material.name);
        let [least, most] = material.thickness.map(micron);
        let measured = if least < most {
            format!("{most} mm, measured from {least} to {most} mm")
        } else {
            format!("{most} mm")
        };
        told(out, "thickness", &measured);
        for setting in drawn_settings(files, material) {
            if setting.from_memory {
                told(out, "", &setting.told());
            }
        }
    }
    match files.own() {
        Some(own) => told(out, "machine", &own.machine.name),
        None => told(out, "machine", ELSEWHERE),
    }
    told(out, "unit", "mm, in every file");
}

/// Every layer that something lies on, in any of the files.
fn layers(out: &mut String, files: &JobFiles, drawings: &[Drawing<'_>]) {
    section(out, "Layers");
    let DxfStyle {
        outline,
        notch,
        groove,
        fold,
        label,
        note,
        stock,
    } = files.dxf_style();
    let plain = |what: &str| what.to_owned();
    let grooved = drawings.iter().find(|d| d.file.has_grooves());
    let sawn = grooved.map_or_else(String::new, |d| grooves(d.file.subject.sheet()));
    for (layer, what) in [
        (
            notch,
            plain("cut: notches that a router cuts before the outlines"),
        ),
        (groove, sawn),
        (fold, plain(FOLDS)),
        (outline, plain("cut: outlines of the pieces")),
        (label, plain("never cut: labels of the pieces")),
        (note, plain("never cut: notes")),
        (stock, plain("never cut: border of the stock")),
    ] {
        if drawings.iter().any(|d| d.layers.contains(layer)) {
            let _ = writeln!(out, "  {}, colour {}: {what}", layer.name, layer.color);
        }
    }
    let is_of = |version| drawings.iter().any(|d| d.file.version == version);
    let labelled = files.panel.cut.dxf_layers != DxfLayers::Cuts;
    if labelled && is_of(DxfVersion::R2000) {
        line(
            out,
            "In R2000 a layer that is never cut is marked as not plotted.",
        );
    }
    if labelled && is_of(DxfVersion::R12) {
        line(
            out,
            "R12 has no mark for layers that are not plotted: what is never cut is in a file of its own, -never-cut, beside the one that is cut.",
        );
    }
}

/// What drawings tell besides, each once, but for what stands here in other words.
fn further(out: &mut String, drawings: &[Drawing<'_>]) {
    let mut told: Vec<&str> = Vec::new();
    for note in drawings.iter().flat_map(|drawing| &drawing.notes) {
        let here = match note.kind {
            NoteKind::Title
            | NoteKind::Stock
            | NoteKind::Machine
            | NoteKind::Caution
            | NoteKind::NoBeam
            // What nobody has measured stands with its material.
            | NoteKind::Size => true,
            NoteKind::FromMemory
            | NoteKind::Setting
            | NoteKind::Runs
            | NoteKind::Labels
            | NoteKind::Coupon
            | NoteKind::Zero
            | NoteKind::Focus
            | NoteKind::Work
            | NoteKind::Step => false,
        };
        if !here && !told.contains(&note.text.as_str()) {
            told.push(&note.text);
        }
    }
    if !told.is_empty() {
        section(out, "Further");
        told.into_iter().for_each(|text| line(out, text));
    }
}

/// Where the same piece is in several files, one set of them is cut.
fn choices(out: &mut String, files: &JobFiles, drawings: &[Drawing<'_>]) {
    let cut = &files.panel.cut;
    let mut choices = Vec::new();
    if cut.dxf.contains(&DxfSize::Drawn) && cut.dxf.contains(&DxfSize::Compensated) {
        choices.push(if cut.relief == Relief::None {
            "drawn size or compensated: drawn where the machine's own software takes care of kerf or tool"
        } else {
            "drawn size or compensated: compensated with a round cutter, for there inside corners are relieved; drawn \
             size leaves kerf or tool, and the corners, to the machine's own software"
        });
    }
    if cut.dxf_version.contains(&DxfVersion::R2000) && cut.dxf_version.contains(&DxfVersion::R12) {
        choices.push("R2000 or R12: R12 for software that cannot read R2000");
    }
    let of_pieces = |d: &Drawing<'_>| matches!(d.file.subject, DxfSubject::Piece { .. });
    if drawings.iter().any(of_pieces) && !drawings.iter().all(of_pieces) {
        choices.push("sheets or pieces: sheets are nested, pieces are for nesting of your own");
    }
    if choices.is_empty() {
        return;
    }
    section(out, "Cut one of them, not both");
    choices.into_iter().for_each(|choice| line(out, choice));
}

/// What drawn size leaves open for a cutter: its round, and the room that it needs.
fn round_cutters(out: &mut String, files: &JobFiles, drawings: &[Drawing<'_>]) {
    let drawn: Vec<_> = (drawings.iter())
        .filter(|d| d.file.parts.cuts && matches!(d.file.content, DxfContent::Drawn))
        .collect();
    if drawn.is_empty() {
        return;
    }
    section(out, "Before a round cutter goes along drawn size");
    line(
        out,
        "Inside corners are sharp there: a round cutter leaves fillets that keep bars from seating; relieve them.",
    );
    let notches = drawn
        .iter()
        .flat_map(|d| d.file.layout.pieces.iter())
        .flat_map(|piece| piece.notches.iter().map(|n| n.x1 - n.x0));
    if let Some(narrowest) = notches.min_by(f64::total_cmp) {
        let text = format!(
            "The narrowest notch is {} mm wide: no wider cutter gets in.",
            micron(narrowest)
        );
        line(out, &text);
    }
    if drawn
        .iter()
        .any(|d| matches!(d.file.subject, DxfSubject::Sheet(_)))
    {
        for material in materials(drawings) {
            if let Some(apart) = outlines_apart(files, material) {
                let text = format!(
                    "Outlines on sheets of {} lie {} mm apart or more: a wider cut goes into the neighbour.",
                    material.name,
                    micron(apart)
                );
                line(out, &text);
            }
        }
    }
}

fn one(out: &mut String, drawing: &Drawing<'_>) {
    let Drawing {
        path,
        material,
        file,
        contours,
        cut_length,
        ..
    } = drawing;
    let sheet = file.subject.sheet();
    let thick = micron(sheet.thickness);
    let _ = writeln!(out, "\n  {path}");
    let (what, to_cut) = match (file.subject, file.piece()) {
        (DxfSubject::Piece { .. }, Some(piece)) => {
            let (length, depth) = (micron(piece.length), micron(piece.depth));
            let what = format!("piece {}, {length} x {depth} x {thick} mm", piece.class);
            (what, format!("{} in all", file.count()))
        }
        _ => {
            let title = file.layout.title(sheet);
            let what = format!("{title}, {}", counted(sheet.placements.len(), "piece"));
            let to_cut = match file.count() {
                1 => "once".to_owned(),
                loads => format!("{loads} times, a new sheet each"),
            };
            (what, to_cut)
        }
    };
    told(out, "  what", &what);
    if file.parts.cuts {
        told(out, "  to cut", &to_cut);
    }
    if let Some(piece) = file.piece().filter(|p| !p.remark.trim().is_empty()) {
        told(out, "  remark", piece.remark.trim());
    }
    if let DxfSubject::Sheet(_) = file.subject {
        let (length, width) = (micron(sheet.length), micron(sheet.width));
        let stock = format!("{}, {length} x {width} x {thick} mm", sheet.stock);
        told(out, "  stock", &stock);
    }
    told(out, "  material", &material.name);
    told(out, "  size", &size(file.content));
    let release = match file.version {
        DxfVersion::R2000 => "R2000; its header says mm",
        DxfVersion::R12 => "R12, which holds no unit: take every figure as mm",
    };
    told(out, "  release", release);
    let order = match file.content {
        DxfContent::Drawn => "",
        DxfContent::Compensated(_) => ", in the order of the file",
    };
    let cut = if file.parts.cuts {
        let contours = counted(*contours, "contour");
        format!("{contours}, {cut_length:.3} mm in all{order}")
    } else {
        format!("nothing: this belongs to {}", file.cut_name())
    };
    told(out, "  cut", &cut);
}
