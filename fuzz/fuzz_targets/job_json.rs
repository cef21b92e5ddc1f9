//! A folder that is to be replaced is known by its job.json.
#![no_main]

use std::fs;

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let Ok(folder) = tempfile::tempdir() else {
        return;
    };
    if fs::write(folder.path().join("job.json"), bytes).is_ok() {
        let _refusal = lapwright::job::may_replace(folder.path());
    }
});
