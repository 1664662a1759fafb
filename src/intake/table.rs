//! A CSV file as a table: known columns by name, rows with their true line numbers.
//!
//! The `csv` crate splits fields; here are the things that spreadsheets do around that: the delimiter is found from
//! the header, headers are known in several wordings and in any order, blank rows and unknown columns are passed over
//! with a note. What a value means is left to the readers of each kind.

use std::collections::BTreeMap;

use super::cell::{clean, key};
use super::{Fault, Findings, SourceFile, text};

/// A column: its name, whether every file must have it, and other headers it goes by (as [`key`] writes them).
pub(super) struct Column {
    pub(super) name: &'static str,
    pub(super) other: &'static [&'static str],
}

/// A column that goes by its own name and by some others.
pub(super) const fn column(name: &'static str, other: &'static [&'static str]) -> Column {
    Column { name, other }
}

/// The rows of a file.
pub(super) struct Table<'a> {
    file: &'a str,
    places: BTreeMap<&'static str, usize>,
    rows: Vec<Row>,
    /// There is a header; without one, nothing more is said of its columns.
    readable: bool,
}

struct Row {
    line: u64,
    cells: Vec<String>,
}

/// One row, with the table's columns at hand.
#[derive(Clone, Copy)]
pub(super) struct Record<'t> {
    table: &'t Table<'t>,
    row: &'t Row,
}

impl<'a> Table<'a> {
    /// Reads a file; a table without rows when it cannot be read, with the problem noted.
    pub(super) fn read(source: &'a SourceFile, columns: &'static [Column], found: &mut Findings) -> Self {
        let mut table = Self { file: &source.name, places: BTreeMap::new(), rows: Vec::new(), readable: false };
        let decoded = match text::decode(&source.bytes) {
            Ok(decoded) => decoded,
            Err(fault) => {
                found.problem(table.file, 1, 1, fault);
                return table;
            }
        };
        if decoded.windows {
            found.note(table.file, None, "not UTF-8; read as Windows-1252 (check accented names)");
        }
        table.fill(&decoded.text, columns, found);
        table
    }

    fn fill(&mut self, text: &str, columns: &'static [Column], found: &mut Findings) {
        if let Some(line) = open_quote(text, sniff(text).1) {
            let fault = Fault::new("a quotation mark is opened here and never closed", "close it, or remove it");
            found.problem(self.file, line, 1, fault);
            return;
        }
        let mut rows = split(text).into_iter();
        let Some(header) = rows.find(|row| !row.is_blank()) else {
            let fault = Fault::new("the file is empty", "put the column names on the first line");
            found.problem(self.file, 1, 1, fault);
            return;
        };
        self.readable = true;
        self.take_header(&header, columns, found);
        let mut blank = 0;
        for row in rows {
            if row.is_blank() {
                blank += 1;
            } else if self.is_too_wide(&row, header.cells.len(), found) {
                // A shifted row would only raise false problems in every field.
            } else {
                self.rows.push(row);
            }
        }
        if blank > 0 {
            found.note(self.file, None, format!("{blank} blank rows passed over"));
        }
    }

    fn take_header(&mut self, header: &Row, columns: &'static [Column], found: &mut Findings) {
        let mut ignored = Vec::new();
        for (place, cell) in header.cells.iter().enumerate() {
            let name = key(cell);
            let known = columns.iter().find(|column| key(column.name) == name || column.other.contains(&name.as_str()));
            let Some(column) = known else {
                if !cell.is_empty() {
                    ignored.push(format!("`{cell}`"));
                }
                continue;
            };
            if let Some(first) = self.places.insert(column.name, place) {
                let what = format!("`{cell}` is column `{}`, which is field {} too", column.name, first + 1);
                let fault = Fault::new(what, "keep one of the two, or rename the other");
                found.problem(self.file, header.line, number(place), fault);
            }
        }
        if !ignored.is_empty() {
            found.note(self.file, None, format!("columns not used: {}", ignored.join(", ")));
        }
    }

