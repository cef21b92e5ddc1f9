//! Completes what the `dxf` crate saves to a whole R2000 file.
//!
//! The crate leaves out the handles of table heads, all owners (330), the BLOCKS section and the root
//! dictionary, writes a DIMSTYLE's handle under 5 in place of 105, and writes pointers to nothing (DXF
//! reference: TABLES, BLOCKS and OBJECTS sections, group 5/105/330). Its header takes dates from the
//! clock and two identifiers from chance, and its tables have rows that belong to one program; of header and tables
//! only what the reference asks for, and what has a meaning here, is kept.

use std::fmt::Write as _;

use crate::letters::western_bytes;

/// Header variables that are kept (DXF reference, HEADER section).
const HEADER: [&str; 10] = [
    "$ACADVER",
    "$DWGCODEPAGE",
    "$INSBASE",
    "$EXTMIN",
    "$EXTMAX",
    "$LIMMIN",
    "$LIMMAX",
    "$HANDSEED",
    "$MEASUREMENT",
    "$INSUNITS",
];

/// The nine tables of R2000 (DXF reference, TABLES section).
const TABLES: [&str; 9] = [
    "VPORT",
    "LTYPE",
    "LAYER",
    "STYLE",
    "VIEW",
    "UCS",
    "APPID",
    "DIMSTYLE",
    "BLOCK_RECORD",
];

/// Tables of which one row alone is asked for, and its name (DXF reference: the application's own name, and what texts
/// and dimensions are drawn in where nothing else is said).
const ONE_ROW: [(&str, &str); 3] = [
    ("APPID", "ACAD"),
    ("STYLE", "STANDARD"),
    ("DIMSTYLE", "STANDARD"),
];

/// What the crate writes a letter beyond ASCII as, with four hexadecimal digits after it.
const LETTER: &str = "\\U+";

/// Model space and paper space: the names of their block records as the crate writes them.
const SPACES: [&str; 2] = ["*MODEL_SPACE", "*PAPER_SPACE"];

/// A group code and its value, without blanks around it where it is no text.
pub(super) type Pair<'a> = (i32, &'a str);

/// Completes the text that the crate saved.
///
/// # Errors
/// Says what is unlike anything that the crate has been seen to write.
pub(super) fn complete(saved: &[u8]) -> Result<Vec<u8>, &'static str> {
    let text = std::str::from_utf8(saved).map_err(|_| "the saved text is not UTF-8")?;
    let handles = Handles::new(text)?;
    // Every entity gets an owner, one line in a dozen or fewer.
    let mut out = Out(String::with_capacity(saved.len() / 8 * 9 + 8192));
    let mut section = "";
    let mut tables = Vec::with_capacity(TABLES.len());
    for record in records(text) {
        let record = &record?[..];
        let second = record.get(1).map_or("", |pair| pair.1);
        match record.first().map_or("", |head| head.1) {
            "SECTION" => {
                section = second;
                match section {
                    "HEADER" => header(&mut out, record, &handles),
                    "ENTITIES" => {
                        blocks(&mut out, &handles);
                        out.all(record);
                    }
                    "OBJECTS" => {
                        out.all(record);
                        dictionaries(&mut out, &handles);
                    }
                    _ => out.all(record),
                }
            }
            "ENDSEC" => {
                if section == "TABLES" {
                    for name in TABLES.into_iter().filter(|name| !tables.contains(name)) {
                        table_head(&mut out, name, &handles)?;
                        out.pair(0, "ENDTAB");
                    }
                }
                out.all(record);
            }
            "TABLE" => {
                let known = TABLES.into_iter().find(|name| *name == second);
                let name = known.ok_or("the saved text holds an unknown table")?;
                tables.push(name);
                table_head(&mut out, name, &handles)?;
            }
            "ENDTAB" | "EOF" => out.all(record),
            kind if section == "TABLES" && is_dropped(kind, record) => {}
            kind if section == "TABLES" => {
                let owner = handles.table(tables.last().copied().unwrap_or_default())?;
                let code = if kind == "DIMSTYLE" { 105 } else { 5 };
                owned(&mut out, record, code, &owner);
            }
            _ if section == "ENTITIES" => owned(&mut out, record, 5, &handles.spaces[0]),
            _ => return Err("the saved text holds a record in an unknown place"),
        }
    }
    in_code_page(out.0)
}

