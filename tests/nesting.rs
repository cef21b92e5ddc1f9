//! Pieces on strips and sheets: against exhaustive search, against its own proof, and as geometry.

// A test that cannot go on should stop.
#![allow(clippy::unwrap_used, clippy::panic)]

use std::collections::BTreeMap;

use lapwright::panel::{Blank, Stock};
use lapwright::stock::{NestError, NestPlace, StockLimit, nest};

/// Shapes are known by numbers here.
type Nest = lapwright::stock::Nest<usize>;
type NestItem = lapwright::stock::NestItem<usize>;

const FAR: StockLimit = StockLimit {
    max_x: 50_000.0,
    max_y: 50_000.0,
};

/// Repeatable numbers: Knuth's MMIX generator.
struct Draw(u64);

impl Draw {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % n
    }
}

fn blank(name: &str, length: f64, width: f64, count: Option<u32>) -> Blank {
    Blank {
        name: name.into(),
        length,
        width,
        count,
    }
}

fn stock(trim: f64, blanks: Vec<Blank>) -> Stock {
    Stock {
        thickness: Vec::new(),
        name: "test".into(),
        trim,
        blanks,
    }
}

fn items(lengths: &[f64]) -> Vec<NestItem> {
    let mut shapes: BTreeMap<u64, usize> = BTreeMap::new();
    for l in lengths {
        let next = shapes.len();
        shapes.entry(l.to_bits()).or_insert(next);
    }
    let item = |(i, &length): (usize, &f64)| NestItem {
        piece: shapes[&length.to_bits()],
        id: format!("P{i}"),
        length,
    };
    lengths.iter().enumerate().map(item).collect()
}

/// Every rule that a nest keeps, checked from its placements alone.
fn check(nest: &Nest, items: &[NestItem], depth: f64, stock: &Stock, gap: f64, limit: StockLimit) {
    let length_of: BTreeMap<&str, &NestItem> = items.iter().map(|i| (i.id.as_str(), i)).collect();
    let mut seen = BTreeMap::new();
    let mut used = BTreeMap::new();
    assert_eq!(nest.count.used, nest.sheets.len());
    assert!(
        nest.count.lower_bound <= nest.count.used,
        "bound {} of {}",
        nest.count.lower_bound,
        nest.count.used
    );
    assert_eq!(
        nest.count.optimal,
        nest.count.lower_bound == nest.count.used
    );
    for (number, sheet) in (1..).zip(&nest.sheets) {
        let offcut = sheet.offcut;
        assert_eq!(sheet.number, number);
        assert!(!sheet.placements.is_empty(), "no sheet lies there unused");
        *used.entry(sheet.stock.clone()).or_insert(0) += 1;
        let mut boxes = Vec::new();
        let mut end = 0.0_f64;
        for p in &sheet.placements {
            let item = length_of[p.id.as_str()];
            assert_eq!(p.piece, item.piece, "shape of {}", p.id);
            assert!(
                seen.insert(&p.id, ()).is_none(),
                "{} lies there twice",
                p.id
            );
            let (x1, y1) = (p.x + item.length, p.y + depth);
            let off_grid = |v: f64| (v * 1000.0 - (v * 1000.0).round()).abs();
            assert!(
                off_grid(p.x) < 1e-6 && off_grid(p.y) < 1e-6,
                "{} is off the grid",
                p.id
            );
            assert!(
                p.x >= stock.trim - 1e-9 && p.y >= stock.trim - 1e-9,
                "{} in the trim",
                p.id
            );
            let (right, top) = (sheet.length - stock.trim, sheet.width - stock.trim);
            assert!(
                x1 <= right + 1e-9 && y1 <= top + 1e-9,
                "{} in the trim",
                p.id
            );
            assert!(
                x1 <= limit.max_x + 1e-9 && y1 <= limit.max_y + 1e-9,
                "{} out of reach",
                p.id
            );
            end = end.max(x1);
            boxes.push((p.y, p.x, y1, x1));
        }
        assert!(
            offcut <= (sheet.length - end - gap).max(0.0) + 1e-9,
            "offcut runs into a piece"
        );
        assert!(
            offcut >= sheet.length - end - gap - 2e-3,
            "offcut is given short"
        );
        // Rows: neighbours one after another in a row, and rows clear of each other.
        boxes.sort_by(|a, b| a.partial_cmp(b).unwrap());
        for pair in boxes.windows(2) {
            let ((y, _, y1, x1), (below, x, ..)) = (pair[0], pair[1]);
            let clear = if below == y { x - x1 } else { below - y1 };
            assert!(clear >= gap - 1e-9, "pieces only {clear} mm apart");
        }
    }
    assert_eq!(seen.len(), items.len(), "every piece lies somewhere");
    for b in &stock.blanks {
        let n: u32 = used.get(&b.name).copied().unwrap_or(0);
        assert!(
            b.count.is_none_or(|count| n <= count),
            "more of {} than there are",
            b.name
        );
    }
}

