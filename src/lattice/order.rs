//! In which order members go together: at every node from back to front.

use super::model::{Member, Node};

/// Groups of members that go in together, back ones first: the levels of the graph in which every
/// member must lie before those in front of it at a node.
pub(super) fn order(
    members: &[Member],
    nodes: &[Node],
    member_of_line: &[Option<usize>],
) -> Vec<Vec<usize>> {
    let mut level = vec![0usize; members.len()];
    let mut before: Vec<Vec<usize>> = vec![Vec::new(); members.len()];
    let mut waiting = vec![0usize; members.len()];
    for node in nodes {
        let mut back: Option<usize> = None;
        for &line in &node.lines {
            let Some(member) = member_of_line[line] else {
                continue;
            };
            if let Some(back) = back {
                before[back].push(member);
                waiting[member] += 1;
            }
            back = Some(member);
        }
    }
    let mut ready: Vec<usize> = (0..members.len()).filter(|&m| waiting[m] == 0).collect();
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
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (m, &l) in level.iter().enumerate() {
        if groups.len() <= l {
            groups.resize(l + 1, Vec::new());
        }
        groups[l].push(m);
    }
    groups
}
