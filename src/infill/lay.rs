//! Lays a pattern in a cell: rooms, centre lines, and the regions that ends and seams leave of each piece.

use kurbo::{Point, Vec2};

use super::cells::{Cell, centroid};
use super::fold::Fold;
use super::region::Region;
use super::seam::{Notch, seams};
use crate::geom::{Convex, SAME_FIGURE};
use crate::panel::{EndRule, NamedPoint, PatternPoint, PatternRule};

/// Ends nearer than this meet in one point, mm.
pub(super) const ONE_POINT: f64 = 1e-6;
/// Sides that miss a common circle by less touch it, mm; bars listed by hand carry three decimals.
const ONE_CIRCLE: f64 = 0.01;

/// A piece as laid, before the outline and other bars trim it.
#[derive(Debug, Clone)]
pub(super) struct Laid {
    pub(super) from: Point,
    pub(super) to: Point,
    pub(super) region: Region,
    /// Where it is one half of a hinged piece.
    pub(super) half: Option<Half>,
    /// Where ends are re-entrant, as laid.
    pub(super) notches: Vec<Notch>,
    /// How far along its faces plain ends leave the seam open, or would, mm.
    pub(super) open: f64,
}

impl Laid {
    /// The piece with its re-entrant ends cut plain, or with what that would leave open: those that are still
    /// re-entrant when the outline has trimmed it.
    pub(super) fn with_plain_ends(mut self, plain: bool) -> Self {
        let axis = (self.to - self.from) / (self.to - self.from).hypot();
        for notch in &self.notches {
            let left = self.region.notches();
            if left.iter().all(|p| p.distance(notch.at) > ONE_POINT) {
                continue;
            }
            let offset = notch.cut.dot(notch.at.to_vec2());
            let past = self.region.above(notch.cut, offset);
            let open = past.parts().into_iter().filter(|part| part.is_solid());
            self.open = open
                .map(|part| longest_chord(part, axis))
                .fold(self.open, f64::max);
            if plain {
                self.region = self.region.below(notch.cut, offset);
            }
        }
        self
    }
}

/// The longest stretch of a convex region along a unit vector, mm: one of those through its corners.
fn longest_chord(region: &Convex, along: Vec2) -> f64 {
    let corners = region.corners();
    let own = |p: Point| (along.dot(p.to_vec2()), along.cross(p.to_vec2()));
    let chord = |y: f64| {
        let ends = (0..corners.len()).filter_map(|i| {
            let ((x0, y0), (x1, y1)) = (own(corners[i]), own(corners[(i + 1) % corners.len()]));
            let part = if y0 == y1 { 0.0 } else { (y - y0) / (y1 - y0) };
            ((y0.min(y1) <= y) && (y <= y0.max(y1))).then_some(x0 + part * (x1 - x0))
        });
        let (lo, hi) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), x| {
            (lo.min(x), hi.max(x))
        });
        hi - lo
    };
    let chords = corners.iter().map(|&p| chord(own(p).1));
    chords.fold(0.0, f64::max)
}

/// One half of a hinged piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Half {
    /// Which hinge of the cell, counted through all its rooms.
    pub(super) hinge: usize,
    /// Whether it is the second half.
    pub(super) second: bool,
    /// Where the two halves touch: the line about which they are folded.
    pub(super) fold: Point,
    /// From the fold into this half along its axis.
    pub(super) inwards: Vec2,
    /// How far the two are folded, degrees: 0 is straight.
    pub(super) deg: f64,
}

/// Lays a rule in a cell. Faces are those of the pieces times `face`, mm. With `hinged`, pairs that can be made
/// as one hinged piece are.
///
/// # Errors
/// Why it cannot be laid, in words.
pub(super) fn lay(
    cell: &Cell,
    rule: &PatternRule,
    face: f64,
    hinged: bool,
) -> Result<Vec<Laid>, String> {
    let mut room = cell.room.clone();
    if rule.alternate && !cell.even && !room.is_empty() {
        room.rotate_left(1);
    }
    let mut laid = Vec::new();
    let rooms = match &rule.divide {
        None => vec![room],
        Some(divide) => {
            let (from, to) = (place(&divide.from, &room)?, place(&divide.to, &room)?);
            let axis = axis(from, to)?;
            let normal = Vec2::new(-axis.y, axis.x);
            let (middle, half) = (normal.dot(from.to_vec2()), 0.5 * face * divide.face);
            let whole = Convex::from_corners(room);
            let region = whole.within(normal, middle - half, middle + half).into();
            wide_enough(&region, normal, [middle - half, middle + half])?;
            laid.push(Laid {
                from,
                to,
                region,
                half: None,
                notches: Vec::new(),
                open: 0.0,
            });
            let halves = [
                half_room(&whole, -normal, -middle - half),
                half_room(&whole, normal, middle - half),
            ];
            halves.into_iter().collect::<Result<Vec<_>, _>>()?
        }
    };
    for room in rooms {
        lay_room(&room, rule, face, hinged, &mut laid)?;
    }
    Ok(laid)
}

