//! Any bytes at all, read as text.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    reader_fuzz::check(&String::from_utf8_lossy(bytes));
});
