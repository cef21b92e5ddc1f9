//! Class letters on the bars of a panel.

use std::collections::BTreeMap;

use crate::geom::Point;

use super::paint::{Hold, INK, Paint, THIN, Type, text_width};
use super::panel::{BarView, PanelView};

/// Radii that a badge may have, mm on paper.
const BADGES: [f64; 3] = [2.5, 1.9, 1.4];

/// Width of a bar across its centre line.
pub(super) fn face_of(bar: &BarView) -> f64 {
    let (a, b) = bar.centre;
    let along = b - a;
    let length = along.hypot();
    if length == 0.0 {
        return 0.0;
    }
    let across = bar.corners.iter().map(|p| along.cross(*p - a) / length);
    let (low, high) = across.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), d| {
        (l.min(d), h.max(d))
    });
    (high - low).max(0.0)
}

/// Puts the class letters on the bars, clear of the joints and of each other. Returns how many bars have
/// no room for one.
pub(super) fn badges(paint: &mut Paint, view: &PanelView, origin: Point) -> usize {
    let Some(radius) = BADGES.into_iter().find(|&r| {
        // The size at which nearly every bar takes one.
        let without = view
            .bars
            .iter()
            .filter(|b| places(b, paint.paper(r)).is_empty())
            .count();
        without * 20 <= view.bars.len()
    }) else {
        return view.bars.len();
    };
    let r = paint.paper(radius);
    let cell = 2.3 * r;
    let key = |p: Point| ((p.x / cell).floor() as i64, (p.y / cell).floor() as i64);
    let mut taken: BTreeMap<(i64, i64), Vec<Point>> = BTreeMap::new();
    let mut unmarked = 0;
    let mut marks = Vec::new();
    for bar in &view.bars {
        let free = places(bar, r).into_iter().find(|&p| {
            let (i, j) = key(p);
            let near = (i - 1..=i + 1).flat_map(|i| (j - 1..=j + 1).map(move |j| (i, j)));
            !near
                .filter_map(|k| taken.get(&k))
                .flatten()
                .any(|&q| (q - p).hypot() < cell)
        });
        match free {
            Some(p) => {
                taken.entry(key(p)).or_default().push(p);
                marks.push((p, bar));
            }
            None => unmarked += 1,
        }
    }
    paint.open_style(INK, THIN, "#ffffff", "class=\"badges\"");
    for (p, _) in &marks {
        paint.circle(Point::new(origin.x + p.x, origin.y - p.y), radius, "");
    }
    paint.close();
    for (p, bar) in marks {
        let size = (1.15 * radius).min(1.42 * radius / text_width(&bar.class, 1.0).max(0.1));
        let kind = Type::new(size).bold().hold(Hold::Middle);
        paint.text_centred(origin.x + p.x, origin.y - p.y, kind, &bar.class);
    }
    unmarked
}

/// Places for a badge of radius `r` on a bar: the middles of the stretches between joints that are long
/// enough, the one nearest to the bar's middle first.
fn places(bar: &BarView, r: f64) -> Vec<Point> {
    let (a, b) = bar.centre;
    let length = (b - a).hypot();
    if length == 0.0 {
        return Vec::new();
    }
    let along = (b - a) / length;
    let mut stops: Vec<f64> = bar.joints.iter().map(|p| along.dot(*p - a)).collect();
    stops.extend([0.0, length]);
    stops.retain(|t| (0.0..=length).contains(t));
    stops.sort_by(f64::total_cmp);
    // Bars that cross at 45 degrees leave sin 45 of the way to the joint.
    let needed = 2.0 * (r + 0.5 * face_of(bar)) / 0.7;
    let mut middles: Vec<f64> = stops
        .windows(2)
        .filter(|w| w[1] - w[0] >= needed)
        .map(|w| 0.5 * (w[0] + w[1]))
        .collect();
    let off = |t: &f64| (t - 0.5 * length).abs();
    middles.sort_by(|s, t| off(s).total_cmp(&off(t)).then(s.total_cmp(t)));
    middles.into_iter().map(|t| a + along * t).collect()
}