/// The part of a room where `normal · p <= offset`, its corners counted from the end of the new side on.
fn half_room(room: &Convex, normal: Vec2, offset: f64) -> Result<Vec<Point>, String> {
    let mut corners = tidied(room.below(normal, offset).corners());
    let n = corners.len();
    let on = |p: Point| (normal.dot(p.to_vec2()) - offset).abs() <= ONE_POINT;
    let new = (0..n).find(|&i| on(corners[i]) && on(corners[(i + 1) % n]));
    match new {
        Some(i) if n >= 3 => {
            corners.rotate_left((i + 1) % n);
            Ok(corners)
        }
        _ => Err("the piece that divides it leaves no room beside it".into()),
    }
}

/// Corners without those that lie on the line of their neighbours or on one of them.
pub(super) fn tidied(corners: &[Point]) -> Vec<Point> {
    let mut kept: Vec<Point> = Vec::with_capacity(corners.len());
    for &p in corners {
        if kept.last().is_none_or(|&q| (p - q).hypot() > SAME_FIGURE) {
            kept.push(p);
        }
    }
    while kept.len() > 1 && (kept[0] - kept[kept.len() - 1]).hypot() <= SAME_FIGURE {
        kept.pop();
    }
    let mut i = 0;
    while kept.len() >= 3 && i < kept.len() {
        let n = kept.len();
        let (a, p, b) = (kept[(i + n - 1) % n], kept[i], kept[(i + 1) % n]);
        let off = (p - a).cross(b - a).abs() / (b - a).hypot();
        if off <= SAME_FIGURE && (p - a).dot(b - p) > 0.0 {
            kept.remove(i);
        } else {
            i += 1;
        }
    }
    kept
}

/// A piece keeps its face over some of its length: both its sides are left.
fn wide_enough(region: &Region, normal: Vec2, sides: [f64; 2]) -> Result<(), String> {
    let along = Vec2::new(normal.y, -normal.x);
    let corners = region.corners();
    let whole = sides.iter().all(|side| {
        let on = |p: &&Point| (normal.dot(p.to_vec2()) - side).abs() <= ONE_POINT;
        let places = corners.iter().filter(on);
        let places = places.map(|p| along.dot(p.to_vec2()));
        let (lo, hi) = places.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), s| {
            (lo.min(s), hi.max(s))
        });
        hi - lo > ONE_POINT
    });
    if whole {
        Ok(())
    } else {
        let face = sides[1] - sides[0];
        Err(format!("it is too small for a piece of face {face:.2}"))
    }
}

fn axis(from: Point, to: Point) -> Result<Vec2, String> {
    let d = to - from;
    if d.hypot() <= ONE_POINT {
        return Err("a piece starts where it ends".into());
    }
    Ok(d / d.hypot())
}

/// A piece's centre line and its rules.
pub(super) struct Line {
    pub(super) points: [Point; 2],
    axis: Vec2,
    pub(super) face: f64,
    pub(super) rules: [EndRule; 2],
}

impl Line {
    pub(super) fn normal(&self) -> Vec2 {
        Vec2::new(-self.axis.y, self.axis.x)
    }

    /// Unit vector from an end into the piece.
    pub(super) fn inwards(&self, end: usize) -> Vec2 {
        if end == 0 { self.axis } else { -self.axis }
    }
}

