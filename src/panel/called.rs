//! What makers call their panels, machines, materials, stock and patterns.

use super::reader::Table;
use crate::letters::short_name;

impl Table<'_> {
    /// What the maker calls the thing that the file tells of: one line of text with a letter or a digit, for
    /// programs keep no other signs.
    pub(super) fn name(&mut self) -> String {
        let text = self.line("name");
        if !text.is_empty() && short_name(&text).is_none() {
            let hint = "programs and file names keep letters and digits alone: use at least one";
            self.fault("name", "`name` has neither letter nor digit", hint);
        }
        text
    }
}
