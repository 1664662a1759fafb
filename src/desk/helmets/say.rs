//! What is said of helmets, in a reader's language.

use crate::trade::batches::Plan;
use crate::trade::roster::{Helmet, Language};
use chrono::NaiveDate;

/// Tags named before the rest is counted.
pub const MOST: usize = 12;

/// "LV-001, LV-002, LV-020 to LV-031": tags with runs drawn together; after `most` of them how many more there are.
#[must_use]
pub fn tags(all: &[&str], most: usize, language: Language) -> String {
    let runs = runs(all);
    let to = if language == Language::Es { "a" } else { "to" };
    let named: Vec<String> = runs
        .iter()
        .take(most)
        .map(|(first, last, count)| match count {
            1 => (*first).to_owned(),
            2 => format!("{first}, {last}"),
            _ => format!("{first} {to} {last}"),
        })
        .collect();
    let more: usize = runs.iter().skip(most).map(|(.., count)| count).sum();
    let said = named.join(", ");
    match (more, language) {
        (0, _) => said,
        (more, Language::En) => format!("{said} and {more} more"),
        (more, Language::Es) => format!("{said} y {more} más"),
    }
}

/// Runs of tags that follow on each other by number: first, last, and how many.
fn runs<'t>(all: &[&'t str]) -> Vec<(&'t str, &'t str, usize)> {
    let mut sorted: Vec<&str> = all.to_vec();
    sorted.sort_unstable();
    let mut runs: Vec<(&str, &str, usize)> = Vec::new();
    for tag in sorted {
        match runs.last_mut() {
            Some((_, last, count)) if follows(last, tag) => {
                *last = tag;
                *count += 1;
            }
            _ => runs.push((tag, tag, 1)),
        }
    }
    runs
}

fn follows(before: &str, tag: &str) -> bool {
    let parts = |tag: &str| {
        let head = tag.trim_end_matches(|c: char| c.is_ascii_digit()).to_owned();
        let number = tag[head.len()..].parse::<u32>().ok();
        (head, number)
    };
    let ((head, number), (next_head, next)) = (parts(before), parts(tag));
    head == next_head && number.zip(next).is_some_and(|(number, next)| next == number + 1)
}

/// The tags of helmets, as [`tags`].
#[must_use]
pub fn tags_of(helmets: &[&Helmet], most: usize, language: Language) -> String {
    let all: Vec<&str> = helmets.iter().map(|helmet| helmet.tag.as_str()).collect();
    tags(&all, most, language)
}

/// A plan in lines for a terminal or a page.
#[must_use]
pub fn plan_lines(plan: &Plan) -> Vec<String> {
    let day = |day: NaiveDate| day.format("%a %b %-d %Y").to_string();
    let mut lines: Vec<String> = plan
        .batches
        .iter()
        .map(|batch| {
            let all: Vec<&str> = batch.tags.iter().map(String::as_str).collect();
            let several =
                if batch.shipments > 1 { format!(" in {} shipments", batch.shipments) } else { String::new() };
            let count = if all.len() == 1 { "1 helmet".to_owned() } else { format!("{} helmets", all.len()) };
            let (leaves, back) = (day(batch.leaves), day(batch.back));
            format!("{leaves}: {count}{several}, back {back}: {}", tags(&all, usize::MAX, Language::En))
        })
        .collect();
    if plan.batches.is_empty() {
        lines.push("No helmet has to go before the next season.".to_owned());
    }
    for (size, count) in &plan.buy {
        let size = if size.is_empty() { "of unknown size".to_owned() } else { format!("size {size}") };
        lines.push(format!("Buy {count}, {size}: what there is does not reach for spring and summer work."));
    }
    if !plan.late.is_empty() {
        let late: Vec<&str> = plan.late.iter().map(String::as_str).collect();
        lines.push(format!(
            "Past their limit before the first batch, out of use until they are back: {}",
            tags(&late, usize::MAX, Language::En)
        ));
    }
    lines.push(format!("Cost: {:.2}", plan.cost));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_of_tags_are_drawn_together() {
        let all = ["LV-031", "LV-001", "LV-020", "LV-021", "LV-022", "LV-030"];
        assert_eq!(tags(&all, 9, Language::En), "LV-001, LV-020 to LV-022, LV-030, LV-031");
        assert_eq!(tags(&all, 1, Language::En), "LV-001 and 5 more");
        assert_eq!(tags(&["LV-009", "LV-010", "LV-011"], 9, Language::Es), "LV-009 a LV-011");
        assert_eq!(tags(&[], 9, Language::En), "");
    }
}