    fn is_too_wide(&self, row: &Row, width: usize, found: &mut Findings) -> bool {
        let Some(extra) = row.cells.iter().skip(width).position(|cell| !cell.is_empty()) else {
            return false;
        };
        let what = format!("the row has more fields than the header's {width}");
        let mend = "put quotation marks around a value that contains the separator";
        found.problem(self.file, row.line, number(width + extra), Fault::new(what, mend));
        true
    }

    /// Notes a problem when a column that this kind cannot do without is missing.
    pub(super) fn require(&self, names: &[&'static str], found: &mut Findings) -> bool {
        if !self.readable {
            return false;
        }
        let missing: Vec<_> = names.iter().filter(|name| !self.has(name)).collect();
        for name in &missing {
            let fault = Fault::new(
                format!("there is no column `{name}`"),
                format!("add `{name}` to the first line (names are known in several wordings)"),
            );
            found.problem(self.file, 1, 1, fault);
        }
        missing.is_empty()
    }

    /// Whether the header has a column.
    pub(super) fn has(&self, name: &str) -> bool {
        self.places.contains_key(name)
    }

    /// The rows that are not blank.
    pub(super) fn records(&self) -> impl Iterator<Item = Record<'_>> {
        self.rows.iter().map(|row| Record { table: self, row })
    }
}

impl Row {
    fn is_blank(&self) -> bool {
        self.cells.iter().all(String::is_empty)
    }
}

impl<'t> Record<'t> {
    /// File it is from.
    pub(super) fn file(&self) -> &'t str {
        self.table.file
    }

    /// Line it begins on.
    pub(super) fn line(&self) -> u64 {
        self.row.line
    }

    /// The cleaned text of a cell; none when it is blank or there is no such column.
    pub(super) fn text(&self, name: &str) -> Option<&'t str> {
        let place = *self.table.places.get(name)?;
        let text = self.row.cells.get(place)?.as_str();
        (!text.is_empty()).then_some(text)
    }

    /// The same, owned.
    pub(super) fn owned(&self, name: &str) -> Option<String> {
        self.text(name).map(str::to_owned)
    }

    /// A cell's value; none when it is blank, and none with a problem noted when it cannot be read.
    pub(super) fn read<T>(
        &self,
        name: &'static str,
        found: &mut Findings,
        parse: impl FnOnce(&str) -> Result<T, Fault>,
    ) -> Option<T> {
        match parse(self.text(name)?) {
            Ok(value) => Some(value),
            Err(fault) => {
                self.problem(name, fault, found);
                None
            }
        }
    }

    /// Notes a problem at a cell.
    pub(super) fn problem(&self, name: &str, fault: Fault, found: &mut Findings) {
        let column = self.table.places.get(name).map_or(1, |place| number(*place));
        found.problem(self.table.file, self.row.line, column, fault);
    }

    /// Notes something harmless about the row.
    pub(super) fn note(&self, what: impl Into<String>, found: &mut Findings) {
        found.note(self.table.file, Some(self.row.line), what);
    }
}

fn number(place: usize) -> u64 {
    u64::try_from(place).unwrap_or(u64::MAX).saturating_add(1)
}

/// Where the table begins (after a `sep=` line) and what separates its fields.
fn sniff(text: &str) -> (usize, u8) {
    let first = text.lines().next().unwrap_or_default();
    if let Some(separator) = first.strip_prefix("sep=").map(str::as_bytes)
        && let [byte] = separator
        && byte.is_ascii()
    {
        return (first.len() + 1, *byte);
    }
    let header = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    let count = |separator: &u8| {
        let mut quoted = false;
        let outside = header.bytes().filter(|byte| {
            quoted ^= *byte == b'"';
            !quoted && byte == separator
        });
        outside.count()
    };
    // Ties go to the last: the comma is what CSV means when nothing says otherwise.
    (0, [b'\t', b';', b','].into_iter().max_by_key(count).unwrap_or(b','))
}

