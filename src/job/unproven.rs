//! A job whose checks have passed and whose files do not prove true: a fault of this program, told as one.

use std::collections::BTreeSet;
use std::fmt;

use crate::panel::SourceFile;

/// What the replay refused after all checks had passed. No file has been written.
#[derive(Debug, Clone, PartialEq)]
pub struct Unproven {
    /// What is wrong, each with the path of its file.
    pub faults: Vec<String>,
    /// The rules that are broken, as the faults name them.
    pub rules: BTreeSet<&'static str>,
    /// The files that the job was made from, as a job folder would name them.
    pub sources: Vec<String>,
}

impl Unproven {
    /// The faults and rules of a replay of a job made from these files.
    pub(super) fn of(
        faults: Vec<String>,
        rules: BTreeSet<&'static str>,
        sources: &[SourceFile],
    ) -> Self {
        Self {
            faults,
            rules,
            sources: sources.iter().map(|source| source.name.clone()).collect(),
        }
    }

    /// What to change meanwhile: the keys that bear on the broken rules, the most telling first.
    fn meanwhile(&self) -> Vec<&'static str> {
        let mut ways: Vec<&'static str> = Vec::new();
        for way in self.rules.iter().map(|rule| way_round(rule)) {
            if !ways.contains(&way) {
                ways.push(way);
            }
        }
        // What bears on any program stands for itself only where nothing nearer is known.
        if ways.len() > 1 {
            ways.retain(|way| *way != ANY);
        }
        ways
    }
}

/// What may help whatever the rule.
const ANY: &str = "another `post_processor`, or a built-in one in place of your own";

/// The key that bears on a rule of the replay.
fn way_round(rule: &str) -> &'static str {
    match rule {
        "groove-cut" | "groove-depth" => {
            "another `relief` in [cut], a smaller `hold_length` in the machine file, or a longer `overhang`, so that \
             fewer pieces stay joined"
        }
        "hold-stands" => {
            "another `tab_width` or `bridge_width` in the material file, or a longer `overhang`"
        }
        "piece-whole" | "waste-removed" => {
            "another `relief` or `clearance` in [cut], or a side of the `outline` a little further from the joints"
        }
        "bed-whole" => "no `sticks.bed`",
        "fence-cut" | "fence-whole" | "rail-cut" | "rail-end" | "rail-whole" | "hold-clear" => {
            "a smaller `sticks.gang`, or another `lead` and `tail` in [sticks]"
        }
        rule if rule.starts_with("dxf-") => "another `dxf_version` or `dxf` in [cut]",
        _ => ANY,
    }
}

impl fmt::Display for Unproven {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        /// So many findings tell the story; more would hide it.
        const SHOWN: usize = 20;
        write!(
            f,
            "a fault of this program: all checks passed, but the files it made do not prove true; no file was written"
        )?;
        for line in self.faults.iter().take(SHOWN) {
            write!(f, "\n  {line}")?;
        }
        if self.faults.len() > SHOWN {
            write!(f, "\n  and {} more", self.faults.len() - SHOWN)?;
        }
        write!(
            f,
            "\n  what to send to those who look after it: this message, the panel file with all files that it names \
             ({}), and the version, lapwright {}",
            self.sources.join(", "),
            env!("CARGO_PKG_VERSION")
        )?;
        for way in self.meanwhile() {
            write!(f, "\n  what may help meanwhile: {way}")?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(rules: &[&'static str], faults: usize) -> String {
        let unproven = Unproven {
            faults: (0..faults).map(|n| format!("fault {n}")).collect(),
            rules: rules.iter().copied().collect(),
            sources: vec!["panel.toml".into(), "machine.toml".into()],
        };
        unproven.to_string()
    }

    #[test]
    fn what_was_found_what_to_send_and_what_to_change_are_told() {
        let text = told(&["groove-depth"], 2);
        for part in [
            "a fault of this program",
            "no file was written",
            "fault 0",
            "fault 1",
            "panel.toml, machine.toml",
            env!("CARGO_PKG_VERSION"),
            "meanwhile: another `relief`",
            "`hold_length`",
        ] {
            assert!(text.contains(part), "{part}: {text}");
        }
        assert!(told(&["off-plan"], 21).contains("and 1 more"));
    }

    #[test]
    fn every_rule_has_a_way_round_and_each_is_told_once() {
        assert!(told(&["never-heard-of"], 1).contains("`post_processor`"));
        let text = told(&["groove-cut", "groove-depth", "off-plan", "dxf-note"], 1);
        assert_eq!(text.matches("meanwhile").count(), 2, "{text}");
    }
}
