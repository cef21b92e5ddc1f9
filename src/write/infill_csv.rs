//! The table for the shooting jig as comma-separated values (RFC 4180): one class of infill a line.

use super::csv::quoted;
use crate::geom::micron;
use crate::infill::Infill;
use crate::panel::JobFiles;

/// The table for the shooting jig: one class of infill pieces a line. Lengths are mm, angles degrees between
/// the axis and the cut, on the left and on the right of both ends; counts are for the whole quantity.
#[must_use]
pub fn infill_csv(infill: &Infill, files: &JobFiles) -> Vec<u8> {
    let mut out = String::from(
        "piece,pattern,material,count,spares,face_mm,depth_mm,length_mm,cut_length_mm,blank_mm,start_left_deg,\
         start_right_deg,end_left_deg,end_right_deg,fold_at_mm,fold_deg,kerf_from,kerf_wall_1_deg,\
         kerf_wall_2_deg,remark\r\n",
    );
    let asked = &infill.asked;
    for class in &infill.classes {
        let pattern = &files.patterns[class.filling.pattern];
        let cut = class.cut_length(asked.allowance);
        let [[a, b], [c, d]] = class.ends.map(|end| end.map(micron));
        let perforated;
        let made = match class.fold_in_blank(asked.allowance, asked.shooting) {
            _ if class.trimmed => "cut by the outline",
            None => "",
            Some(at) if asked.perforation.is_some() => {
                perforated = format!(
                    "hinged: perforated {} mm from the blank's first end: fold there so that the cut opens on \
                     the face of the kerf: the third piece locks it",
                    micron(at)
                );
                perforated.as_str()
            }
            Some(_) => {
                "hinged: saw nearly through at the fold and fold the kerf open: the third piece locks it"
            }
        };
        let ends = class.ends_told(asked.plain_ends, |mm| format!("{} mm", micron(mm)));
        let told = [made, ends.as_str()]
            .into_iter()
            .filter(|told| !told.is_empty());
        let remark = told.collect::<Vec<_>>().join("; ");
        let fold = class.fold.map_or_else(
            || ",,,,".to_owned(),
            |fold| {
                let [before, past] = fold.walls.map(micron);
                let (at, deg) = (micron(fold.at), micron(fold.deg));
                format!("{at},{deg},{},{before},{past}", fold.side())
            },
        );
        out.push_str(&format!(
            "{},{},{},{},{},{},{},{},{},{},{a},{b},{c},{d},{fold},{remark}\r\n",
            class.id,
            quoted(&pattern.name),
            quoted(&files.wood(class.filling.wood).0.name),
            class.count() as u64 * u64::from(files.panel.quantity),
            files.panel.spares_of_each(),
            micron(class.face),
            micron(class.filling.depth),
            micron(class.length),
            micron(cut),
            micron(cut + asked.shooting),
        ));
    }
    out.into_bytes()
}
