//! Trigonometry in degrees, the same to the bit on every machine (`libm`), and exact at the angles
//! that lattices use most.

/// Sine of `deg` degrees; exact at multiples of 30.
#[must_use]
pub fn sin_deg(deg: f64) -> f64 {
    let d = deg.rem_euclid(360.0);
    let (d, sign) = if d >= 180.0 {
        (d - 180.0, -1.0)
    } else {
        (d, 1.0)
    };
    let d = if d > 90.0 { 180.0 - d } else { d };
    let s = if d == 0.0 {
        0.0
    } else if d == 30.0 {
        0.5
    } else if d == 90.0 {
        1.0
    } else {
        libm::sin(d.to_radians())
    };
    if s == 0.0 { 0.0 } else { sign * s }
}

/// Cosine of `deg` degrees; exact at multiples of 30.
#[must_use]
pub fn cos_deg(deg: f64) -> f64 {
    sin_deg(deg + 90.0)
}

/// Tangent of `deg` degrees.
#[must_use]
pub fn tan_deg(deg: f64) -> f64 {
    sin_deg(deg) / cos_deg(deg)
}

/// Cotangent of `deg` degrees; exactly 0 at 90.
#[must_use]
pub fn cot_deg(deg: f64) -> f64 {
    cos_deg(deg) / sin_deg(deg)
}

/// Angle of the vector (x, y) in degrees, -180 to 180.
#[must_use]
pub fn atan2_deg(y: f64, x: f64) -> f64 {
    libm::atan2(y, x).to_degrees()
}

/// Angle in degrees whose cosine is `c`, with `c` clamped to -1 ..= 1.
#[must_use]
pub fn acos_deg(c: f64) -> f64 {
    libm::acos(c.clamp(-1.0, 1.0)).to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_where_lattices_need_it() {
        assert_eq!(sin_deg(30.0), 0.5, "half a right triangle");
        assert_eq!(cos_deg(90.0), 0.0, "upright bars have no run in x");
        assert_eq!(cos_deg(60.0), 0.5, "three-way crossings");
        assert_eq!(sin_deg(-90.0), -1.0, "sign below the axis");
        assert_eq!(cot_deg(90.0), 0.0, "a square crossing has no skew");
        assert!(
            sin_deg(180.0) == 0.0 && sin_deg(180.0).is_sign_positive(),
            "no minus nought"
        );
    }

    #[test]
    fn agrees_with_the_plain_series() {
        for k in -720..=720 {
            let d = f64::from(k) * 0.7;
            let want = d.to_radians().sin();
            assert!(
                (sin_deg(d) - want).abs() < 1e-12,
                "sine of {d}: {} against {want}",
                sin_deg(d)
            );
        }
    }
}