/// The fewest blanks by trying everything: each piece in turn goes in every row that is begun, or
/// begins a row on every blank that has one free. Lengths include the gap.
fn fewest(lengths: &[u64], blanks: &[(u64, u64, u64)]) -> Option<u64> {
    struct Open {
        kind: usize,
        rows: Vec<u64>,
    }
    fn go(rest: &[u64], blanks: &[(u64, u64, u64)], open: &mut Vec<Open>, best: &mut Option<u64>) {
        if best.is_some_and(|b| open.len() as u64 >= b) && !rest.is_empty() {
            // One more piece may still fit in what is open, but never with fewer blanks.
            return;
        }
        let Some((&first, rest)) = rest.split_first() else {
            *best = Some(best.map_or(open.len() as u64, |b| b.min(open.len() as u64)));
            return;
        };
        for s in 0..open.len() {
            for r in 0..open[s].rows.len() {
                if open[s].rows[r] >= first {
                    open[s].rows[r] -= first;
                    go(rest, blanks, open, best);
                    open[s].rows[r] += first;
                }
            }
            let (room, side_by_side, _) = blanks[open[s].kind];
            if (open[s].rows.len() as u64) < side_by_side && room >= first {
                open[s].rows.push(room - first);
                go(rest, blanks, open, best);
                open[s].rows.pop();
            }
        }
        for (kind, &(room, _, count)) in blanks.iter().enumerate() {
            let taken = open.iter().filter(|o| o.kind == kind).count() as u64;
            if room >= first && taken < count {
                open.push(Open {
                    kind,
                    rows: vec![room - first],
                });
                go(rest, blanks, open, best);
                open.pop();
            }
        }
    }
    let mut best = None;
    go(lengths, blanks, &mut Vec::new(), &mut best);
    best
}

#[test]
fn as_good_as_trying_everything() {
    let mut draw = Draw(3);
    let (mut several, mut short) = (0, 0);
    for round in 0..400 {
        let n = 3 + draw.below(6);
        let gap = 1 + draw.below(4);
        let depth = 10;
        // Blanks of one to three rows; lengths in whole mm.
        let sizes = 1 + draw.below(3);
        let mut blanks = Vec::new();
        let mut plain = Vec::new();
        for k in 0..sizes {
            let (clear, rows) = (
                60 + draw.below(60),
                1 + draw.below(if round % 2 == 0 { 1 } else { 3 }),
            );
            let count = (draw.below(3) == 0).then(|| 1 + draw.below(3));
            let width = rows * depth + (rows - 1) * gap + 2;
            let name = format!("b{k}");
            blanks.push(blank(
                &name,
                (clear + 2) as f64,
                width as f64,
                count.map(|c| c as u32),
            ));
            plain.push((clear + gap, rows, count.unwrap_or(n)));
        }
        let longest = plain.iter().map(|p| p.0).max().unwrap() - gap;
        let kinds = 1 + draw.below(4);
        let choice: Vec<u64> = (0..kinds).map(|_| 12 + draw.below(longest - 11)).collect();
        let lengths: Vec<u64> = (0..n).map(|_| choice[draw.below(kinds) as usize]).collect();
        let items = items(&lengths.iter().map(|&l| l as f64).collect::<Vec<_>>());
        let stock = stock(1.0, blanks);
        let mut sizes: Vec<u64> = lengths.iter().map(|l| l + gap).collect();
        sizes.sort_by(|a, b| b.cmp(a));
        let want = fewest(&sizes, &plain);
        match nest(&items, depth as f64, &stock, gap as f64, 3.0, FAR) {
            Ok(got) => {
                check(&got, &items, depth as f64, &stock, gap as f64, FAR);
                assert_eq!(
                    Some(got.count.used as u64),
                    want,
                    "round {round}: {lengths:?} on {plain:?}"
                );
                several += usize::from(got.count.used > 1);
            }
            Err(NestError::NotEnough { proven, .. }) => {
                assert_eq!(
                    want, None,
                    "round {round}: {lengths:?} on {plain:?} can be done"
                );
                short += usize::from(proven);
            }
            Err(e) => panic!("round {round}: {e}"),
        }
    }
    assert!(
        several > 100 && short > 10,
        "the cases are worth it: {several}, {short}"
    );
}

