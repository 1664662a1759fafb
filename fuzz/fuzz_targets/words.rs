//! Sentences made of the lexicon's entries: two bytes choose an entry, the odd ones a joint between entries.
#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    let text = reader_fuzz::sentence(bytes);
    reader_fuzz::check(&text);
    reader_fuzz::check_alike(&text);
});
