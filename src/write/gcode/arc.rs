//! Arcs on the grid of a dialect's decimals.
//!
//! Start, end and centre are rounded one by one, and with three decimals that alone can part the two
//! radii by 0.0028 mm, more than the 0.002 that a controller takes (0.0002 inch; NISTIR 6556, 3.5.3.2).
//! So the centre is first put where it belongs to the rounded ends, on their middle line, and then
//! rounded: a centre then lies at most half a step off in x and y, and the radii part by at most 1.41
//! steps: 0.0014 mm of three decimals, 0.00014 inch of four. An arc of more
//! than half a turn is refused where rounding would move its far side; contours make none (a bulge is at
//! most 1).

use crate::geom::{Point, Vec2};
use crate::path::{arc_middle, arc_sweep};

use super::At;
use super::number::Grid;

/// What an arc becomes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ArcBlock {
    /// It vanishes on the grid.
    Nothing,
    /// Nothing tells it from a straight cut on the grid.
    Line,
    /// An arc with these steps from its start to its centre.
    Arc([i64; 2]),
}

/// Agreement asked of an arc as planned, mm.
const PLANNED_RADII: f64 = 1e-3;

/// Room for the last bits of a float below the agreement of radii that a controller asks for, mm.
const FLOAT: f64 = 1e-6;

/// How far the middle of the written arc may lie from the planned one, in steps. Each of the ends, and
/// the centre, is off by up to 0.71 of a step, and the radius by their sum.
const MIDDLE_STEPS: f64 = 3.0;

/// Puts an arc on the grid. Fails where no arc on the grid is the one that was planned.
pub(super) fn round_arc(
    grid: Grid,
    from: At,
    to: At,
    centre: Point,
    ccw: bool,
) -> Result<ArcBlock, String> {
    let (r0, r1) = ((from.exact - centre).hypot(), (to.exact - centre).hypot());
    // Written so that what is no number fails too.
    if !((r0 - r1).abs() <= PLANNED_RADII && r0.is_finite()) {
        return Err(format!(
            "the arc's ends lie {r0:.4} and {r1:.4} from its centre"
        ));
    }
    let sweep = arc_sweep(from.exact, to.exact, centre, ccw);
    let less_than_half = sweep <= std::f64::consts::PI + 1e-6;
    if from.cell == to.cell {
        // Written as an arc this would be a full turn.
        if less_than_half || r0 * sweep <= 2.0 * grid.step() {
            return Ok(ArcBlock::Nothing);
        }
        return Err(format!(
            "the arc of radius {r0:.4} ends where it starts; split a full turn in two"
        ));
    }
    let sagitta = r0 * (1.0 - libm::cos(0.5 * sweep));
    let flat = sagitta <= 0.5 * grid.step() || r0 <= 2.0 * grid.step();
    if (less_than_half && flat) || r0 * sweep <= 2.0 * grid.step() {
        return Ok(ArcBlock::Line);
    }
    let point = |[x, y]: [i64; 2]| Point::new(grid.mm(x), grid.mm(y));
    let (start, end) = (point(from.cell), point(to.cell));
    let chord = (end - start).normalize();
    let middle = start.midpoint(end);
    let fair = centre - chord * (centre - middle).dot(chord);
    // Ends of a planned arc are finite and within the grid; a centre may lie far away.
    let steps = |v: f64| grid.cell(v).map_err(|e| format!("the arc's centre {e}"));
    let offset = [steps(fair.x - start.x)?, steps(fair.y - start.y)?];
    let written = start + Vec2::new(grid.mm(offset[0]), grid.mm(offset[1]));
    let (w0, w1) = ((start - written).hypot(), (end - written).hypot());
    let off = (arc_middle(start, end, written, ccw)
        - arc_middle(from.exact, to.exact, centre, ccw))
    .hypot();
    let collapsed = w0.min(w1) < grid.step();
    if collapsed || (w0 - w1).abs() > grid.arc_radii() - FLOAT || off > MIDDLE_STEPS * grid.step() {
        return Err(format!(
            "rounding to {} mm would turn the arc of radius {r0:.4} and {:.3} degrees into another \
             one; split it in two",
            grid.step(),
            sweep.to_degrees()
        ));
    }
    Ok(ArcBlock::Arc(offset))
}

#[cfg(test)]
mod tests {
    use super::super::tests::grid_of;
    use super::*;

    fn at(grid: Grid, p: Point) -> At {
        let cell = |v| grid.cell(v).expect("in range");
        At {
            exact: p,
            cell: [cell(p.x), cell(p.y)],
        }
    }