/// The greatest worth of one row by the table over all lengths, in whole mm.
fn row_value(prices: &[(u64, u64, u64)], room: u64) -> u64 {
    let mut table = vec![0; room as usize + 1];
    for &(size, count, price) in prices {
        for _ in 0..count.min(room / size) {
            for at in (size as usize..table.len()).rev() {
                table[at] = table[at].max(table[at - size as usize] + price);
            }
        }
    }
    table[room as usize]
}

#[test]
fn the_proof_holds_when_worked_out_again() {
    let mut draw = Draw(5);
    for round in 0..40 {
        let m = 2 + draw.below(12);
        let choice: Vec<f64> = (0..m).map(|_| (40 + draw.below(300)) as f64).collect();
        let lengths: Vec<f64> = (0..20 + draw.below(80))
            .map(|_| choice[draw.below(m) as usize])
            .collect();
        let items = items(&lengths);
        let mut blanks = vec![blank("long", 900.0, 12.0, None)];
        if round % 3 == 0 {
            blanks.push(blank("wide", 400.0, 60.0, Some(2)));
        }
        let stock = stock(0.0, blanks);
        let got = nest(&items, 12.0, &stock, 3.0, 3.0, FAR).unwrap();
        check(&got, &items, 12.0, &stock, 3.0, FAR);
        let mm: Vec<(u64, u64, u64)> = got
            .count
            .proof
            .prices
            .iter()
            .map(|&(size, n, price)| (size / 1000, n, price))
            .collect();
        assert_eq!(mm.iter().map(|p| p.1).sum::<u64>(), items.len() as u64);
        let total: u128 = mm.iter().map(|p| u128::from(p.1) * u128::from(p.2)).sum();
        let mut worth = Vec::new();
        for &(b, room, rows, value) in &got.count.proof.rows {
            assert_eq!(room as f64, (stock.blanks[b].length + 3.0) * 1000.0);
            assert!(
                row_value(&mm, room / 1000) <= value,
                "round {round}: a row is worth more"
            );
            worth.push((u128::from(value * rows), stock.blanks[b].count));
        }
        // The most valuable blanks first: one fewer than the bound is not worth enough.
        worth.sort_by_key(|b| std::cmp::Reverse(b.0));
        let mut blanks = Vec::new();
        for (value, count) in worth {
            blanks.extend(vec![
                value;
                count.map_or(got.count.lower_bound, |n| n as usize)
            ]);
        }
        let fewer: u128 = blanks.iter().take(got.count.lower_bound - 1).sum();
        assert!(
            fewer < total,
            "round {round}: {} blanks could be enough",
            got.count.lower_bound - 1
        );
    }
}

#[test]
fn strips_of_a_workshop_are_proven_least() {
    // Invented lists of up to 30 lengths, written to a tenth of a millimetre, on one length of strip.
    let mut draw = Draw(2024);
    for round in 0..60 {
        let m = 1 + draw.below(30);
        let choice: Vec<f64> = (0..m)
            .map(|_| (400 + draw.below(8000)) as f64 / 10.0)
            .collect();
        let n = 10 + draw.below([40, 200, 1000][round % 3]);
        let lengths: Vec<f64> = (0..n).map(|_| choice[draw.below(m) as usize]).collect();
        let items = items(&lengths);
        let gap = [0.4, 3.2, 4.0][draw.below(3) as usize];
        let stock = stock(
            5.0,
            vec![blank("strip", [1000.0, 2400.0][round % 2], 24.0, None)],
        );
        let got = nest(&items, 12.0, &stock, gap, 4.0, FAR).unwrap();
        check(&got, &items, 12.0, &stock, gap, FAR);
        assert!(
            got.count.optimal,
            "round {round}: {} strips, bound {}",
            got.count.used, got.count.lower_bound
        );
    }
}

