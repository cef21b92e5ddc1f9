#![no_main]

use lapwright::panel::SourceKind;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| lapwright_fuzz::source("three-way-hardwood", SourceKind::Material, bytes));
