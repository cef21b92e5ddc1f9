//! The table for the shooting jig as comma-separated values (RFC 4180): one class of infill a line.

use crate::geom::micron;
use crate::infill::Infill;
use crate::panel::JobFiles;

/// The table for the shooting jig: one class of infill pieces a line. Lengths are mm, angles degrees between
/// the axis and the cut, on the left and on the right of both ends; counts are for the whole quantity.
#[must_use]
pub fn infill_csv(infill: &Infill, files: &JobFiles) -> Vec<u8> {
    let mut out = String::from(
        "piece,pattern,material,count,face_mm,depth_mm,length_mm,cut_length_mm,blank_mm,start_left_deg,\
         start_right_deg,end_left_deg,end_right_deg,remark\r\n",
    );
    let Some(asked) = &files.panel.infill else {
        return out.into_bytes();
    };
    for class in &infill.classes {
        let pattern = files.patterns.get(class.filling.pattern);
        let cut = class.cut_length(asked.allowance);
        let [[a, b], [c, d]] = class.ends.map(|end| end.map(micron));
        let remark = if class.trimmed {
            "cut by the outline"
        } else {
            ""
        };
        out.push_str(&format!(
            "{},{},{},{},{},{},{},{},{},{a},{b},{c},{d},{remark}\r\n",
            class.id,
            quoted(pattern.map_or("", |p| p.name.as_str())),
            quoted(&files.wood(class.filling.wood).0.name),
            class.pieces.len() as u64 * u64::from(files.panel.quantity),
            micron(class.face),
            micron(class.filling.depth),
            micron(class.length),
            micron(cut),
            micron(cut + asked.shooting),
        ));
    }
    out.into_bytes()
}

/// A field that may hold commas and quotes (RFC 4180, 2.6 and 2.7).
fn quoted(text: &str) -> String {
    if text.contains([',', '"']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}
