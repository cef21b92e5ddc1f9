//! Cut lists as comma-separated values (RFC 4180): members, one a line; the cross-cuts of sticks, one piece a
//! line; and the pieces of sheets that are cut alike, one a line.

use crate::assembly::end_angles;
use crate::geom::micron;
use crate::lattice::{BarEnd, BarMark, End, EndShape, Lattice, Member, trim_remark, turned_ends};
use crate::panel::Panel;
use crate::setup::{FlatLayout, Marks, PieceMark};
use crate::stock::StickPlan;
use crate::table::Column;

/// The cut list: a bar of one panel a line, with how many of it go into a kit and are there in all, without
/// spares. The spares of a class stand with its first bar. Lengths are mm as cut. Ends that are trimmed by hand
/// have the angle from the bar to the cut, counter-clockwise as the bar lies in the panel seen from the front;
/// one that is trimmed to a point has two, with a plus between them. `marks` are the orientation marks of the
/// members, near which end and in which edge of the bar as it lies in the panel; `None` where they have none.
#[must_use]
pub fn members_csv(
    lattice: &Lattice,
    panel: &Panel,
    marks: Option<&Column<Member, BarMark>>,
) -> Vec<u8> {
    let mut out = String::from(
        "member,class,turn,family,rank,length_mm,face_mm,depth_mm,notches,per_kit,in_all,spares,\
         start_trim_deg,end_trim_deg,remark,mark_end,mark_edge\r\n",
    );
    let kits = panel.kit_count().max(1);
    for (m, member) in lattice.members.entries() {
        let family = &lattice.families[member.family];
        let remark = trim_remark(member.trimmed_by_hand);
        let angles = end_angles(lattice, member);
        let trim = |end: usize| {
            let by_hand = member.trimmed_by_hand.get(end) == Some(&true);
            let angles = angles.get(end).filter(|_| by_hand);
            let each: Vec<String> = (angles.into_iter().flatten())
                .map(|a| micron(*a).to_string())
                .collect();
            each.join("+")
        };
        let mark = marks.map_or(["", ""], |marks| {
            let mark = marks[m];
            [family.end_word(mark.end), mark.edges.word()]
        });
        let of = &lattice.classes[member.class];
        let class = &of.id;
        let first = of.first == m;
        out.push_str(&format!(
            "{},{class},{},{},{},{},{},{},{},{},{},{},{},{},{remark},{},{}\r\n",
            member.id,
            member.turn.word(),
            quoted(&family.name),
            family.rank,
            micron(lattice.cut_length(member)),
            micron(family.face),
            micron(lattice.depth),
            member.joints.len(),
            panel.quantity / kits,
            panel.quantity,
            if first { panel.spares_of_each() } else { 0 },
            trim(0),
            trim(1),
            mark[0],
            mark[1],
        ));
    }
    out.into_bytes()
}

/// Where sticks are cross-cut: one piece a line, from the datum end on. Lengths are mm along the centre
/// line, angles degrees from the axis to the saw cut as the stick lies front edge up. `marks` are the
/// orientation marks of the pieces of each stick: near which cut, in which edge of the stick, and what makes them.
#[must_use]
pub fn sticks_csv(lattice: &Lattice, plan: &StickPlan, marks: &Marks) -> Vec<u8> {
    let mut out = String::from(
        "stick,class,sticks,spares,joints,length_mm,piece,member_class,turn,first_joint,piece_joints,\
         from_mm,to_mm,from_angle,to_angle,mark_end,mark_edge,mark\r\n",
    );
    for (id, stick) in plan.sticks.entries() {
        let class = &plan.classes[stick.class];
        for (number, (piece, PieceMark { mark, made })) in (1..).zip(marks.of_stick(plan, id)) {
            let end = match mark.end {
                BarEnd::First => "from",
                BarEnd::Last => "to",
            };
            let mark = [end, mark.edges.word(), made.word()];
            let of = &lattice.classes[piece.class];
            let ends = turned_ends(of.ends, piece.turn);
            let angle = |end: End| match end.shape {
                EndShape::Point => "point".to_owned(),
                _ => micron(end.angle_deg).to_string(),
            };
            out.push_str(&format!(
                "{},{},{},{},{},{},{number},{},{},{},{},{},{},{},{},{}\r\n",
                stick.id,
                class.id,
                stick.count,
                stick.spares,
                class.joints,
                micron(class.length),
                of.id,
                piece.turn.word(),
                piece.first_joint,
                piece.joints,
                micron(piece.cut[0]),
                micron(piece.cut[1]),
                angle(ends[0]),
                angle(ends[1]),
                mark.join(","),
            ));
        }
    }
    out.into_bytes()
}

/// Which members lie on which of the sheets that are cut alike, in the places where they differ: one piece a line, run
/// by run of each program; `file` is what cuts a sheet of this stem. `None` where there are no such places. They are told in mm from the sheet's lower left
/// corner.
#[must_use]
pub fn loads_csv<'a>(
    layouts: impl Iterator<Item = &'a FlatLayout>,
    file: impl Fn(&str) -> String,
) -> Option<Vec<u8>> {
    let mut out = String::new();
    for layout in layouts {
        for sheet in layout.sheets.iter().filter(|s| s.members_differ()) {
            for load in 0..sheet.loads() {
                let places = sheet.placements.entries();
                for (k, place) in places.filter(|(_, place)| place.id.is_empty()) {
                    out.push_str(&format!(
                        "{},{},{},{},{},{},{}\r\n",
                        file(&layout.stem(sheet)),
                        load + 1,
                        sheet.number + load,
                        layout.pieces[place.piece].class,
                        sheet.id_in(load, k),
                        micron(place.x),
                        micron(place.y),
                    ));
                }
            }
        }
    }
    let head = "program,load,sheet,class,member,x_mm,y_mm\r\n";
    (!out.is_empty()).then(|| [head, &out].concat().into_bytes())
}

/// A field that may hold commas and quotes (RFC 4180, 2.6 and 2.7).
pub(super) fn quoted(text: &str) -> String {
    if text.contains([',', '"']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::{JobFiles, new_panel};

    /// RFC 4180, 2.6 and 2.7: a field with commas or quotes stands in quotes, and its quotes are doubled.
    #[test]
    fn names_with_commas_and_quotes_stay_one_field() {
        let text = new_panel("free").expect("a starter");
        let renamed = text.replacen("name = \"beam\"", "name = \"beam, \\\"low\\\"\"", 1);
        assert_ne!(renamed, text);
        let files = JobFiles::from_text("p.toml", renamed.as_bytes(), None).expect("sound");
        let lattice = Lattice::build(&files.panel, files.material.measured()).expect("a ground");
        let csv = String::from_utf8(members_csv(&lattice, &files.panel, None)).expect("text");
        let beam = csv.lines().find(|l| l.starts_with("B1,")).expect("a beam");
        assert!(beam.contains(",\"beam, \"\"low\"\"\",2,"), "{beam}");
        let fields = |line: &str| {
            let outside = line.split('"').step_by(2);
            outside.map(|part| part.matches(',').count()).sum::<usize>()
        };
        let heads = csv.lines().next().map(fields);
        assert!(csv.lines().all(|l| Some(fields(l)) == heads));
    }
}
