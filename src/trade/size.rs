//! Heads and shells: which shell size fits a head. Sizes are the maker's own, so their ranges are the program's data.

use serde::{Deserialize, Serialize};

use super::model::Model;

/// A shell size of a model, with the head circumferences that it is made for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ShellSize {
    /// Name, as the maker writes it: "M".
    pub name: String,
    /// Smallest circumference, in millimetres.
    pub from_mm: i64,
    /// Largest circumference, in millimetres; the next size begins here.
    pub to_mm: i64,
}

/// The size of a model that fits a head: of two that meet there, the smaller. None without a chart, or for a head beyond it.
#[must_use]
pub fn fitting(model: &Model, head_mm: i64) -> Option<&str> {
    let fits = |size: &&ShellSize| size.from_mm <= head_mm && head_mm <= size.to_mm;
    model.sizes.iter().find(fits).map(|size| size.name.as_str())
}

/// Reads a circumference: "22 1/2 in", "22.5", "57 cm", "570 mm". A bare number below 30 is inches, below 100 centimetres,
/// else millimetres. None when it is no circumference of a head from 40 to 75 cm.
#[must_use]
#[expect(clippy::cast_possible_truncation, reason = "millimetres within bounds")]
pub fn circumference_mm(text: &str) -> Option<i64> {
    let lower = text.trim().to_lowercase();
    let number = lower.trim_end_matches(|c: char| c.is_alphabetic() || matches!(c, '"' | '.' | ' ' | '”'));
    let unit = lower[number.len()..].trim_matches([' ', '.']);
    let value = mixed(number)?;
    let mm = match unit {
        "in" | "inch" | "inches" | "\"" | "”" => value * 25.4,
        "cm" => value * 10.0,
        "mm" => value,
        "" if value < 30.0 => value * 25.4,
        "" if value < 100.0 => value * 10.0,
        "" => value,
        _ => return None,
    };
    let mm = mm.round() as i64;
    (400..=750).contains(&mm).then_some(mm)
}

/// "22 1/2", "22.5", "22".
fn mixed(text: &str) -> Option<f64> {
    let mut sum = 0.0;
    let mut parts = text.split_whitespace();
    for part in parts.by_ref().take(2) {
        sum += match part.split_once('/') {
            Some((over, under)) => {
                let (over, under): (f64, f64) = (over.parse().ok()?, under.parse().ok()?);
                if under == 0.0 {
                    return None;
                }
                over / under
            }
            None => part.replace(',', ".").parse().ok()?,
        };
    }
    (parts.next().is_none() && sum > 0.0).then_some(sum)
}

/// Reads a chart: "S 20-21; M 21-22 1/2; L 57-60 cm". None when a part of it is no size with a range.
#[must_use]
pub fn chart(text: &str) -> Option<Vec<ShellSize>> {
    let parts = text.split([';', '|']).map(str::trim).filter(|part| !part.is_empty());
    parts
        .map(|part| {
            let (name, range) = part.split_once([':', ' '])?;
            let (from, to) = range.trim().split_once(['-', '–'])?;
            let unit: String = to.trim().chars().skip_while(|c| !c.is_alphabetic()).collect();
            let from = if from.chars().any(char::is_alphabetic) { from.to_owned() } else { format!("{from} {unit}") };
            let (from_mm, to_mm) = (circumference_mm(&from)?, circumference_mm(to)?);
            (from_mm < to_mm).then(|| ShellSize { name: name.trim().to_owned(), from_mm, to_mm })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heads_are_read_in_inches_and_centimetres() {
        for (text, mm) in
            [("22 1/2", 572), ("22.5 in", 572), ("57", 570), ("57 cm", 570), ("570mm", 570), ("22\"", 559)]
        {
            assert_eq!(circumference_mm(text), Some(mm), "{text}");
        }
        for text in ["", "7", "120", "abc", "22 1/0", "57 ft"] {
            assert_eq!(circumference_mm(text), None, "{text}");
        }
    }

    #[test]
    fn a_chart_tells_the_size() {
        let sizes = chart("S 20-21; M 21-22 1/2; L: 57.2-60 cm").unwrap();
        let names: Vec<_> = sizes.iter().map(|size| (size.name.as_str(), size.from_mm, size.to_mm)).collect();
        assert_eq!(names, [("S", 508, 533), ("M", 533, 572), ("L", 572, 600)]);
        let model = Model { sizes, ..Model::sample("Tern", None) };
        assert_eq!(fitting(&model, 540), Some("M"));
        assert_eq!(fitting(&model, 533), Some("S"), "of two that meet, the smaller");
        assert_eq!(fitting(&model, 620), None);
        assert_eq!(chart("S big"), None);
    }
}
