//! The infill of a panel as it is really cut, and the pieces that are cut for it.

use super::error::PlanError;
use super::flat::Batch;
use super::head::CuttingHead;
use crate::geom::{FACE_OFF, SAME_FIGURE, micron};
use crate::infill::{Infill, PieceClass};
use crate::lattice::Lattice;
use crate::panel::{
    self, CutWidth, Filling, InfillCut, JobFiles, Method, Perforation, off_readings,
};
use crate::setup::FlatPiece;

/// The infill that the panel asks for.
pub(super) fn infill(files: &JobFiles, lattice: &Lattice) -> Result<Option<Infill>, PlanError> {
    let Some(asked) = &files.panel.infill else {
        return Ok(None);
    };
    let asked = &as_cut(files, asked)?;
    let built = Infill::build(lattice, asked, &files.patterns).map_err(|faults| {
        let list = faults
            .iter()
            .map(|f| (f.key(), f.to_string(), Some(f.hint())));
        PlanError::from(files.panel_text.faults(list))
    })?;
    let wide = |class: &&PieceClass| class.face > class.filling.face + SAME_FIGURE;
    let blanks = asked.cut == InfillCut::Blanks;
    if let Some(class) = built.classes.iter().find(wide).filter(|_| blanks) {
        let message = format!(
            "pieces {} are {} mm wide by their pattern, and blanks only as wide as the stock is thick, {} mm",
            class.id,
            micron(class.face),
            micron(class.filling.face)
        );
        let hint = "a pattern whose pieces are no wider than the infill's `face`, cut = \"outlines\", or cut = \
                    \"by-hand\"";
        let fault = files
            .panel_text
            .fault("infill.cut", message, Some(hint.to_owned()));
        return Err(fault.into());
    }
    Ok(Some(built))
}

/// The infill with the size that it really gets: blanks are as thick as their stock, outlines as deep.
fn as_cut(files: &JobFiles, asked: &panel::Infill) -> Result<panel::Infill, PlanError> {
    let mut asked = asked.clone();
    if asked.cut == InfillCut::ByHand {
        return Ok(asked);
    }
    let mut faults = Vec::new();
    let mut size = |filling: &mut Filling, table: &str| -> Result<(), PlanError> {
        if let Err((key, message, hint)) = measured(files, asked.cut, filling) {
            let hint = format!("{hint}; or cut = \"by-hand\"");
            faults.push((format!("{table}.{key}"), message, Some(hint)));
        }
        if let Some(perforation) = asked.perforation
            && let Err((message, hint)) = perforable(files, perforation, filling)?
        {
            faults.push(("infill.fold".to_owned(), message, Some(hint)));
        }
        Ok(())
    };
    size(&mut asked.filling, "infill")?;
    for (number, feature) in asked.features.iter_mut().enumerate() {
        size(&mut feature.filling, &format!("infill.feature[{number}]"))?;
    }
    // What a feature takes from the table above is told there, once.
    let mut told: Vec<String> = Vec::new();
    faults.retain(|(_, message, _)| {
        let new = !told.contains(message);
        told.push(message.clone());
        new
    });
    if faults.is_empty() {
        Ok(asked)
    } else {
        Err(files.panel_text.faults(faults).into())
    }
}

/// Gives pieces the thickness of their stock: key, message and hint where it is not what is drawn.
fn measured(
    files: &JobFiles,
    cut: InfillCut,
    filling: &mut Filling,
) -> Result<(), (&'static str, String, &'static str)> {
    if filling.wood == 0 && files.panel.cut.method == Method::EdgeUp {
        let message = "infill is cut flat, but the bars' own stock is sticks to be cut edge up";
        let hint = "name `material` and `stock` of its own";
        return Err(("cut", message.into(), hint));
    }
    let (material, _) = files.wood(filling.wood);
    let most = material.thickness[1];
    let (key, drawn, what) = match cut {
        InfillCut::Outlines => ("depth", &mut filling.depth, "outlines are as deep"),
        _ => ("face", &mut filling.face, "blanks are as wide"),
    };
    let off = off_readings(*drawn, material.thickness);
    // A depth that nobody has drawn is the stock's.
    let follows = cut == InfillCut::Outlines && !filling.depth_said;
    if !follows && off > FACE_OFF + SAME_FIGURE && !files.panel.cut.scale_model {
        let message = format!(
            "{what} as the stock is thick, {most} mm ({}), which is more than {FACE_OFF} off the drawn {}",
            material.name, *drawn
        );
        let hint = "draw what the stock has measured, or name `material` and `stock` for it";
        return Err((key, message, hint));
    }
    *drawn = most;
    let ground = files.panel.ground.depth;
    if cut == InfillCut::Outlines && most > ground + FACE_OFF + SAME_FIGURE {
        let message = format!(
            "outlines are as deep as the stock is thick, {most} mm ({}), and the ground is {ground} deep",
            material.name
        );
        return Err((key, message, "thinner stock"));
    }
    Ok(())
}

