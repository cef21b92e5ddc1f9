//! In which order members go together: at every node from back to front.

use super::model::{Line, Member, MemberId, Node};
use crate::table::{Column, Table};

/// Groups of members that go in together, back ones first: the levels of the graph in which every
/// member must lie before those in front of it at a node.
pub(super) fn order(
    members: &Table<Member>,
    nodes: &Table<Node>,
    member_of_line: &Column<Line, Option<MemberId>>,
) -> Vec<Vec<MemberId>> {
    let mut level = members.column(|_, _| 0usize);
    let mut before = members.column(|_, _| Vec::new());
    let mut waiting = members.column(|_, _| 0usize);
    for node in nodes {
        let mut back: Option<MemberId> = None;
        for member in node.lines.iter().filter_map(|&line| member_of_line[line]) {
            if let Some(back) = back {
                before[back].push(member);
                waiting[member] += 1;
            }
            back = Some(member);
        }
    }
    let mut ready: Vec<MemberId> = members.ids().filter(|&m| waiting[m] == 0).collect();
    let mut next = 0;
    while let Some(&m) = ready.get(next) {
        next += 1;
        for &front in &before[m] {
            level[front] = level[front].max(level[m] + 1);
            waiting[front] -= 1;
            if waiting[front] == 0 {
                ready.push(front);
            }
        }
    }
    // Ranks belong to families, so the graph has no cycle and every member was reached.
    debug_assert_eq!(ready.len(), members.len(), "an order of assembly exists");
    let mut groups: Vec<Vec<MemberId>> = Vec::new();
    for (m, &l) in level.entries() {
        if groups.len() <= l {
            groups.resize(l + 1, Vec::new());
        }
        groups[l].push(m);
    }
    groups
}
