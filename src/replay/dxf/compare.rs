//! Whether two contours are the same to within the rounding of a file.

use super::CORNER;
use crate::geom::{Contour, Vertex};

/// Greatest difference of a bulge from the plan.
const BULGE: f64 = 1e-8;

/// Whether a contour of the file is the planned one: same corners and bulges in the same direction; a
/// closed one may start at another corner.
pub(super) fn same(found: &Contour, wanted: &Contour) -> Result<(), String> {
    if found.closed != wanted.closed {
        return Err(if wanted.closed {
            "is open"
        } else {
            "is closed"
        }
        .to_owned());
    }
    let (n, planned) = (found.vertices.len(), wanted.vertices.len());
    if n != planned {
        return Err(format!("has {n} corners, {planned} planned"));
    }
    let at =
        |a: &Vertex, b: &Vertex| off(a.at.x, b.at.x) <= CORNER && off(a.at.y, b.at.y) <= CORNER;
    let first = found.vertices.first();
    let starts: Vec<usize> = match first {
        Some(first) if wanted.closed => {
            // Corners that follow one another lie apart, so that few can stand for the first.
            (0..n)
                .filter(|&k| wanted.vertices.get(k).is_some_and(|w| at(first, w)))
                .collect()
        }
        _ => vec![0],
    };
    let mut wrong = format!("its first corner{} is not planned", place(first));
    for start in starts {
        let turned = wanted.vertices.iter().cycle().skip(start);
        let last = n.saturating_sub(1);
        let bad = found
            .vertices
            .iter()
            .zip(turned)
            .enumerate()
            .find(|&(i, (f, w))| {
                // The last corner of an open contour has no segment.
                let bend = wanted.closed || i < last;
                !at(f, w) || (bend && off(f.bulge, w.bulge) > BULGE) || (!bend && f.bulge != 0.0)
            });
        match bad {
            None => {
                // The corners agree, so the areas can differ by no more than a rim as wide as they do.
                let (a, b) = (found.area(), wanted.area());
                let rim = CORNER * (2.0 + found.length());
                return if (a - b).abs() <= rim {
                    Ok(())
                } else {
                    Err(format!("encloses {a} mm2, {b} planned"))
                };
            }
            Some((i, (f, _))) => {
                wrong = format!("corner {}{} is not planned", i + 1, place(Some(f)))
            }
        }
    }
    Err(wrong)
}

/// Distance of two numbers; without end where one is none.
fn off(a: f64, b: f64) -> f64 {
    let distance = (a - b).abs();
    if distance.is_nan() {
        f64::INFINITY
    } else {
        distance
    }
}

fn place(vertex: Option<&Vertex>) -> String {
    vertex.map_or(String::new(), |v| {
        format!(" ({}, {}, bulge {})", v.at.x, v.at.y, v.bulge)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use kurbo::Point;

    fn triangle(bulge: f64) -> Contour {
        let mut c = Contour::polygon([(0.0, 0.0), (9.0, 0.0), (9.0, 9.0)].map(Point::from));
        c.vertices[1].bulge = bulge;
        c
    }

    #[test]
    fn a_closed_contour_may_start_elsewhere_but_not_run_back() {
        let mut turned = triangle(0.25);
        turned.vertices.rotate_left(2);
        assert_eq!(
            same(&turned, &triangle(0.25)),
            Ok(()),
            "the same path from another corner"
        );
        let mut back = triangle(0.0);
        back.vertices.reverse();
        assert!(
            same(&back, &triangle(0.0)).is_err(),
            "the waste would lie on the other side"
        );
    }

    #[test]
    fn corners_and_bulges_are_held_to_their_tolerance() {
        for (dx, db, fits) in [
            (4e-7, 0.0, true),
            (2e-6, 0.0, false),
            (0.0, 4e-9, true),
            (0.0, 2e-8, false),
        ] {
            let mut c = triangle(0.25 + db);
            c.vertices[2].at.x += dx;
            assert_eq!(
                same(&c, &triangle(0.25)).is_ok(),
                fits,
                "off by {dx} mm, bulge by {db}"
            );
        }
        let mut nan = triangle(0.25);
        nan.vertices[1].bulge = f64::NAN;
        assert!(
            same(&nan, &triangle(0.25)).is_err(),
            "not a number is no bulge"
        );
    }
}