/// The rows with their lines; `text` has `\n` line ends.
fn split(text: &str) -> Vec<Row> {
    let (start, separator) = sniff(text);
    let body = text.get(start..).unwrap_or_default();
    let mut reader =
        csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(separator).from_reader(body.as_bytes());
    let mut lines = Lines { text, at: 0, line: 1 };
    let mut rows = Vec::new();
    // Reading from memory in valid UTF-8 with flexible rows leaves the reader nothing to fail on.
    for record in reader.records().map_while(Result::ok) {
        let byte = record.position().map_or(0, csv::Position::byte);
        let line = lines.at(start + usize::try_from(byte).unwrap_or(usize::MAX));
        rows.push(Row { line, cells: record.iter().map(clean).collect() });
    }
    rows
}

/// Counts lines up to a place; places are asked for in rising order.
struct Lines<'a> {
    text: &'a str,
    at: usize,
    line: u64,
}

impl Lines<'_> {
    /// The line of the first character at or after `byte` that is not a line break: the reader gives a row's place
    /// before the empty lines that it skips.
    fn at(&mut self, byte: usize) -> u64 {
        let bytes = self.text.as_bytes();
        while let Some(next) = bytes.get(self.at)
            && (self.at < byte || *next == b'\n')
        {
            self.line += u64::from(*next == b'\n');
            self.at += 1;
        }
        self.line
    }
}

/// The line on which a quoted field begins that the file ends in.
fn open_quote(text: &str, separator: u8) -> Option<u64> {
    let (mut line, mut opened) = (1, None);
    let mut field_start = true;
    let mut bytes = text.bytes().peekable();
    while let Some(byte) = bytes.next() {
        line += u64::from(byte == b'\n');
        if opened.is_some() {
            if byte == b'"' && bytes.next_if_eq(&b'"').is_none() {
                opened = None;
            }
            continue;
        }
        if byte == b'"' && field_start {
            opened = Some(line);
        }
        field_start = byte == separator || byte == b'\n';
    }
    opened
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<(u64, Vec<String>)> {
        split(text).into_iter().map(|row| (row.line, row.cells)).collect()
    }

    #[test]
    fn lines_are_the_files_own() {
        let rows = lines("a,b\n\n\n1,\"x\ny\"\n2,z\n,\n3,w");
        let places: Vec<_> = rows.iter().map(|row| row.0).collect();
        assert_eq!(places, [1, 4, 6, 7, 8]);
        assert_eq!(rows[1].1, ["1", "x y"]);
        let rows = lines("\n\nsep,a\n1,2\n");
        assert_eq!(rows.iter().map(|row| row.0).collect::<Vec<_>>(), [3, 4]);
        let rows = lines("sep=|\na|b\n1|2\n");
        assert_eq!(rows.iter().map(|row| row.0).collect::<Vec<_>>(), [2, 3]);
    }

    /// A header names one column of a file, and the wordings are written as headers are compared.
    #[test]
    fn no_wording_names_two_columns() {
        use super::super::{events, guardians, helmets, people, staff};
        let tables: [&[Column]; 5] =
            [&people::ATHLETES, &guardians::GUARDIANS, &staff::STAFF, &helmets::HELMETS, &events::EVENTS];
        for columns in tables {
            let mut seen = std::collections::BTreeSet::new();
            for column in columns {
                for wording in column.other {
                    assert_eq!(key(wording), *wording);
                    assert!(seen.insert((*wording).to_owned()), "{wording}");
                }
                assert!(seen.insert(key(column.name)), "{}", column.name);
            }
        }
    }

    #[test]
    fn the_separator_is_read_off_the_header() {
        assert_eq!(sniff("a;b;c\n1,2;3;4").1, b';');
        assert_eq!(sniff("a\tb\n").1, b'\t');
        assert_eq!(sniff("\"a;b;c\",d\n").1, b',');
        assert_eq!(sniff("alone\n").1, b',');
    }

    #[test]
    fn an_open_quotation_mark_is_found_where_it_opens() {
        assert_eq!(open_quote("a,b\n1,\"x\n2,y\n", b','), Some(2));
        assert_eq!(open_quote("a,b\n1,\"x \"\"q\"\" \"\n2,6\" pad\n", b','), None);
    }
}