#[test]
fn rows_filled_without_a_rest_are_found() {
    // Made by cutting full rows in three, so the least number is known by construction.
    let mut draw = Draw(9);
    let mut full = 0;
    for round in 0..10 {
        let mut lengths = Vec::new();
        for _ in 0..20 {
            let a = 260 + draw.below(80);
            let b = 260 + draw.below(80);
            lengths.extend([a as f64, b as f64, (991 - a - b) as f64]);
        }
        let items = items(&lengths);
        let stock = stock(0.0, vec![blank("strip", 997.0, 10.0, None)]);
        let got = nest(&items, 10.0, &stock, 3.0, 3.0, FAR).unwrap();
        check(&got, &items, 10.0, &stock, 3.0, FAR);
        assert_eq!(
            got.count.lower_bound, 20,
            "round {round}: the length alone asks for 20"
        );
        full += usize::from(got.count.optimal);
        assert!(
            got.count.used <= 21,
            "round {round}: {} strips",
            got.count.used
        );
    }
    assert!(full >= 9, "the least number was found {full} times of 10");
}

#[test]
fn travel_cuts_long_and_wide_stock_short() {
    let items = items(&[100.0; 12]);
    let stock = stock(10.0, vec![blank("sheet", 2000.0, 1000.0, None)]);
    let limit = StockLimit {
        max_x: 330.0,
        max_y: 42.999,
    };
    let got = nest(&items, 14.0, &stock, 5.0, 3.0, limit).unwrap();
    check(&got, &items, 14.0, &stock, 5.0, limit);
    assert_eq!(
        got.count.used, 4,
        "three pieces a row; two rows would end at 10 + 14 + 5 + 14 = 43"
    );
    let limit = StockLimit {
        max_x: 320.0,
        max_y: 43.0,
    };
    let got = nest(&items, 14.0, &stock, 5.0, 3.0, limit).unwrap();
    check(&got, &items, 14.0, &stock, 5.0, limit);
    assert_eq!(
        got.count.used, 2,
        "three pieces a row end at 10 + 3 * 100 + 2 * 5 = 320; two rows at 43"
    );
    let limit = StockLimit {
        max_x: 319.999,
        max_y: 43.0,
    };
    let got = nest(&items, 14.0, &stock, 5.0, 3.0, limit).unwrap();
    assert_eq!(
        got.count.used, 3,
        "a micrometre short of it, only two pieces a row"
    );
}

#[test]
fn pieces_of_one_class_lie_together() {
    let mut lengths = Vec::new();
    for _ in 0..6 {
        lengths.extend([210.0, 180.0, 90.0]);
    }
    let items = items(&lengths);
    let stock = stock(2.0, vec![blank("sheet", 700.0, 200.0, None)]);
    let got = nest(&items, 12.0, &stock, 3.0, 3.0, FAR).unwrap();
    check(&got, &items, 12.0, &stock, 3.0, FAR);
    for sheet in &got.sheets {
        let rows = sheet.placements.rows().chunk_by(|a, b| a.y == b.y);
        for row in rows.clone() {
            let runs = row.chunk_by(|a, b| a.piece == b.piece).count();
            let kinds: std::collections::BTreeSet<usize> = row.iter().map(|p| p.piece).collect();
            assert_eq!(runs, kinds.len(), "one run a class in {row:?}");
        }
        // To and fro: a row begins at the end where the last one stopped.
        let ends: Vec<(f64, f64)> = rows.map(|r| (r[0].x, r[r.len() - 1].x)).collect();
        for (k, (first, last)) in ends.iter().enumerate() {
            assert!(
                if k % 2 == 0 {
                    first <= last
                } else {
                    first >= last
                },
                "row {k} runs the wrong way"
            );
        }
    }
}

#[test]
fn the_smallest_blank_that_does_is_taken() {
    let items = items(&[300.0, 300.0, 150.0]);
    let blanks = vec![
        blank("long", 1000.0, 30.0, None),
        blank("offcut", 340.0, 30.0, Some(1)),
        blank("short", 620.0, 30.0, Some(1)),
    ];
    let got = nest(&items, 26.0, &stock(2.0, blanks), 4.0, 3.0, FAR).unwrap();
    assert_eq!((got.count.used, got.count.optimal), (1, true));
    assert_eq!(got.sheets[0].stock, "long", "one strip is fewer than two");
    assert_eq!(
        got.sheets[0].offcut,
        1000.0 - 2.0 - 300.0 - 4.0 - 300.0 - 4.0 - 150.0 - 4.0
    );

    let items = self::items(&[300.0]);
    let blanks = vec![
        blank("long", 1000.0, 30.0, None),
        blank("offcut", 340.0, 30.0, Some(1)),
    ];
    let got = nest(&items, 26.0, &stock(2.0, blanks), 4.0, 3.0, FAR).unwrap();
    assert_eq!(got.sheets[0].stock, "offcut");
}

