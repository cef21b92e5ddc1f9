//! What the head sweeps between two pieces that stay joined end to end: a groove from end to end, half as
//! deep as the stock, and nothing of the wood below it.

use kurbo::Rect;

use super::intended::{Complaint, Sweeps};
use super::region::Region;
use super::slab::{SweptMove, heights, largest, slabs};
use crate::geom::REPLAY;
use crate::setup::Parting;

/// The gap between the ends with the waste on either side that the cut round the pieces takes, in the
/// sheet's frame.
pub(super) fn window(parting: &Parting, r: f64) -> Rect {
    let margin = 2.0 * r - 0.01_f64.min(0.2 * r);
    parting.groove.inflate(0.0, margin)
}

/// Compares what the cuts leave of a parting place with what is planned; `near` are the cuts in the
/// groove's own frame.
///
/// Above the groove's floor nothing may stand between the ends; below it nothing of the bridge may be cut,
/// and nothing but the bridge may stand, within [`REPLAY`].
pub(super) fn prove(
    parting: &Parting,
    near: &[SweptMove],
    sweeps: Sweeps,
    r: f64,
    thickness: f64,
) -> Result<(), Complaint> {
    let origin = parting.groove.origin().to_vec2();
    let [all, groove, bridge] =
        [window(parting, r), parting.groove, parting.bridge].map(|rect| rect - origin);
    let inner = |rect: Rect| Region::rect(rect.inflate(-REPLAY, 0.0));
    let whole = inner(all);
    // What the cut round the pieces takes beside the bars.
    let beside = whole.minus(&Region::rect(groove.inflate(0.0, REPLAY)));
    let core = Region::rect(bridge.inflate(0.0, -REPLAY));
    let floor = parting.floor;
    let mut looked = false;
    for (bottom, top) in slabs(heights(near), thickness) {
        looked = true;
        let [cut_for_sure, cut_at_most] = sweeps.swept(near, bottom, |swept| swept);
        let between = format!("between z {bottom:.3} and {top:.3}");
        let (above, below) = (bottom >= floor - REPLAY, top <= floor + REPLAY);
        let (must_go, must_stand) = if above && below {
            // Within the tolerance of the floor: either way will do.
            (&beside, None)
        } else if above {
            (&whole, None)
        } else if below {
            (&beside, Some(&core))
        } else {
            return Err(Complaint {
                rule: "groove-depth",
                at: groove.center(),
                what: format!("no cut ends at the groove's floor, z {floor:.3}"),
            });
        };
        if let Some((at, area)) = largest(&must_go.minus(&cut_for_sure)) {
            return Err(Complaint {
                rule: "groove-cut",
                at,
                what: format!("{area:.4} mm2 would be left standing {between}"),
            });
        }
        if let Some((at, area)) = must_stand.and_then(|core| largest(&core.both(&cut_at_most))) {
            return Err(Complaint {
                rule: "groove-depth",
                at,
                what: format!(
                    "{area:.4} mm2 of the wood that joins the pieces would be cut away {between}"
                ),
            });
        }
    }
    if looked {
        Ok(())
    } else {
        Err(Complaint {
            rule: "compared",
            at: groove.center(),
            what: "there is no height at which the groove could be looked at".into(),
        })
    }
}
