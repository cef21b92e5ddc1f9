//! Makes what the `dxf` crate saves as R12 a file of that release.
//!
//! The crate writes subclass markers (100), which came with R13, into tables and vertices, puts every
//! vertex on layer "0", and leaves out the BLOCKS section and the counts of the tables (DXF reference,
//! release 12, from memory). Of header and tables only what has a meaning here is kept; handles, which
//! may be left out in R12, are.

use super::complete::{Out, Pair, split};

/// Header variables that are kept; none of R12 holds a unit.
const HEADER: [&str; 6] = [
    "$ACADVER", "$INSBASE", "$EXTMIN", "$EXTMAX", "$LIMMIN", "$LIMMAX",
];

/// Tables that are kept, in their usual order, and the one row that is needed of each; of layers, all.
const TABLES: [(&str, Option<&str>); 4] = [
    ("VPORT", Some("*ACTIVE")),
    ("LTYPE", Some("CONTINUOUS")),
    ("LAYER", None),
    ("STYLE", Some("STANDARD")),
];

/// Completes the text that the crate saved.
///
/// # Errors
/// Says what is unlike anything that the crate has been seen to write.
pub(super) fn complete(saved: &[u8]) -> Result<Vec<u8>, &'static str> {
    let text = std::str::from_utf8(saved).map_err(|_| "the saved text is not UTF-8")?;
    let pairs = split(text)?;
    let mut out = Out(String::with_capacity(saved.len()));
    let mut section = "";
    let mut rows: Vec<&[Pair<'_>]> = Vec::new();
    let mut layer = None;
    for record in pairs.chunk_by(|_, next| next.0 != 0) {
        match record.first().map_or("", |head| head.1) {
            "SECTION" => {
                section = record.get(1).map_or("", |pair| pair.1);
                match section {
                    "HEADER" => header(&mut out, record),
                    "ENTITIES" => {
                        out.all(&[(0, "SECTION"), (2, "BLOCKS"), (0, "ENDSEC")]);
                        out.all(record);
                    }
                    _ => out.all(record),
                }
            }
            "ENDSEC" => {
                if section == "TABLES" {
                    tables(&mut out, &rows)?;
                }
                out.all(record);
            }
            "EOF" => out.all(record),
            "TABLE" | "ENDTAB" if section == "TABLES" => {}
            _ if section == "TABLES" => rows.push(record),
            "TEXT" if section == "ENTITIES" => plain(&mut out, record),
            "POLYLINE" if section == "ENTITIES" => {
                layer = record.iter().find(|pair| pair.0 == 8).map(|pair| pair.1);
                plain(&mut out, record);
                if record.iter().all(|pair| pair.0 != 70) {
                    // The crate leaves the flags of an open one to their default.
                    out.pair(70, "0");
                }
            }
            kind @ ("VERTEX" | "SEQEND") if section == "ENTITIES" => {
                let layer = layer.ok_or("the saved text holds a vertex of no polyline")?;
                out.all(&[(0, kind), (8, layer)]);
                // Corner and bulge; flags and tangents say nothing of a plain polyline.
                let told = record
                    .iter()
                    .filter(|pair| matches!(pair.0, 10 | 20 | 30 | 42));
                told.for_each(|&(code, value)| out.pair(code, value));
            }
            _ => return Err("the saved text holds a record in an unknown place"),
        }
    }
    Ok(out.0.into_bytes())
}

fn header(out: &mut Out, record: &[Pair<'_>]) {
    let mut keep = true;
    for &(code, value) in record {
        if code == 9 {
            keep = HEADER.contains(&value);
        }
        if keep {
            out.pair(code, value);
        }
    }
}

/// A record without handle, owner and subclass markers.
fn plain(out: &mut Out, record: &[Pair<'_>]) {
    let kept = record
        .iter()
        .filter(|pair| !matches!(pair.0, 5 | 100 | 330));
    kept.for_each(|&(code, value)| out.pair(code, value));
}

fn tables(out: &mut Out, rows: &[&[Pair<'_>]]) -> Result<(), &'static str> {
    for (table, only) in TABLES {
        let kept: Vec<_> = rows
            .iter()
            .filter(|row| row.first() == Some(&(0, table)))
            .filter(|row| only.is_none_or(|name| row.contains(&(2, name))))
            .collect();
        if kept.is_empty() {
            return Err("the saved text lacks a row of a table");
        }
        out.all(&[(0, "TABLE"), (2, table), (70, &kept.len().to_string())]);
        kept.into_iter().for_each(|row| plain(out, row));
        out.pair(0, "ENDTAB");
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_of_a_later_release_is_left() {
        let mut drawing = ::dxf::Drawing::new();
        drawing.header.version = ::dxf::enums::AcadVersion::R12;
        let mut saved = Vec::new();
        assert!(drawing.save(&mut saved).is_ok(), "an empty drawing");
        let Ok(bytes) = complete(&saved) else {
            unreachable!("what the crate saves is known")
        };
        let text = String::from_utf8(bytes).unwrap_or_default();
        let Ok(pairs) = split(&text) else {
            unreachable!("we wrote it")
        };
        // Subclass markers and owners came with R13, object names in tables of blocks too.
        assert!(pairs.iter().all(|p| !matches!(p.0, 100 | 330)), "{text}");
        let rows = |name| pairs.iter().filter(|p| **p == (0, name)).count();
        for name in ["VPORT", "LTYPE", "LAYER", "STYLE"] {
            assert_eq!(rows(name), 1, "{name}");
        }
        assert_eq!(
            (rows("TABLE"), rows("ENDTAB"), rows("SECTION")),
            (4, 4, 4),
            "{text}"
        );
    }

    #[test]
    fn broken_text_is_no_panic() {
        for bad in [
            "x\r\n0\r\n",
            "  0\r\n",
            "  0\r\nVERTEX\r\n",
            "  0\r\nSECTION\r\n  2\r\nENTITIES\r\n  0\r\nVERTEX\r\n",
            "  0\r\nSECTION\r\n  2\r\nTABLES\r\n  0\r\nENDSEC\r\n",
        ] {
            assert!(complete(bad.as_bytes()).is_err(), "{bad:?}");
        }
        assert!(complete(&[0xff, 0xfe]).is_err(), "no text at all");
    }
}