fn lay_room(
    room: &[Point],
    rule: &PatternRule,
    face: f64,
    hinged: bool,
    laid: &mut Vec<Laid>,
) -> Result<(), String> {
    let mut lines = Vec::new();
    for piece in &rule.pieces {
        let turns = if piece.each { room.len() } else { 1 };
        for turn in 0..turns {
            let mut corners = room.to_vec();
            corners.rotate_left(turn);
            let points = [place(&piece.from, &corners)?, place(&piece.to, &corners)?];
            lines.push(Line {
                points,
                axis: axis(points[0], points[1])?,
                face: face * piece.face,
                rules: [piece.start, piece.end],
            });
        }
    }
    let mut folds: Vec<Fold> = Vec::new();
    if hinged {
        for hinge in &rule.hinges {
            folds.push(Fold::of(hinge, room, &lines)?);
        }
    }
    // Hinges of rooms that are laid already.
    let before = laid.iter().filter(|l| l.half.is_some()).count() / 2;
    let whole = Convex::from_corners(room.to_vec());
    for (i, line) in lines.iter().enumerate() {
        let (n, half) = (line.normal(), 0.5 * line.face);
        let middle = n.dot(line.points[0].to_vec2());
        let mut region: Region = whole.within(n, middle - half, middle + half).into();
        let mut notches = Vec::new();
        for end in 0..2 {
            region = match line.rules[end] {
                EndRule::Bar => region,
                EndRule::Seam => match folds.iter().find_map(|f| f.leaves(&region, (i, end))) {
                    Some(left) => left,
                    None => {
                        let (left, notch) = seams(&lines, i, end)?.leave(region, line);
                        notches.extend(notch);
                        left
                    }
                },
                EndRule::Butt => butted(region, &lines, i, end)?,
            };
        }
        wide_enough(&region, n, [middle - half, middle + half])?;
        let [from, to] = line.points;
        let half = folds.iter().enumerate().find_map(|(k, fold)| {
            let (second, end) = fold.half_of(i)?;
            Some(Half {
                hinge: before + k,
                second,
                fold: fold.at,
                inwards: line.inwards(end),
                deg: fold.deg,
            })
        });
        laid.push(Laid {
            from,
            to,
            region,
            half,
            notches,
            open: 0.0,
        });
    }
    Ok(())
}

/// What the face of the piece that runs through its end leaves of a piece.
fn butted(region: Region, lines: &[Line], i: usize, end: usize) -> Result<Region, String> {
    let (at, inwards) = (lines[i].points[end], lines[i].inwards(end));
    let through = lines.iter().enumerate().find(|(j, line)| {
        let from = at - line.points[0];
        let along = line.axis.dot(from);
        let length = (line.points[1] - line.points[0]).hypot();
        *j != i
            && line.normal().dot(from).abs() <= ONE_POINT
            && along > ONE_POINT
            && along < length - ONE_POINT
    });
    let Some((_, other)) = through else {
        return Err("a piece butts where no other runs through".into());
    };
    let towards = other.normal() * other.normal().dot(inwards).signum();
    let offset = towards.dot(at.to_vec2()) + 0.5 * other.face;
    Ok(region.above(towards, offset))
}

/// Where a pattern's point lies in a room.
pub(super) fn place(point: &PatternPoint, room: &[Point]) -> Result<Point, String> {
    let mut sum = Vec2::ZERO;
    let mut weights = 0.0;
    for &(weight, named) in &point.0 {
        sum += named_point(named, room)?.to_vec2() * weight;
        weights += weight;
    }
    Ok((sum / weights).to_point())
}

fn named_point(point: NamedPoint, room: &[Point]) -> Result<Point, String> {
    let corner = |k: usize| {
        let n = room.len();
        let corner = room.get(k.wrapping_sub(1)).copied();
        corner.ok_or_else(|| format!("it has {n} corners, no corner {k}"))
    };
    match point {
        NamedPoint::Corner(k) => corner(k),
        NamedPoint::Middle(k) => Ok(corner(k)?.midpoint(corner(k % room.len().max(1) + 1)?)),
        NamedPoint::Centroid => Ok(centroid(room)),
        NamedPoint::Incentre => incentre(room)
            .ok_or_else(|| "the bisectors of its corners do not meet in one point".into()),
    }
}

/// Where the bisectors of all corners meet (Euclid IV.4): the point as far from every side. Three sides
/// give it, with the distance, by three linear equations; the others must agree.
pub(super) fn incentre(corners: &[Point]) -> Option<Point> {
    let n = corners.len();
    if n < 3 {
        return None;
    }
    // Inward unit normal of each side, and the side's distance from the origin along it.
    let side = |i: usize| {
        let (a, b) = (corners[i], corners[(i + 1) % n]);
        let d = (b - a) / (b - a).hypot();
        let normal = Vec2::new(-d.y, d.x);
        (normal, normal.dot(a.to_vec2()))
    };
    let [(n0, o0), (n1, o1), (n2, o2)] = [side(0), side(1), side(2)];
    // normal · p - r = offset: less the first, r falls out.
    let (a, b) = (n1 - n0, n2 - n0);
    let det = a.cross(b);
    if det.abs() < 1e-12 {
        return None;
    }
    let (s, t) = (o1 - o0, o2 - o0);
    let p = Point::new((s * b.y - t * a.y) / det, (a.x * t - b.x * s) / det);
    let r = n0.dot(p.to_vec2()) - o0;
    let touches = (0..n).all(|i| {
        let (normal, offset) = side(i);
        (normal.dot(p.to_vec2()) - offset - r).abs() <= ONE_CIRCLE
    });
    (r > 0.0 && touches).then_some(p)
}
