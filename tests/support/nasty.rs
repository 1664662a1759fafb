//! Texts that make slow work of a careless reader.

/// Makes a text of so many characters.
pub type Maker = Box<dyn Fn(usize) -> String>;

/// Kinds of such texts, each with what makes one of a length in characters.
pub fn nasty() -> Vec<(&'static str, Maker)> {
    fn over(pattern: &'static str) -> Maker {
        Box::new(move |length| pattern.chars().cycle().take(length).collect())
    }
    vec![
        ("one long unknown word", over("qxzvk")),
        ("one letter", over("o")),
        ("unknown words", Box::new(unknown_words)),
        ("words a slip away", over("straap losse broekn hedache cracc mjssing pinchd ")),
        ("negations", over("not no never dont isnt without ")),
        ("negated parts", over("not strap no mask ni correa without ")),
        ("commas", over(",")),
        ("words and commas", over("strap, mask, ")),
        ("numerals", over("1 2 3 4 5 6 7 ")),
        ("ranges", over("1-6 and 2/3 ")),
        ("one long number", over("1")),
        ("number words", over("one two three uno dos ")),
        ("phrases begun", over("all of the all 6 checks out nothing to ")),
        ("repairs and retractions", over("strap broke fixed it false alarm good ")),
        ("corrections", over("5 wait no 4 i mean 3 ")),
        ("questions", over("is it good? can you ")),
        ("fillers", over("coach bro today lol ")),
        ("subjects", over("strap mask head neck it i ")),
        ("all clears", over("all good ")),
        ("emoji", over("👍🏽✅❌😴🏈👨‍👩‍👧")),
        ("combining marks", over("o\u{301}\u{302}\u{303}\u{304}\u{305}\u{306}\u{307}")),
        ("marks upon one letter", Box::new(|length| format!("o{}", "\u{301}".repeat(length - 1)))),
        ("zero width", over("o\u{200b}k\u{200d}\u{202e} ")),
        ("ligatures", over("\u{fdfa}")),
        ("apostrophes", over("'")),
        ("glued digits", over("2n5x7b9")),
        ("spaces", over(" ")),
        ("newlines", over("\n")),
        ("control bytes", over("\u{0}\u{7}\u{1b}")),
        ("tapback", over("Liked “all good” ")),
    ]
}

/// Many different words that no lexicon has.
fn unknown_words(length: usize) -> String {
    let word = |index: usize| {
        let letters = (0..7).map(move |place| char::from(b'a' + ((index * 31 + place * 17 + index / 7) % 26) as u8));
        letters.chain([' '])
    };
    (0..length).flat_map(word).take(length).collect()
}