    /// A plain generator of numbers in 0 .. 1 (Knuth's MMIX constants).
    fn random(seed: &mut u64) -> f64 {
        *seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (*seed >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Reads the rounded arc as NISTIR 6556, 3.5.3.2 says: radii within 0.002 mm, never a full turn. Its
    /// middle is found from half the angle between its ends, as a vector sum, and lies on the planned arc.
    #[test]
    fn arcs_stay_themselves_after_rounding() {
        let mut seed = 7;
        let (mut arcs, mut worst) = (0, 0.0_f64);
        for decimals in [3, 4] {
            let grid = grid_of(decimals).expect("3 or 4");
            for _ in 0..200_000 {
                let radius = libm::exp2(random(&mut seed) * 20.0 - 10.0);
                let sweep = random(&mut seed) * 5.8;
                let first = random(&mut seed) * std::f64::consts::TAU;
                let centre = Point::new(random(&mut seed) * 400.0, random(&mut seed) * 400.0);
                let ccw = random(&mut seed) < 0.5;
                let turn = if ccw { sweep } else { -sweep };
                let on = |a: f64| centre + Vec2::new(libm::cos(a), libm::sin(a)) * radius;
                let (from, to) = (at(grid, on(first)), at(grid, on(first + turn)));
                let point = |[x, y]: [i64; 2]| Point::new(grid.mm(x), grid.mm(y));
                let (start, end) = (point(from.cell), point(to.cell));
                let wanted = on(first + 0.5 * turn);
                let middle = match round_arc(grid, from, to, centre, ccw) {
                    Err(e) => {
                        // Less than half a turn can always be written.
                        assert!(sweep > std::f64::consts::PI, "r {radius}, {sweep}: {e}");
                        continue;
                    }
                    Ok(ArcBlock::Nothing) => {
                        assert_eq!(from.cell, to.cell, "something was lost");
                        start
                    }
                    Ok(ArcBlock::Line) => {
                        assert_ne!(from.cell, to.cell, "a line that goes nowhere");
                        start.midpoint(end)
                    }
                    Ok(ArcBlock::Arc([i, j])) => {
                        arcs += 1;
                        assert_ne!(from.cell, to.cell, "a full turn by accident");
                        let c = start + Vec2::new(grid.mm(i), grid.mm(j));
                        let (a, b) = (start - c, end - c);
                        let apart = (a.hypot() - b.hypot()).abs();
                        worst = worst.max(apart);
                        assert!(apart <= 0.002, "radii {apart} apart at r {radius}");
                        let arms = a.normalize() + b.normalize();
                        if arms.hypot() < 0.1 {
                            // Half a turn: the sum of the arms is too short to point anywhere.
                            continue;
                        }
                        let half = arms.normalize() * a.hypot();
                        if (a.cross(b) > 0.0) == ccw {
                            c + half
                        } else {
                            c - half
                        }
                    }
                };
                let off = (middle - wanted).hypot();
                assert!(
                    off <= 0.003,
                    "r {radius}, sweep {sweep}: the middle is off by {off}"
                );
            }
        }
        assert!(arcs > 200_000, "only {arcs} arcs were tried");
        assert!(worst > 0.0005, "rounding was never seen: {worst}");
    }

    #[test]
    fn an_arc_that_shrinks_to_its_start_is_no_full_turn() {
        let grid = grid_of(3).expect("3");
        let centre = Point::new(10.0, 10.0);
        let from = at(grid, Point::new(10.000_3, 10.0));
        let to = at(grid, Point::new(9.999_7, 10.0));
        assert_eq!(
            round_arc(grid, from, to, centre, true),
            Ok(ArcBlock::Nothing)
        );
    }

    #[test]
    fn a_nearly_full_turn_is_refused() {
        let grid = grid_of(3).expect("3");
        let centre = Point::new(0.0, 0.0);
        let from = at(grid, Point::new(5.0, 0.0));
        let to = at(
            grid,
            Point::new(5.0 * libm::cos(2e-5), -5.0 * libm::sin(2e-5)),
        );
        let said = round_arc(grid, from, to, centre, true).expect_err("a full turn");
        assert!(said.contains("split"), "{said}");
    }

    #[test]
    fn a_shallow_arc_becomes_a_line() {
        let grid = grid_of(3).expect("3");
        // Sagitta chord² / 8r = 0.25 / 800 = 0.0003 mm.
        let centre = Point::new(0.25, -100.0);
        let from = at(grid, Point::new(0.0, 0.0));
        let to = at(grid, Point::new(0.5, 0.0));
        assert_eq!(round_arc(grid, from, to, centre, false), Ok(ArcBlock::Line));
    }

    #[test]
    fn ends_off_the_circle_are_refused() {
        let grid = grid_of(3).expect("3");
        let from = at(grid, Point::new(5.0, 0.0));
        let to = at(grid, Point::new(0.0, 5.01));
        let said = round_arc(grid, from, to, Point::ORIGIN, true).expect_err("5 and 5.01");
        assert!(said.contains("5.0000") && said.contains("5.0100"), "{said}");
    }
}
