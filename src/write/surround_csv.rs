//! The sides of the surround as comma-separated values (RFC 4180), for the mitre saw or the shooting board.

use crate::geom::micron;
use crate::surround::{Pin, Surround};

/// One side a line. Lengths are mm, angles degrees: `mitre` between the side's length and its cut, `saw` on a
/// scale where 0 cuts square. A pin's place is told from the long point of its end, and above the back.
/// `class_count` is for the whole quantity. A lapped side ends square: of its length it has `bar_mm` alone, and neither
/// points nor mitres.
#[must_use]
pub fn surround_csv(surround: &Surround, quantity: u32) -> Vec<u8> {
    let mut out = String::from(
        "side,class,class_count,face_mm,depth_mm,long_mm,short_mm,start_mitre_deg,end_mitre_deg,\
         start_saw_deg,end_saw_deg,start_pin_mm,start_pin_height_mm,end_pin_mm,end_pin_height_mm,pin_mm,\
         hole_mm,bar_mm,remark\r\n",
    );
    for (s, side) in surround.sides.entries() {
        let count = surround.classes[side.class].sides.len();
        let pin = |end: usize| side.pins.iter().find(|p| p.end == end);
        let at = |pin: Option<&Pin>| match pin {
            Some(p) => format!("{},{}", micron(p.at), micron(p.height)),
            None => ",".into(),
        };
        let sizes = match side.pins.first() {
            Some(p) => format!("{},{}", micron(p.diameter), micron(p.hole)),
            None => ",".into(),
        };
        let ring = surround.ring.as_ref();
        let bar = ring.map(|ring| ring.lattice.cut_length(ring.bar(s)));
        let (mitred, bar, remark) = match bar {
            Some(bar) => (
                ",,,,,".to_owned(),
                micron(bar).to_string(),
                "half-lapped and cut among the bars",
            ),
            None => {
                let [long, short] = [side.long, side.short].map(micron);
                let [[m0, m1], [s0, s1]] = [side.mitres, side.saw_deg()].map(|a| a.map(micron));
                let mitred = format!("{long},{short},{m0},{m1},{s0},{s1}");
                (mitred, String::new(), "")
            }
        };
        out.push_str(&format!(
            "{},{},{},{},{},{mitred},{},{},{sizes},{bar},{remark}\r\n",
            side.id,
            surround.class_id(side),
            count as u64 * u64::from(quantity),
            micron(surround.face),
            micron(surround.depth),
            at(pin(0)),
            at(pin(1)),
        ));
    }
    out.into_bytes()
}