/// Whether a row is of a table of which another one alone is asked for.
fn is_dropped(table: &str, row: &[Pair<'_>]) -> bool {
    let mut known = ONE_ROW.iter();
    known.any(|&(name, row_name)| name == table && !row.contains(&(2, row_name)))
}

/// A pair, or what is wrong with it.
type Read<'a> = Result<Pair<'a>, &'static str>;

fn pairs(text: &str) -> impl Iterator<Item = Read<'_>> {
    let mut lines = text.lines();
    std::iter::from_fn(move || {
        let code = lines.next()?;
        let Ok(code) = code.trim().parse() else {
            return Some(Err("the saved text holds a broken group code"));
        };
        let Some(value) = lines.next() else {
            return Some(Err("the saved text ends within a pair"));
        };
        // Group codes 60 to 79 and 90 to 99, 270 to 289 and 370 to 389 are whole numbers, padded.
        let number = matches!(code, 60..=79 | 90..=99 | 160..=179 | 270..=289 | 370..=389);
        Some(Ok((code, if number { value.trim() } else { value })))
    })
}

pub(super) fn split(text: &str) -> Result<Vec<Pair<'_>>, &'static str> {
    pairs(text).collect()
}

/// What lies between one group 0 and the next, one at a time: a drawing may have millions of pairs.
fn records(text: &str) -> impl Iterator<Item = Result<Vec<Pair<'_>>, &'static str>> {
    let mut pairs = pairs(text).peekable();
    std::iter::from_fn(move || {
        let mut record = Vec::new();
        let goes_on = |next: &Read<'_>| !matches!(next, Ok((0, _)));
        let mut next = pairs.next();
        while let Some(pair) = next {
            match pair {
                Ok(pair) => record.push(pair),
                Err(e) => return Some(Err(e)),
            }
            next = pairs.next_if(goes_on);
        }
        (!record.is_empty()).then_some(Ok(record))
    })
}

/// Bytes of the code page that the header names, for letters that the crate has written as numbers: no text of ours
/// begins a code.
fn in_code_page(text: String) -> Result<Vec<u8>, &'static str> {
    if text.is_ascii() && !text.contains(LETTER) {
        return Ok(text.into_bytes());
    }
    let mut parts = text.split(LETTER);
    let mut whole = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let letter = part.split_at_checked(4).and_then(|(digits, rest)| {
            let number = u32::from_str_radix(digits, 16).ok()?;
            Some((char::from_u32(number)?, rest))
        });
        let (letter, rest) = letter.ok_or("the saved text holds a broken letter")?;
        whole.push(letter);
        whole.push_str(rest);
    }
    western_bytes(&whole).ok_or("the saved text holds a letter that its code page lacks")
}

/// Handles of what is there and of what is added: none is given twice.
struct Handles {
    first: u64,
    /// Block records of model and paper space.
    spaces: [String; 2],
}

impl Handles {
    fn new(text: &str) -> Result<Self, &'static str> {
        let mut greatest = 0;
        let mut spaces = [None, None];
        let mut in_header = false;
        for record in records(text) {
            let record = record?;
            if record.first() == Some(&(0, "SECTION")) {
                in_header = record.get(1) == Some(&(2, "HEADER"));
            }
            let found = record
                .iter()
                .find(|pair| pair.0 == 5)
                .filter(|_| !in_header);
            let Some(&(_, handle)) = found else { continue };
            let number = u64::from_str_radix(handle, 16);
            greatest = greatest.max(number.map_err(|_| "the saved text holds a broken handle")?);
            if record.first() == Some(&(0, "BLOCK_RECORD")) {
                for (space, name) in spaces.iter_mut().zip(SPACES) {
                    if record.contains(&(2, name)) {
                        *space = Some(handle.to_owned());
                    }
                }
            }
        }
        match spaces {
            [Some(model), Some(paper)] => Ok(Self {
                first: greatest + 1,
                spaces: [model, paper],
            }),
            _ => Err("the saved text holds no block record of model or paper space"),
        }
    }

    fn nth(&self, n: u64) -> String {
        format!("{:X}", self.first + n)
    }

    fn table(&self, name: &str) -> Result<String, &'static str> {
        let at = TABLES.iter().position(|known| *known == name);
        at.map(|n| self.nth(n as u64))
            .ok_or("the saved text holds a record outside of a table")
    }

    /// BLOCK and ENDBLK of the space with this number.
    fn block(&self, space: u64) -> [String; 2] {
        [self.nth(9 + 2 * space), self.nth(10 + 2 * space)]
    }

    /// Root dictionary and its dictionary of groups.
    fn dictionaries(&self) -> [String; 2] {
        [self.nth(13), self.nth(14)]
    }

    /// The next free one.
    fn seed(&self) -> String {
        self.nth(15)
    }
}

