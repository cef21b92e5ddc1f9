//! Results on standard output.

use std::io::Write;
use std::process::ExitCode;

use lapwright::job::DeliverError;

use super::REFUSED;

/// Prints a result; a reader that has gone away is no fault of ours, a full disk is.
pub(super) fn print(text: &[u8]) -> ExitCode {
    if let Err(e) = may_print(text.len() as u64) {
        eprintln!("{e}");
        return REFUSED.into();
    }
    let mut out = std::io::stdout().lock();
    match out.write_all(text).and_then(|()| out.flush()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) if e.kind() == std::io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("cannot print: {e}");
            REFUSED.into()
        }
    }
}

/// Whether a result fits into the file that standard output may be.
#[cfg(target_os = "linux")]
fn may_print(bytes: u64) -> Result<(), DeliverError> {
    use lapwright::job::within_own_limit;
    use rustix::fs::{FileType, fstat, tell};
    let out = std::io::stdout();
    let file = fstat(&out).is_ok_and(|meta| FileType::from_raw_mode(meta.st_mode).is_file());
    if !file {
        return Ok(());
    }
    let at = tell(&out).unwrap_or_default();
    within_own_limit("the result", at.saturating_add(bytes))
}

#[cfg(not(target_os = "linux"))]
fn may_print(_: u64) -> Result<(), DeliverError> {
    Ok(())
}

/// The licences that every copy of the program brings along, and what each is for.
const LICENCES: [(&str, &str); 4] = [
    (
        "lapwright: either of the two licences below, MIT or Apache-2.0, at your option",
        include_str!("../../LICENSE-MIT"),
    ),
    ("Apache-2.0", include_str!("../../LICENSE-APACHE")),
    ("Fonts", include_str!("../../LICENSE-FONTS")),
    ("Crates", include_str!("../../LICENSE-CRATES")),
];

/// All of them, under a heading each.
pub(super) fn licences() -> Vec<u8> {
    let all = LICENCES.map(|(what, text)| format!("==== {what} ====\n\n{}\n", text.trim()));
    all.join("\n").into_bytes()
}