#[test]
fn the_order_of_the_list_does_not_matter() {
    let mut draw = Draw(77);
    let lengths: Vec<f64> = (0..60).map(|_| (50 + 7 * draw.below(30)) as f64).collect();
    let stock = stock(3.0, vec![blank("strip", 800.0, 20.0, None)]);
    let there = nest(&items(&lengths), 12.0, &stock, 3.0, 3.0, FAR).unwrap();
    let back: Vec<f64> = lengths.iter().rev().copied().collect();
    let back = nest(&items(&back), 12.0, &stock, 3.0, 3.0, FAR).unwrap();
    let places = |n: &Nest| -> Vec<Vec<(u64, u64)>> {
        let of = |p: &NestPlace<usize>| (p.x.to_bits(), p.y.to_bits());
        n.sheets
            .iter()
            .map(|s| s.placements.iter().map(of).collect())
            .collect()
    };
    assert_eq!(places(&there), places(&back));
    assert_eq!(
        there,
        nest(&items(&lengths), 12.0, &stock, 3.0, 3.0, FAR).unwrap()
    );
}

#[test]
fn ten_thousand_pieces() {
    let mut draw = Draw(1);
    let choice: Vec<f64> = (0..40)
        .map(|_| (600 + draw.below(6000)) as f64 / 10.0)
        .collect();
    let lengths: Vec<f64> = (0..10_000)
        .map(|_| choice[draw.below(40) as usize])
        .collect();
    let items = items(&lengths);
    let stock = stock(5.0, vec![blank("sheet", 1200.0, 600.0, None)]);
    let got = nest(&items, 18.0, &stock, 4.0, 4.0, FAR).unwrap();
    check(&got, &items, 18.0, &stock, 4.0, FAR);
    assert!(
        got.count.optimal,
        "{} sheets, bound {}",
        got.count.used, got.count.lower_bound
    );
}

#[test]
fn nothing_to_nest_needs_nothing() {
    let stock = stock(5.0, vec![blank("strip", 1000.0, 24.0, Some(0))]);
    let got = nest(&items(&[]), 12.0, &stock, 3.0, 3.0, FAR).unwrap();
    assert_eq!(
        (got.count.used, got.count.lower_bound, got.count.optimal),
        (0, 0, true)
    );
}

#[test]
fn faults_say_what_would_do() {
    let strip = |count| stock(5.0, vec![blank("strip", 1000.0, 24.0, count)]);
    let call = |lengths: &[f64], depth, gap, stock: &Stock| {
        nest(&items(lengths), depth, stock, gap, 3.0, FAR).unwrap_err()
    };
    let e = call(&[100.0, 990.1], 12.0, 3.0, &strip(None));
    let long = NestError::TooLong {
        id: "P1".into(),
        length: 990.1,
        longest: 990.0,
    };
    assert_eq!(e, long);
    assert!(
        nest(&items(&[990.0]), 14.0, &strip(None), 3.0, 3.0, FAR).is_ok(),
        "it just fits"
    );

    let e = call(&[100.0], 14.1, 3.0, &strip(None));
    assert_eq!(
        e,
        NestError::TooDeep {
            depth: 14.1,
            widest: 14.0
        }
    );

    let e = call(&[600.0; 5], 12.0, 3.0, &strip(Some(3)));
    let blank = "strip".to_string();
    assert_eq!(
        e,
        NestError::NotEnough {
            missing: 2,
            of: 5,
            more: 2,
            blank,
            proven: true
        }
    );
    assert_eq!(
        e.to_string(),
        "there is no room for 2 of 5 pieces; 2 more of strip would do"
    );

    assert_eq!(
        call(&[1.0], 12.0, 3.0, &stock(5.0, vec![])),
        NestError::NoBlanks
    );
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e9] {
        for (what, e) in [
            (
                "gap between pieces",
                call(&[100.0], 12.0, bad, &strip(None)),
            ),
            ("depth of the bars", call(&[100.0], bad, 3.0, &strip(None))),
            ("length of piece P0", call(&[bad], 12.0, 3.0, &strip(None))),
        ] {
            assert!(
                matches!(&e, NestError::BadLength { what: w, .. } if w == what),
                "{what}: {e:?}"
            );
        }
    }
    let e = call(
        &[100.0],
        12.0,
        3.0,
        &Stock {
            thickness: Vec::new(),
            trim: -0.1,
            ..strip(None)
        },
    );
    assert!(matches!(e, NestError::BadLength { what, .. } if what == "trim"));
}