/// The text as it grows.
pub(super) struct Out(pub(super) String);

impl Out {
    pub(super) fn pair(&mut self, code: i32, value: &str) {
        // Writing to a `String` cannot fail.
        let _ = write!(self.0, "{code:>3}\r\n{value}\r\n");
    }

    pub(super) fn all(&mut self, record: &[Pair<'_>]) {
        record
            .iter()
            .for_each(|&(code, value)| self.pair(code, value));
    }
}

fn header(out: &mut Out, record: &[Pair<'_>], handles: &Handles) {
    let mut keep = true;
    let mut seed = false;
    for &(code, value) in record {
        if code == 9 {
            keep = HEADER.contains(&value);
            seed = value == "$HANDSEED";
        }
        if keep && seed && code == 5 {
            out.pair(code, &handles.seed());
        } else if keep {
            out.pair(code, value);
        }
    }
}

fn table_head(out: &mut Out, name: &str, handles: &Handles) -> Result<(), &'static str> {
    out.pair(0, "TABLE");
    out.pair(2, name);
    out.pair(5, &handles.table(name)?);
    out.pair(330, "0");
    out.pair(100, "AcDbSymbolTable");
    out.pair(70, "0");
    if name == "DIMSTYLE" {
        out.pair(100, "AcDbDimStyleTable");
    }
    Ok(())
}

/// A table record or entity: its handle under `code`, its owner after it, no pointers to nothing.
fn owned(out: &mut Out, record: &[Pair<'_>], code: i32, owner: &str) {
    for &(group, value) in record {
        match group {
            5 => {
                out.pair(code, value);
                out.pair(330, owner);
            }
            // Pointers and line weights: 0 stands for "not set".
            320..=399 if value.is_empty() || value == "0" => {}
            _ => out.pair(group, value),
        }
    }
}

fn blocks(out: &mut Out, handles: &Handles) {
    out.all(&[(0, "SECTION"), (2, "BLOCKS")]);
    for ((space, owner), name) in (0..).zip(&handles.spaces).zip(SPACES) {
        let [begin, end] = handles.block(space);
        out.all(&[(0, "BLOCK"), (5, &begin), (330, owner), (100, "AcDbEntity")]);
        if space == 1 {
            out.pair(67, "1");
        }
        out.all(&[(8, "0"), (100, "AcDbBlockBegin"), (2, name), (70, "0")]);
        out.all(&[(10, "0.0"), (20, "0.0"), (30, "0.0"), (3, name), (1, "")]);
        out.all(&[(0, "ENDBLK"), (5, &end), (330, owner), (100, "AcDbEntity")]);
        if space == 1 {
            out.pair(67, "1");
        }
        out.all(&[(8, "0"), (100, "AcDbBlockEnd")]);
    }
    out.pair(0, "ENDSEC");
}

fn dictionaries(out: &mut Out, handles: &Handles) {
    let [root, groups] = handles.dictionaries();
    out.all(&[
        (0, "DICTIONARY"),
        (5, &root),
        (330, "0"),
        (100, "AcDbDictionary"),
        (281, "1"),
    ]);
    out.all(&[(3, "ACAD_GROUP"), (350, &groups)]);
    out.all(&[
        (0, "DICTIONARY"),
        (5, &groups),
        (330, &root),
        (100, "AcDbDictionary"),
        (281, "1"),
    ]);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn completed() -> String {
        let mut drawing = ::dxf::Drawing::new();
        drawing.header.version = ::dxf::enums::AcadVersion::R2000;
        let mut saved = Vec::new();
        assert!(drawing.save(&mut saved).is_ok(), "an empty drawing");
        let Ok(bytes) = complete(&saved) else {
            unreachable!("what the crate saves is known")
        };
        String::from_utf8(bytes).unwrap_or_default()
    }

    #[test]
    fn clock_and_chance_are_left_out() {
        let text = completed();
        // DXF reference, HEADER: $TD... are dates, $...GUID identifiers.
        assert!(!text.contains("$TD") && !text.contains("GUID"), "{text}");
        assert_eq!(text, completed(), "the same drawing twice");
    }

    /// DXF reference, TABLES: what every file has; nothing of any one program.
    #[test]
    fn tables_have_the_rows_that_are_asked_for_alone() {
        let text = completed();
        let Ok(pairs) = split(&text) else {
            unreachable!("we wrote it")
        };
        let rows: Vec<(&str, &str)> = pairs
            .chunk_by(|_, next| next.0 != 0)
            .filter(|record| record.contains(&(100, "AcDbSymbolTableRecord")))
            .map(|record| {
                let name = record.iter().find(|pair| pair.0 == 2);
                (record[0].1, name.map_or("", |pair| pair.1))
            })
            .collect();
        let wanted = [
            ("APPID", "ACAD"),
            ("BLOCK_RECORD", "*MODEL_SPACE"),
            ("BLOCK_RECORD", "*PAPER_SPACE"),
            ("DIMSTYLE", "STANDARD"),
            ("LTYPE", "BYBLOCK"),
            ("LTYPE", "BYLAYER"),
            ("LTYPE", "CONTINUOUS"),
            ("LAYER", "0"),
            ("STYLE", "STANDARD"),
            ("VPORT", "*ACTIVE"),
        ];
        assert_eq!(rows, wanted, "{text}");
    }

    #[test]
    fn handles_are_given_once_and_lie_below_the_seed() {
        let text = completed();
        let Ok(pairs) = split(&text) else {
            unreachable!("we wrote it")
        };
        let seed = pairs
            .windows(2)
            .find(|w| w[0] == (9, "$HANDSEED"))
            .map_or("", |w| w[1].1);
        let number = |h: &str| u64::from_str_radix(h, 16).unwrap_or(u64::MAX);
        let mut handles: Vec<u64> = pairs
            .iter()
            .filter(|p| (p.0 == 5 && p.1 != seed) || p.0 == 105)
            .map(|p| number(p.1))
            .collect();
        let count = handles.len();
        handles.sort_unstable();
        handles.dedup();
        assert_eq!(handles.len(), count, "no handle twice");
        assert!(
            handles.last().is_some_and(|h| *h < number(seed)),
            "seed {seed}, {handles:X?}"
        );
        // Nine table heads, two blocks with their ends, two dictionaries, and what the crate numbers.
        assert!(count > 15, "{count} handles");
        assert_eq!(
            text.matches("AcDbSymbolTable\r\n").count(),
            9,
            "the nine tables"
        );
    }

    #[test]
    fn letters_are_those_of_the_code_page() {
        // Windows-1252: FC u with two dots, 80 the euro sign; no Cyrillic.
        let written = in_code_page("K\\U+00FCche 5 \\U+20AC".to_owned());
        assert_eq!(written.as_deref(), Ok(&b"K\xfcche 5 \x80"[..]));
        for bad in ["\\U+0419", "\\U+00", "\\U+D800", "\\U+zzzz"] {
            assert!(in_code_page(bad.to_owned()).is_err(), "{bad}");
        }
    }

    #[test]
    fn broken_text_is_no_panic() {
        for bad in [
            "x\r\n0\r\n",
            "  0\r\n",
            "  0\r\nSECTION\r\n",
            "  0\r\nTABLE\r\n  2\r\nNONE\r\n",
        ] {
            assert!(complete(bad.as_bytes()).is_err(), "{bad:?}");
        }
        assert!(complete(&[0xff, 0xfe]).is_err(), "no text at all");
    }
}
