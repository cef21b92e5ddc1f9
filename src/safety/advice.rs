//! What helps where a check fails, in the workshop's words.

/// What to change where the check of this id fails; plain text, one line. Empty for an id that is none
/// of [`super::IDS`].
#[must_use]
pub fn advice(id: &str) -> &'static str {
    match id {
        "bridges" => {
            "more or wider `bridges` in the material file, or longer pieces that have room for them"
        }
        "chip-load" => "a feed and a spindle speed that go together, in the material file",
        "corner-fillet" => {
            "relief = \"corner\", or a narrower tool or kerf; in notches more clearance helps too"
        }
        "cut-feed" => "a `feed` in the material file within the machine's range",
        "flush" => "sticks planed to one depth, or the panel's faces planed after glue-up",
        "flute-length" => "a cutter with longer flutes, or thinner stock",
        "gap" => "nothing in the panel file: the cut shapes are looser than the drawn ones",
        "hold-force" => {
            "in the material file more, wider or higher tabs, a smaller `pass_depth` or `feed`, or \
             `hold_strength` and `cutting_force` as measured"
        }
        "hold-length" => {
            "longer pieces (overhang, fewer cuts), or a way to hold shorter ones: too few pieces that can \
             be joined end to end, or stock too short for them"
        }
        "infill-end" => {
            "cut = \"outlines\" in [infill], which makes re-entrant ends; faces nearer to each other; or \
             plain_ends = true, which accepts that the seam stays open there"
        }
        "interference" => "more clearance; the cut shapes overlap when they are put together",
        "laser-power" => {
            "a `power_percent` in the material file, for its `watts`, within the laser's range"
        }
        "member-held" => "an outline further out: this bar would cross no other and fall out",
        "opening" => {
            "bars that cross square, a material with tight_joints = false, or loose_joints = true in \
             [cut] to accept the openings"
        }
        "groove-wood" => "thicker stock, or longer pieces that need not be joined end to end",
        "parting" => {
            "a smaller `sticks.gang`, more clearance, or truer figures as measured: taper in the material file; \
             fence_error_deg, square_error_deg or apex_error, rail_bow, seating in the machine file"
        }
        "pass-depth" => "a smaller `pass_depth` in the material file",
        "play" => "a smaller clearance: the bars would rattle in their notches",
        "plunge-feed" => "a smaller `plunge_feed` in the material file",
        "press" => "a clearance that presses no harder than the material's `press`",
        "reach" => {
            "`zero`, `bed` and `travel` in the machine file as the machine has them; shorter stock (cut flat), a \
             shorter `sticks.limit`, a smaller `sticks.gang` or thinner rails (edge up); for z, less `safe_height`"
        }
        "replay" => "nothing in the panel file: the written file does not cut what was planned",
        "safe-height" => "a greater `safe_height` in the machine file, or lower clamps",
        "seat" => "relief = \"floor\", or a narrower tool: bars would close past flush",
        "section" => "a greater depth: every bar keeps a share of it at a joint",
        "short-member" => "a side further out, so that no bar is cut off so short",
        "slot-width" => "a narrower tool or beam, thicker stock, or more clearance",
        "spin-up" => "a longer `spin_up_s` in the machine file",
        "spindle-speed" => "a `speed_rpm` in the material file within the machine's range",
        "spread" => {
            "sticks or stock that have measured more alike, or a smaller clearance: thin bars are loose in \
             notches for thick ones"
        }
        "stick-depth" => "plane the sticks that are off, or leave them out, and measure again",
        "stick-out" => "a cutter that stands further out of the collet, or lower clamps",
        "strip" => "a greater `gap` in the material file",
        "tabs" => {
            "in the material file more or wider tabs, or a `tab_height` between `least_tab_height` and three quarters \
             of the stock; or longer pieces that have room for them, or thicker stock"
        }
        "web" => "a greater pitch, thinner bars, or a side further from the joints",
        "wedge" => "faces nearer to each other: a sliver between two notches would break off",
        "batten-height" => {
            "a batten_height in the machine file between half the sticks' depth and 0.3 mm less than all of it"
        }
        "bed" => "a smaller `sticks.bed`, or a greater `spoil` in the machine file",
        "fence-angle" => {
            "bars that cross at an angle that the fence takes (fence_deg in the machine file)"
        }
        "gang-slender" => {
            "shorter sticks (`sticks.limit`), more sticks in a gang, or thicker rails"
        }
        "gang-width" => {
            "a smaller `sticks.gang`, or wider clamps (clamp_width in the machine file)"
        }
        "hold-room" => {
            "a longer lead and tail in [sticks], or narrower bars (hold_width in the machine file)"
        }
        "mark-room" => {
            "a longer lead in [sticks], or an overhang: the orientation mark finds no place beside hold and \
             notches where it would not show"
        }
        "rail-length" => {
            "longer battens (rail_length in the machine file), or shorter sticks (`sticks.limit`)"
        }
        "rail" => "thicker rails (rail in the machine file), or a narrower tool",
        _ => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::safety::IDS;

    #[test]
    fn every_check_says_what_helps() {
        for id in IDS {
            assert!(!advice(id).is_empty(), "{id} needs its line of advice");
        }
        assert!(advice("no-such-check").is_empty(), "an unknown id is empty");
    }
}
