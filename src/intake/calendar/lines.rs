//! Content lines and components of a calendar file, each with its line number.
//!
//! Unfolding and nesting are done here, to keep line numbers and to bound depth; what stands in one content line is
//! read by the `icalendar` crate.

use icalendar::parser::Property as Parsed;

use super::super::{Fault, Findings};

/// Components nest two deep in real calendars (an alarm in an event).
const DEEPEST: usize = 8;

/// A property.
#[derive(Debug)]
pub(super) struct Property {
    pub(super) name: String,
    pub(super) value: String,
    pub(super) line: u64,
    parameters: Vec<(String, String)>,
}

/// A component with what is in it.
#[derive(Debug)]
pub(super) struct Component {
    pub(super) name: String,
    pub(super) line: u64,
    pub(super) properties: Vec<Property>,
    pub(super) children: Vec<Component>,
}

impl Property {
    /// A parameter's value, without quotation marks.
    pub(super) fn parameter(&self, name: &str) -> Option<&str> {
        self.parameters.iter().find(|(key, _)| key == name).map(|(_, value)| value.as_str())
    }
}

impl Component {
    /// The first property of this name.
    pub(super) fn property(&self, name: &str) -> Option<&Property> {
        self.properties.iter().find(|property| property.name == name)
    }

    /// Its value, trimmed; none when it is absent or blank.
    pub(super) fn text(&self, name: &str) -> Option<&str> {
        self.property(name).map(|property| property.value.trim()).filter(|text| !text.is_empty())
    }

    /// All properties of this name.
    pub(super) fn all<'s>(&'s self, name: &'s str) -> impl Iterator<Item = &'s Property> {
        self.properties.iter().filter(move |property| property.name == name)
    }
}

/// Properties that decide about an event: a line that is meant to be one and cannot be read is a problem.
const VITAL: [&str; 13] = [
    "DTSTART",
    "DTEND",
    "DURATION",
    "RRULE",
    "RDATE",
    "EXDATE",
    "EXRULE",
    "RECURRENCE-ID",
    "UID",
    "STATUS",
    "BEGIN",
    "END",
    "METHOD",
];

/// The components on the top level; `text` has `\n` line ends.
pub(super) fn read(text: &str, file: &str, found: &mut Findings) -> Vec<Component> {
    let mut open: Vec<Component> = Vec::new();
    let mut done = Vec::new();
    let mut skipped = 0;
    for (line, content) in unfold(text) {
        let (name, value) = content.split_once(':').unwrap_or((&content, ""));
        match name.trim().to_ascii_uppercase().as_str() {
            "BEGIN" if open.len() == DEEPEST => {
                let fault = Fault::new("components are nested too deeply", AGAIN);
                found.problem(file, line, 1, fault);
                return Vec::new();
            }
            "BEGIN" => {
                let name = value.trim().to_ascii_uppercase();
                open.push(Component { name, line, properties: Vec::new(), children: Vec::new() });
            }
            "END" => close(value.trim(), line, &mut open, &mut done, file, found),
            _ => match (property(&content, line), open.last_mut()) {
                (Some(property), Some(component)) => component.properties.push(property),
                (Some(_), None) => {}
                (None, _) if is_vital(&content) => {
                    found.problem(file, line, 1, Fault::new("this line cannot be read", AGAIN));
                }
                (None, _) => skipped += 1,
            },
        }
    }
    finish(&open, skipped, file, found);
    done
}

const AGAIN: &str = "export the calendar again";

fn finish(open: &[Component], skipped: usize, file: &str, found: &mut Findings) {
    if let Some(component) = open.first() {
        let what = format!("{} begins here and does not end: the file is cut short", component.name);
        found.problem(file, component.line, 1, Fault::new(what, "export or download it again"));
    } else if skipped > 0 {
        let what = format!("{skipped} lines are not calendar text and were passed over");
        found.note(file, None, what);
    }
}

fn close(
    name: &str,
    line: u64,
    open: &mut Vec<Component>,
    done: &mut Vec<Component>,
    file: &str,
    found: &mut Findings,
) {
    match open.pop() {
        Some(component) if component.name.eq_ignore_ascii_case(name) => match open.last_mut() {
            Some(parent) => parent.children.push(component),
            None => done.push(component),
        },
        other => {
            let what = format!("END:{name} closes nothing that is open");
            found.problem(file, line, 1, Fault::new(what, AGAIN));
            open.extend(other);
        }
    }
}

fn is_vital(content: &str) -> bool {
    let name: String = content
        .trim_start()
        .chars()
        .take_while(|c| c.is_ascii_alphabetic() || *c == '-')
        .map(|c| c.to_ascii_uppercase())
        .collect();
    VITAL.contains(&name.as_str())
}

fn property(content: &str, line: u64) -> Option<Property> {
    let end = content.find([':', ';'])?;
    let name = content.get(..end)?;
    // The crate reads a name without a value as a property too; such a line says nothing.
    content.find(':')?;
    let upper = format!("{}{}", name.to_ascii_uppercase(), content.get(end..)?);
    let parsed = Parsed::try_from(upper.as_str()).ok()?;
    let has_value = upper.ends_with(':') || !parsed.val.as_str().is_empty();
    let parameters = parsed.params.iter().map(|parameter| {
        let value = parameter.val.as_ref().map_or("", |value| value.as_str());
        (parameter.key.as_str().to_ascii_uppercase(), value.trim_matches('"').to_owned())
    });
    has_value.then(|| Property {
        name: parsed.name.as_str().to_owned(),
        value: parsed.val.as_str().to_owned(),
        line,
        parameters: parameters.collect(),
    })
}

/// Content lines, unfolded (RFC 5545 section 3.1), with the number of the line each begins on.
fn unfold(text: &str) -> Vec<(u64, String)> {
    let mut lines: Vec<(u64, String)> = Vec::new();
    for (number, line) in (1..).zip(text.split('\n')) {
        match (line.strip_prefix([' ', '\t']), lines.last_mut()) {
            (Some(rest), Some((_, content))) => content.push_str(rest),
            _ if line.trim().is_empty() => {}
            _ => lines.push((number, line.to_owned())),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_their_numbers_through_folds() {
        let text = "BEGIN:VCALENDAR\nBEGIN:VEVENT\nSUMMARY:Pra\n cti\n\tce\\, early\nDTSTART;TZID=\"A: b\":20260901T153000\nEND:VEVENT\nEND:VCALENDAR\n";
        let mut found = Findings::default();
        let calendars = read(text, "a.ics", &mut found);
        let event = &calendars[0].children[0];
        assert_eq!(event.text("SUMMARY"), Some("Practice, early"));
        let start = event.property("DTSTART").unwrap();
        assert_eq!((start.line, start.parameter("TZID"), start.value.as_str()), (6, Some("A: b"), "20260901T153000"));
        assert!(found.problems.is_empty());
    }

    #[test]
    fn what_is_cut_short_or_crossed_is_a_problem() {
        for text in [
            "BEGIN:VCALENDAR\nBEGIN:VEVENT\nUID:1\n",
            "BEGIN:VCALENDAR\nBEGIN:VEVENT\nEND:VCALENDAR\nEND:VEVENT\n",
            "BEGIN:VCALENDAR\nDTSTART 20260901\nEND:VCALENDAR\n",
            &"BEGIN:X\n".repeat(50_000),
        ] {
            let mut found = Findings::default();
            read(text, "a.ics", &mut found);
            assert!(!found.problems.is_empty(), "{}", text.get(..40).unwrap_or(text));
        }
    }
}
