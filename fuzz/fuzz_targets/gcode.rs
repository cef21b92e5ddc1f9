#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| lapwright_fuzz::cut_file(false, bytes));
