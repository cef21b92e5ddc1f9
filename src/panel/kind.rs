//! Which kind of file a text is, by the keys that only one kind has.

use toml::de::DeTable;

use super::SourceKind;
use super::form::excess;

/// Keys at the top of a file that one kind alone has.
const TELLING: [(&str, SourceKind); 7] = [
    ("ground", SourceKind::Panel),
    ("blank", SourceKind::Stock),
    ("travel", SourceKind::Machine),
    ("drives", SourceKind::Post),
    ("gcode", SourceKind::Post),
    ("thickness", SourceKind::Material),
    ("rule", SourceKind::Pattern),
];

/// The kind of a text in which keys of one kind stand, and one of them; `None` where they are of none, or of several.
pub(super) fn kind_of(text: &str) -> Option<(SourceKind, &'static str)> {
    // What goes too deep must not reach the parser.
    if excess(text).is_some() {
        return None;
    }
    let (root, faults) = DeTable::parse_recoverable(text);
    if !faults.is_empty() {
        return None;
    }
    let root = root.get_ref();
    let mut found = TELLING.iter().filter(|(key, _)| root.contains_key(*key));
    let (key, kind) = *found.next()?;
    // Stock has a thickness too.
    let of_one =
        |other| other == kind || (kind, other) == (SourceKind::Stock, SourceKind::Material);
    found
        .all(|(_, other)| of_one(*other))
        .then_some((kind, key))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::BUILTIN;

    #[test]
    fn every_built_in_file_is_of_its_kind() {
        for file in BUILTIN {
            let kind = kind_of(file.text).map(|(kind, _)| kind);
            assert_eq!(kind, Some(file.kind), "{}", file.name);
        }
        for text in [
            "",
            "name = 1",
            "ground = 1\ntravel = 2",
            "blank = [",
            "[[[[[",
        ] {
            assert_eq!(kind_of(text), None, "{text}");
        }
    }
}
