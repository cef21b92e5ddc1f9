//! The cut list as comma-separated values (RFC 4180): one member a line.

use crate::geom::micron;
use crate::lattice::{Lattice, trim_remark};

/// The cut list of one panel. Lengths are mm as cut.
#[must_use]
pub fn members_csv(lattice: &Lattice) -> Vec<u8> {
    let mut out =
        String::from("member,class,turn,family,rank,length_mm,face_mm,depth_mm,notches,remark\r\n");
    for member in &lattice.members {
        let family = &lattice.families[member.family];
        let remark = trim_remark(member.trimmed_by_hand);
        let class = lattice
            .classes
            .get(member.class)
            .map_or("", |c| c.id.as_str());
        out.push_str(&format!(
            "{},{class},{},{},{},{},{},{},{},{remark}\r\n",
            member.id,
            member.turn.word(),
            family.name,
            family.rank,
            micron(member.length()),
            micron(family.face),
            micron(lattice.depth),
            member.joints.len(),
        ));
    }
    out.into_bytes()
}