/// Whether pieces can be perforated at the fold: message and hint where they cannot.
fn perforable(
    files: &JobFiles,
    perforation: Perforation,
    filling: &Filling,
) -> Result<Result<(), (String, String)>, PlanError> {
    let (material, _) = files.wood(filling.wood);
    Ok(match CuttingHead::of(files, material)? {
        CuttingHead::Laser(head) => perforated(&material.name, head.cut.kerf, perforation, filling),
        CuttingHead::Router(_) => Err(too_wide()),
        CuttingHead::Elsewhere(cut) => match cut.width {
            Some(CutWidth::Kerf(kerf)) => perforated(&material.name, kerf, perforation, filling),
            Some(CutWidth::Tool(_)) => Err(too_wide()),
            None => {
                let message = "how long the bridges between dashes are hangs on the kerf, and [elsewhere] does not say it";
                Err((message.to_owned(), by_hand("say its kerf; or ")))
            }
        },
    })
}

/// What is said to a cutter that is to perforate.
fn too_wide() -> (String, String) {
    let message = "only a laser perforates; a router's slots are too wide to fold at";
    (message.to_owned(), by_hand(""))
}

/// What helps where pieces cannot be perforated.
fn by_hand(hint: &str) -> String {
    format!("{hint}fold = \"by-hand\": a saw kerf")
}

/// Whether pieces of a material can be perforated with a beam of this kerf, mm.
fn perforated(
    material: &str,
    kerf: f64,
    perforation: Perforation,
    filling: &Filling,
) -> Result<(), (String, String)> {
    let Perforation { dash, bridge } = perforation;
    if bridge < 2.0 * kerf {
        let message = format!(
            "bridges of {bridge} mm less the kerf, {kerf} mm ({}), would be narrower than the kerf",
            material
        );
        let hint = format!("fold_bridge = {} or more; or ", micron(2.0 * kerf));
        return Err((message, by_hand(&hint)));
    }
    let least = dash + 2.0 * bridge;
    if filling.depth < least - SAME_FIGURE {
        let message = format!(
            "a dash with a bridge on both sides takes {} mm, and the pieces are {} deep",
            micron(least),
            filling.depth
        );
        return Err((message, by_hand("a smaller fold_dash or fold_bridge; or ")));
    }
    Ok(())
}

/// What is cut of a class: a blank, or its outline; nothing by hand.
fn piece(asked: &panel::Infill, class: &PieceClass) -> Option<FlatPiece> {
    match asked.cut {
        InfillCut::ByHand => None,
        InfillCut::Blanks => {
            let narrow = class.face < class.filling.face - SAME_FIGURE;
            let remark = if narrow {
                format!("plane to {:.2} wide", class.face)
            } else if class.fold.is_some() {
                let perforated = asked.perforation.map_or("", |_| "fold at the dashes, ");
                format!("hinge: {perforated}see infill.csv")
            } else {
                String::new()
            };
            let length = class.cut_length(asked.allowance) + asked.shooting;
            let depth = class.filling.depth;
            let blank = FlatPiece::blank(&class.id, length, depth, remark);
            let fold = class.fold_in_blank(asked.allowance, asked.shooting);
            Some(match (fold, asked.perforation) {
                (Some(x), Some(p)) => blank.perforated(x, p.dash, p.bridge),
                _ => blank,
            })
        }
        InfillCut::Outlines => {
            let plan = class.cut_outline(asked.allowance);
            Some(FlatPiece::on_its_back(&class.id, &plan, String::new()))
        }
    }
}

/// Whether pieces of a class lie among the bars: of their wood and depth, on their side like them.
fn lies_among(files: &JobFiles, asked: &panel::Infill, class: &PieceClass) -> bool {
    files.panel.cut.method == Method::Flat
        && asked.cut == InfillCut::Blanks
        && class.filling.wood == 0
        && class.filling.depth == files.panel.ground.depth
}

/// What is cut of the classes of infill that lie among the bars, or of all others: class, piece, and how many a
/// panel takes.
fn cut_pieces<'a>(
    files: &'a JobFiles,
    infill: Option<&'a Infill>,
    among: bool,
) -> impl Iterator<Item = (&'a PieceClass, FlatPiece, usize)> {
    infill.into_iter().flat_map(move |infill| {
        let asked = &infill.asked;
        let mine = infill.classes.iter();
        let mine = mine.filter(move |class| lies_among(files, asked, class) == among);
        mine.filter_map(move |class| Some((class, piece(asked, class)?, class.count())))
    })
}

/// The pieces of infill that lie among the bars: each with how many a panel takes.
pub(super) fn pieces_among(files: &JobFiles, infill: Option<&Infill>) -> Vec<(FlatPiece, usize)> {
    cut_pieces(files, infill, true)
        .map(|(_, piece, count)| (piece, count))
        .collect()
}

/// All other pieces of infill that are cut, a batch for each wood.
pub(super) fn infill_batches(files: &JobFiles, infill: Option<&Infill>) -> Vec<Batch> {
    let mut woods: Vec<(usize, Vec<(FlatPiece, usize)>)> = Vec::new();
    for (class, piece, count) in cut_pieces(files, infill, false) {
        let (wood, copies) = (class.filling.wood, (piece, count));
        match woods.iter_mut().find(|(w, _)| *w == wood) {
            Some((_, pieces)) => pieces.push(copies),
            None => woods.push((wood, vec![copies])),
        }
    }
    woods.sort_by_key(|(wood, _)| *wood);
    let several = woods.len() > 1;
    let batch = |(k, (wood, pieces)): (usize, (usize, Vec<(FlatPiece, usize)>))| {
        let number = several.then_some(k + 1);
        Batch::infill(number, wood, &pieces, &files.panel)
    };
    woods.into_iter().enumerate().map(batch).collect()
}
