//! What is told of placements, and of copies that are cut alike.

use super::*;

/// What is left out is neither counted nor passed over.
#[test]
fn what_has_not_been_compared_is_a_fault() {
    let table: Table<&str> = ["u1", "u2", "u3"].into_iter().collect();
    let mut verdicts: Column<&str, Verdict> = table.column(|_, _| Some(Ok(())));
    let told = |id: Id<&str>, c: Complaint| format!("{}: {}", table[id], c.what);
    assert_eq!(judged(verdicts.clone(), told), (3, Vec::new()));
    for id in table.ids().skip(1).take(1) {
        verdicts[id] = None;
    }
    let (compared, faults) = judged(verdicts, told);
    assert_eq!(compared, 2);
    let told: Vec<(&str, &str)> = faults.iter().map(|f| (f.rule, &f.what[..2])).collect();
    assert_eq!(told, [("compared", "u2")]);
}

fn cut(from: [f64; 2], to: [f64; 2], z: f64) -> SweptMove {
    SweptMove {
        line: 0,
        from: [from[0], from[1], z],
        to: [to[0], to[1], z],
        arc: None,
    }
}

fn family(copies: &[Vec<SweptMove>]) -> Family<usize> {
    let mut alike = Vec::new();
    for (id, near) in copies.iter().enumerate() {
        join(&mut alike, id, near.clone(), Vec::new());
    }
    assert_eq!(alike.len(), 1, "all alike");
    alike.remove(0)
}

/// Two copies that differ are each looked at by themselves, three by a pattern first; what is found of the first
/// one's own cuts is told, and nothing that is found of a pattern.
#[test]
fn copies_are_told_of_by_their_own_cuts() {
    let at = |x: f64| vec![cut([x, 0.0], [x, 9.0], 0.0)];
    let own = |cuts: &[SweptMove], _: Sweeps| Ok(cuts[0].from[0]);
    let r = 0.5;
    for (copies, first) in [
        (vec![at(1.0)], Some(1.0)),
        (vec![at(1.0), at(1.0), at(1.0)], Some(1.0)),
        (vec![at(1.0), at(1.001)], Some(1.0)),
        (vec![at(1.001), at(1.0)], Some(1.001)),
        (vec![at(1.0), at(1.001), at(1.0)], None),
    ] {
        let (told, found) = each(&family(&copies), r, own);
        assert_eq!((told.len(), found), (copies.len(), first), "{copies:?}");
        assert!(told.iter().all(|(_, verdict)| verdict.is_ok()));
    }
    // Whichever copy is wrong is the one that is told of.
    let off = |x: f64| {
        move |cuts: &[SweptMove], _: Sweeps| match (cuts[0].from[0] - x).abs() < 1e-9 {
            true => Err(Complaint {
                rule: "piece-whole",
                at: Point::ORIGIN,
                what: String::new(),
            }),
            false => Ok(()),
        }
    };
    let two = family(&[at(1.0), at(1.001)]);
    for (x, wrong) in [(1.0, 0), (1.001, 1)] {
        let (told, _) = each(&two, r, off(x));
        let faults = told.iter().filter(|(_, verdict)| verdict.is_err());
        assert_eq!(faults.map(|(id, _)| *id).collect::<Vec<_>>(), [wrong]);
    }
}

/// The shape that is told with what a comparison has found is that which the cuts tell without it, whatever their
/// heights, and not that of a higher slab.
#[test]
fn what_a_comparison_leaves_is_the_shape_of_its_cuts() {
    let (length, depth, r) = (20.0, 6.0, 0.5);
    let piece = FlatPiece::blank("A", length, depth, String::new());
    let intended = Intended::of(&piece, &[], r).unwrap();
    let round = |z: f64, in_x: f64| {
        let (x0, x1, y0, y1) = (-r, length + r - in_x, -r, depth + r);
        let corners = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]];
        (0..4).map(move |k| cut(corners[k], corners[(k + 1) % 4], z))
    };
    let joined = Joined {
        ends: [false; 2],
        floor: 0.0,
    };
    let exact = Sweeps { less: r, more: r };
    // Less than the tolerance too far in, so that voids are found; on the bed alone.
    let one: Vec<SweptMove> = round(0.0, 0.004).collect();
    let deeper: Vec<SweptMove> = round(1.5, 0.0).chain(round(0.0, 0.004)).collect();
    for near in [one, deeper] {
        let compared = |sweeps| intended.compare(&near, &[], joined, sweeps, 3.0);
        let standing = compared(exact).unwrap();
        assert!(standing.is_some(), "the head's own sweep");
        let told = intended.shape(&near, standing);
        assert_eq!(told, intended.shape(&near, None));
        assert!(!told.voids.is_empty(), "cut on the bed");
        let slack = Sweeps {
            less: r - 1e-4,
            more: r + 1e-4,
        };
        assert!(compared(slack).unwrap().is_none(), "no copy's own sweep");
    }
}
