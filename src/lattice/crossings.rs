//! Which lines can reach wood, and where they cross: found along each bar, never by comparing all pairs.

use super::bars::Bar;
use super::family::Family;
use super::joint::square_run;
use super::model::{Line, Member, MemberId};
use super::nodes::{Crossing, Lines, cross};
use super::outline::Outline;
use crate::table::{Column, Table};

/// How far along a bar the longest notch reaches from its joint, either way, mm.
fn notch_reach(own: &Family, families: &Table<Family>) -> f64 {
    let others = families.iter().filter(|f| own.angle_to(f) != 0.0);
    others
        .map(|f| 0.5 * square_run(f.face, own.face, own.angle_to(f)))
        .fold(0.0, f64::max)
}

/// All lines whose bars could reach wood.
pub(super) fn active_lines(families: &Table<Family>, outline: &Outline, overhang: f64) -> Lines {
    let widest = families.iter().map(|f| f.face).fold(0.0, f64::max);
    // Every line of a joint counts in it, also of one whose notch alone reaches the wood.
    let reach = families
        .iter()
        .map(|f| notch_reach(f, families))
        .fold(widest, f64::max);
    Lines::new(families, |_, family| {
        let (lo, hi) = outline.region.extent(family.normal());
        // Wood runs past the outline by the overhang, or by the tip of a skew end.
        let tip = if overhang > 0.0 {
            overhang
        } else {
            widest * 20.0
        };
        family.lines_between(lo - tip - reach, hi + tip + reach)
    })
}

/// Every crossing of a member's line, once.
pub(super) fn crossings(
    families: &Table<Family>,
    members: &Table<Member>,
    bars: &Column<Member, Bar>,
    lines: &Lines,
    member_of_line: &Column<Line, Option<MemberId>>,
) -> Table<Crossing> {
    // How far beyond its ends a joint's notches can still touch a bar's wood: as far as it is looked at, for
    // all lines of the joint alike.
    let reaches = families.column(|_, family| notch_reach(family, families));
    let windows = members.column(|m, member| {
        let bar = &bars[m];
        let reach = reaches[member.family] + 1.0;
        // Wood runs past the ends of the centre line where they are skew.
        let axis = families[member.family].axis();
        let (wood, body) = (bar.wood.extent(axis), bar.body.extent(axis));
        let (lo, hi) = (wood.0.min(body.0), wood.1.max(body.1));
        (lo - bar.origin - reach, hi - bar.origin + reach)
    });
    let mut out = Table::new();
    for (m, member) in members.entries() {
        let (own, bar, (lo, hi)) = (&families[member.family], &bars[m], windows[m]);
        for (o, other) in families.entries() {
            // Families in one direction have no crossings.
            if o == member.family || own.angle_to(other) == 0.0 {
                continue;
            }
            let along = other.normal().dot(own.axis());
            let fixed = other.normal().dot(own.normal()) * bar.offset;
            let reach = [lo, hi].map(|s| fixed + along * (bar.origin + s));
            let near = other.lines_between(reach[0].min(reach[1]), reach[0].max(reach[1]));
            for (index, offset) in near {
                // Lines beyond those of wood touch none.
                let Some(line) = lines.line(o, index) else {
                    continue;
                };
                let (own_along, other_along, at) = cross(own, bar.offset, other, offset);
                if let Some(b) = member_of_line[line]
                    && line < member.line
                {
                    // The other bar has already found this crossing if it lies in its own window.
                    let (lo, hi) = windows[b];
                    if (lo..=hi).contains(&(other_along - bars[b].origin)) {
                        continue;
                    }
                }
                out.push(Crossing {
                    lines: [member.line, line],
                    along: [own_along, other_along],
                    at,
                });
            }
        }
    }
    out
}
