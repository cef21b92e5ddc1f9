//! What helps where a check fails, in the workshop's words.

use super::check_id::CheckId;

/// What to change where this check fails; plain text, one line.
#[must_use]
pub fn advice(id: CheckId) -> &'static str {
    match id {
        CheckId::Bridges => {
            "more or wider `bridges` in the material file, or longer pieces that have room for them"
        }
        CheckId::ChipLoad => "a feed and a spindle speed that go together, in the material file",
        CheckId::CornerFillet => {
            "relief = \"corner\", or a narrower tool or kerf; in notches more clearance helps too"
        }
        CheckId::CutFeed => "a `feed` in the material file within the machine's range",
        CheckId::Flush => "sticks planed to one depth, or the panel's faces planed after glue-up",
        CheckId::FluteLength => "a cutter with longer flutes, or thinner stock",
        CheckId::Gap => "nothing in the panel file: the cut shapes are looser than the drawn ones",
        CheckId::HoldForce => {
            "in the material file more, wider or higher tabs, a smaller `pass_depth` or `feed`, or \
             `hold_strength` and `cutting_force` as measured"
        }
        CheckId::HoldLength => {
            "longer pieces (overhang, fewer cuts), or a way to hold shorter ones: too few pieces that can \
             be joined end to end, or stock too short for them"
        }
        CheckId::InfillEnd => {
            "cut = \"outlines\" in [infill], which makes re-entrant ends; faces nearer to each other; or \
             plain_ends = true, which accepts that the seam stays open there"
        }
        CheckId::Interference => {
            "more clearance; the cut shapes overlap when they are put together"
        }
        CheckId::LaserPower => {
            "a `power_percent` in the material file, for its `watts`, within the laser's range"
        }
        CheckId::MemberHeld => "an outline further out: this bar would cross no other and fall out",
        CheckId::Opening => {
            "bars that cross square, a material with tight_joints = false, or loose_joints = true in \
             [cut] to accept the openings"
        }
        CheckId::GrooveWood => "thicker stock, or longer pieces that need not be joined end to end",
        CheckId::Parting => {
            "a smaller `sticks.gang`, more clearance, or truer figures as measured: taper in the material file; \
             fence_error_deg, square_error_deg or apex_error, rail_bow, seating in the machine file"
        }
        CheckId::PassDepth => "a smaller `pass_depth` in the material file",
        CheckId::Play => "a smaller clearance: the bars would rattle in their notches",
        CheckId::PlungeFeed => "a smaller `plunge_feed` in the material file",
        CheckId::Press => "a clearance that presses no harder than the material's `press`",
        CheckId::Reach => {
            "`zero`, `bed` and `travel` in the machine file as the machine has them; shorter stock (cut flat), a \
             shorter `sticks.limit`, a smaller `sticks.gang` or thinner rails (edge up); for z, less `safe_height`"
        }
        CheckId::Replay => {
            "nothing in the panel file: the written file does not cut what was planned"
        }
        CheckId::SafeHeight => "a greater `safe_height` in the machine file, or lower clamps",
        CheckId::Seat => "relief = \"floor\", or a narrower tool: bars would close past flush",
        CheckId::Section => "a greater depth: every bar keeps a share of it at a joint",
        CheckId::ShortMember => "a side further out, so that no bar is cut off so short",
        CheckId::SlotWidth => "a narrower tool or beam, thicker stock, or more clearance",
        CheckId::SpinUp => "a longer `spin_up_s` in the machine file",
        CheckId::SpindleSpeed => "a `speed_rpm` in the material file within the machine's range",
        CheckId::Spread => {
            "sticks or stock that have measured more alike, or a smaller clearance: thin bars are loose in \
             notches for thick ones"
        }
        CheckId::StickDepth => {
            "plane the sticks that are off, or leave them out, and measure again"
        }
        CheckId::StickOut => "a cutter that stands further out of the collet, or lower clamps",
        CheckId::Strip => "a greater `gap` in the material file",
        CheckId::Tabs => {
            "in the material file more or wider tabs, or a `tab_height` between `least_tab_height` and three quarters \
             of the stock; or longer pieces that have room for them, or thicker stock"
        }
        CheckId::Web => "a greater pitch, thinner bars, or a side further from the joints",
        CheckId::Wedge => {
            "faces nearer to each other: a sliver between two notches would break off"
        }
        CheckId::BattenHeight => {
            "a batten_height in the machine file between half the sticks' depth and 0.3 mm less than all of it"
        }
        CheckId::Bed => "a smaller `sticks.bed`, or a greater `spoil` in the machine file",
        CheckId::FenceAngle => {
            "bars that cross at an angle that the fence takes (fence_deg in the machine file)"
        }
        CheckId::GangSlender => {
            "shorter sticks (`sticks.limit`), more sticks in a gang, or thicker rails"
        }
        CheckId::GangWidth => {
            "a smaller `sticks.gang`, or wider clamps (clamp_width in the machine file)"
        }
        CheckId::HoldRoom => {
            "a longer lead and tail in [sticks], or narrower bars (hold_width in the machine file)"
        }
        CheckId::MarkRoom => {
            "a longer lead in [sticks], or an overhang: the orientation mark finds no place beside hold and \
             notches where it would not show"
        }
        CheckId::RailLength => {
            "longer battens (rail_length in the machine file), or shorter sticks (`sticks.limit`)"
        }
        CheckId::PathMode => {
            "path_mode = \"exact\" in [words] of the post-processor file, and G61 in its begin"
        }
        CheckId::Rail => "thicker rails (rail in the machine file), or a narrower tool",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_check_says_what_helps() {
        for id in CheckId::ALL {
            assert!(!advice(*id).is_empty(), "{id} needs its line of advice");
        }
    }
}
