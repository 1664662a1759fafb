//! Properties that hold for any input.

use browline::intake::{Dataset, changes};
use browline::trade::roster::{Athlete, ConsentBy, Helmet, Language, StaffMember};
use chrono::{Datelike, NaiveDate, NaiveDateTime, TimeDelta, Weekday};
use proptest::prelude::*;

use crate::support::{School, calendar, entry};

const NAMES: [&str; 7] =
    ["athletes.csv", "guardians.csv", "staff.csv", "helmets.csv", "events.csv", "varsity.ics", "x.txt"];

/// Pieces that files are made of, in any order: nearer to real damage than random bytes.
const PIECES: [&str; 44] = [
    "first,last,team,phone,jersey,born",
    "tag,model,athlete",
    "team,date,start",
    "first,last,roles,duty",
    "\n",
    "\r\n",
    ",",
    ";",
    "\t",
    "\"",
    "\"\"",
    "Jonah,Vega,varsity,312 555 0100,12,2009-01-01",
    "=\"1\"",
    "sep=;\n",
    "\u{feff}",
    "é",
    "\u{a0}",
    "BEGIN:VCALENDAR\n",
    "END:VCALENDAR\n",
    "BEGIN:VEVENT\n",
    "END:VEVENT\n",
    "UID:a\n",
    "DTSTART:20260901T153000\n",
    "DTSTART;TZID=America/Chicago:20260308T023000\n",
    "DTSTART;VALUE=DATE:20260901\n",
    "DTEND:20260901T173000Z\n",
    "RRULE:FREQ=WEEKLY;BYDAY=MO,WE\n",
    "RRULE:FREQ=YEARLY;BYDAY=-53SU;BYSETPOS=-366\n",
    "RRULE:FREQ=MONTHLY;BYDAY=é\n",
    "RRULE:FREQ=DAILY;UNTIL=99991231T235959Z\n",
    "EXDATE:20260907T153000\n",
    "RDATE;VALUE=PERIOD:20260908T153000/PT1H\n",
    "RECURRENCE-ID:20260901T153000\n",
    "RECURRENCE-ID;RANGE=THISANDFUTURE:20260907T153000\n",
    "STATUS:CANCELLED\n",
    "DURATION:PT2H\n",
    "SUMMARY:Game, film\\;\\n\n",
    " folded\n",
    "DTSTART:99991231T235959\n",
    "DTSTART:00000101T000000\n",
    "SEQUENCE:-1\n",
    "CATEGORIES:JV\\,,varsity\n",
    "X-A;B=\"c:d\";E:f\n",
    "RRULE:FREQ=WEEKLY;BYWEEKNO=53;COUNT=4294967295\n",
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever the bytes, there is an answer.
    #[test]
    fn any_bytes_are_answered(name in 0..NAMES.len(), bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let _ = School::default().parse(&[(NAMES[name], &bytes)]);
    }

    /// The same for text in pieces; and where it is accepted, what comes out is sorted, without doubles, and idempotent.
    #[test]
    fn any_pieces_are_answered(name in 0..NAMES.len(), pieces in prop::collection::vec(0..PIECES.len(), 0..40)) {
        let text: String = pieces.iter().map(|piece| PIECES[*piece]).collect();
        if let Ok((data, _)) = School::default().parse(&[(NAMES[name], text.as_bytes())]) {
            prop_assert!(data.events.windows(2).all(|pair| pair[0].id < pair[1].id));
            prop_assert!(data.athletes.windows(2).all(|pair| pair[0].id < pair[1].id));
            prop_assert!(changes(&data, &data).is_empty());
        }
    }

    /// A dataset written as CSV in any dress is the same dataset when it is read.
    #[test]
    fn what_is_written_is_read_again(people in prop::collection::vec(person(), 1..12), dress in dress()) {
        let school = School::default();
        let wanted = build(&people, &school);
        let texts = [
            ("athletes.csv", dress.athletes(&wanted)),
            ("staff.csv", dress.staff(&wanted)),
            ("helmets.csv", dress.helmets(&wanted)),
        ];
        let files: Vec<_> = texts.iter().map(|(name, text)| (*name, text.as_slice())).collect();
        let read = school.parse(&files);
        prop_assert!(read.is_ok(), "{:?}", read.err());
        let (read, _) = read.unwrap();
        prop_assert_eq!(&read.athletes, &wanted.athletes);
        prop_assert_eq!(&read.consents, &wanted.consents);
        prop_assert_eq!(&read.staff, &wanted.staff);
        prop_assert_eq!(&read.helmets, &wanted.helmets);
        prop_assert!(changes(&wanted, &read).is_empty());
    }

    /// Daily and weekly rules against a walk over every day.
    #[test]
    fn rules_agree_with_a_walk_over_the_days(
        first in 0..600_i64, hour in 0..24_u32, interval in 1..5_i64, weekly in any::<bool>(),
        days in prop::collection::btree_set(0..7_usize, 1..5), sunday_first in any::<bool>(), end in end(),
    ) {
        let start = day(first).and_hms_opt(hour, 30, 0).unwrap();
        let mut days = days;
        days.insert(index(start.date()));
        let names = ["MO", "TU", "WE", "TH", "FR", "SA", "SU"];
        let by: Vec<_> = days.iter().map(|day| names[*day]).collect();
        let rule = format!(
            "FREQ={};INTERVAL={interval};BYDAY={};WKST={}{}",
            if weekly { "WEEKLY" } else { "DAILY" }, by.join(","), if sunday_first { "SU" } else { "MO" }, end.text(start),
        );
        let school = School::default();
        let ics = calendar(&entry("walk", &format!("DTSTART;TZID=America/Chicago:{}\nRRULE:{rule}", start.format("%Y%m%dT%H%M%S"))));
        let mut found: Vec<_> = school.read(&[("varsity.ics", &ics)]).events.iter().map(|event| event.starts_at).collect();
        found.sort();
        let week_start = if sunday_first { Weekday::Sun } else { Weekday::Mon };
        let week = |date: NaiveDate| (date.week(week_start).first_day() - start.date().week(week_start).first_day()).num_days() / 7;
        let mut walked = Vec::new();
        let mut date = start.date();
        let mut count = 0;
        while date < day(1200) && !end.is_over(date, start, count) {
            let turn = if weekly { week(date) } else { (date - start.date()).num_days() };
            if turn % interval == 0 && days.contains(&index(date)) {
                count += 1;
                walked.push(browline::trade::time::resolve(date.and_time(start.time()), chrono_tz::America::Chicago));
            }
            date += TimeDelta::days(1);
        }
        let (from, until) = (school.now.minus(TimeDelta::days(2)), school.now.plus(TimeDelta::days(school.horizon_days)));
        walked.retain(|moment| (from..=until).contains(moment));
        prop_assert_eq!(found, walked, "{}", rule);
    }
}

fn day(number: i64) -> NaiveDate {
    NaiveDate::from_ymd_opt(2025, 6, 1).unwrap() + TimeDelta::days(number)
}

fn index(date: NaiveDate) -> usize {
    date.weekday().num_days_from_monday() as usize
}

#[derive(Debug, Clone)]
enum End {
    Never,
    Count(usize),
    After(i64),
}

fn end() -> impl Strategy<Value = End> {
    prop_oneof![Just(End::Never), (1..400_usize).prop_map(End::Count), (0..500_i64).prop_map(End::After)]
}

impl End {
    fn text(&self, start: NaiveDateTime) -> String {
        match self {
            Self::Never => String::new(),
            Self::Count(count) => format!(";COUNT={count}"),
            Self::After(days) => format!(";UNTIL={}", (start + TimeDelta::days(*days)).format("%Y%m%dT%H%M%S")),
        }
    }

    fn is_over(&self, date: NaiveDate, start: NaiveDateTime, count: usize) -> bool {
        match self {
            Self::Never => false,
            Self::Count(most) => count >= *most,
            Self::After(days) => date > start.date() + TimeDelta::days(*days),
        }
    }
}

#[derive(Debug, Clone)]
struct Person {
    first: usize,
    last: usize,
    phone: Option<u32>,
    born: Option<i64>,
    spanish: bool,
    consent: bool,
    note: usize,
}

fn person() -> impl Strategy<Value = Person> {
    let parts = (0..FIRST.len(), 0..LAST.len(), prop::option::of(100..200_u32), prop::option::of(0..3000_i64));
    (parts, any::<bool>(), any::<bool>(), 0..NOTES.len()).prop_map(
        |((first, last, phone, born), spanish, consent, note)| Person {
            first,
            last,
            phone,
            born,
            spanish,
            consent,
            note,
        },
    )
}

const FIRST: [&str; 6] = ["Jonah", "José", "Ana María", "O'Neill", "Łukasz", "D'Andre, Jr."];
const LAST: [&str; 6] = ["Vega", "Peña", "van der Berg", "Núñez; Ruiz", "Smith-Jones", "\"Ace\" Okafor"];
const NOTES: [&str; 5] = ["", "new pads", "6\" strap; left", "a,b;c", "it's \"fine\""];

/// The dataset that the people make.
fn build(people: &[Person], school: &School) -> Dataset {
    let mut data = Dataset::default();
    for (number, person) in people.iter().enumerate() {
        let id = format!("a-{number:02}");
        let phone = person.phone.map(|line| browline::trade::phone::Phone::parse(&format!("312555{line:04}")).unwrap());
        let consent = phone.clone().filter(|_| person.consent).map(|phone| browline::trade::roster::Consent {
            program: school.program.clone(),
            phone,
            person: id.clone(),
            given_by: LAST[person.last].to_owned(),
            standing: ConsentBy::Guardian,
            given_on: day(60),
            how: "signed form".to_owned(),
            shown: None,
            words: None,
            at: None,
        });
        data.consents.extend(consent);
        data.athletes.push(Athlete {
            program: school.program.clone(),
            id: id.as_str().into(),
            team: school.teams[number % 2].0.clone(),
            jersey: (number % 3 > 0).then(|| number.to_string()),
            first: FIRST[person.first].to_owned(),
            last: LAST[person.last].to_owned(),
            born: person.born.map(|days| day(-days)),
            language: if person.spanish { Language::Es } else { Language::En },
            phone: phone.clone(),
            head_mm: None,
            active: person.note != 1,
        });
        data.staff.push(StaffMember {
            program: school.program.clone(),
            id: format!("s-{number:02}").as_str().into(),
            first: FIRST[person.first].to_owned(),
            last: LAST[person.last].to_owned(),
            phone,
            email: (person.note > 2).then(|| "name@example.com".to_owned()),
            language: Language::En,
            roles: vec![browline::trade::roster::Role::Equipment, browline::trade::roster::Role::Coach],
            teams: if person.spanish { vec![school.teams[0].0.clone()] } else { Vec::new() },
            duty: if person.consent {
                vec![browline::trade::roster::DutyDay::Tue, browline::trade::roster::DutyDay::Sun]
            } else {
                Vec::new()
            },
            hours: person.consent.then(|| browline::trade::roster::DutyHours {
                from: chrono::NaiveTime::from_hms_opt(13, 30, 0).unwrap(),
                until: chrono::NaiveTime::from_hms_opt(19, 0, 0).unwrap(),
            }),
            call_order: 1 + i64::try_from(number).unwrap(),
            active: true,
        });
        let note = NOTES[person.note];
        data.helmets.push(Helmet {
            program: school.program.clone(),
            tag: format!("K-{number:02}").as_str().into(),
            model: "Halyard".to_owned(),
            size: Some("L".to_owned()),
            serial: None,
            athlete: person.consent.then(|| id.as_str().into()),
            made: person.born.map(|days| day(-days)),
            recertified: None,
            marks: Vec::new(),
            failed: None,
            shipped: None,
            promised: None,
            issued_at: None,
            notes: (!note.is_empty()).then(|| note.to_owned()),
        });
    }
    data
}

/// How a file is written.
#[derive(Debug, Clone)]
struct Dress {
    delimiter: u8,
    line_end: &'static str,
    encoding: usize,
    turn: usize,
    blank: bool,
    american: bool,
}

fn dress() -> impl Strategy<Value = Dress> {
    let delimiter = prop::sample::select(vec![b',', b';', b'\t']);
    let line_end = prop::sample::select(vec!["\n", "\r\n", "\r"]);
    (delimiter, line_end, 0..4_usize, 0..12_usize, any::<bool>(), any::<bool>()).prop_map(
        |(delimiter, line_end, encoding, turn, blank, american)| Dress {
            delimiter,
            line_end,
            encoding,
            turn,
            blank,
            american,
        },
    )
}

impl Dress {
    fn date(&self, date: NaiveDate) -> String {
        date.format(if self.american { "%m/%d/%Y" } else { "%Y-%m-%d" }).to_string()
    }

    fn athletes(&self, data: &Dataset) -> Vec<u8> {
        let header = [
            "id",
            "First Name",
            "Last Name",
            "Team",
            "Jersey #",
            "Cell",
            "Language",
            "DOB",
            "Consent by",
            "Consent standing",
            "Consent date",
            "Consent how",
            "Active",
            "Locker",
        ];
        let rows = data.athletes.iter().map(|athlete| {
            let consent = data.consents.iter().find(|consent| consent.person == athlete.id.0);
            let given =
                |text: &dyn Fn(&browline::trade::roster::Consent) -> String| consent.map(text).unwrap_or_default();
            vec![
                athlete.id.0.clone(),
                athlete.first.clone(),
                format!("  {}\u{a0}", athlete.last),
                athlete.team.0.to_uppercase(),
                athlete.jersey.clone().unwrap_or_default(),
                athlete.phone.as_ref().map(ToString::to_string).unwrap_or_default(),
                if athlete.language == Language::Es { "Español".to_owned() } else { "en".to_owned() },
                athlete.born.map(|born| self.date(born)).unwrap_or_default(),
                given(&|consent| consent.given_by.clone()),
                given(&|_| "Parent".to_owned()),
                given(&|consent| self.date(consent.given_on)),
                given(&|consent| consent.how.clone()),
                if athlete.active { "yes".to_owned() } else { "no".to_owned() },
                "7\nupper".to_owned(),
            ]
        });
        self.write(&header, rows.collect())
    }

    fn staff(&self, data: &Dataset) -> Vec<u8> {
        let header = ["id", "first", "last", "mobile", "email", "roles", "teams", "duty", "Hours", "call order"];
        let rows = data.staff.iter().map(|member| {
            vec![
                member.id.0.clone(),
                member.first.clone(),
                member.last.clone(),
                member.phone.as_ref().map(ToString::to_string).unwrap_or_default(),
                member.email.clone().unwrap_or_default(),
                "Equipment manager; coach".to_owned(),
                member.teams.iter().map(ToString::to_string).collect::<Vec<_>>().join("|"),
                if member.duty.is_empty() { String::new() } else { "tue, sun".to_owned() },
                member.hours.map(|_| "13:30 - 7:00 PM".to_owned()).unwrap_or_default(),
                member.call_order.to_string(),
            ]
        });
        self.write(&header, rows.collect())
    }

    fn helmets(&self, data: &Dataset) -> Vec<u8> {
        let header = ["Tag", "Model", "Size", "Athlete", "Made", "Notes"];
        let rows = data.helmets.iter().map(|helmet| {
            vec![
                helmet.tag.0.clone(),
                helmet.model.clone(),
                helmet.size.clone().unwrap_or_default(),
                helmet.athlete.as_ref().map(ToString::to_string).unwrap_or_default(),
                helmet.made.map(|made| self.date(made)).unwrap_or_default(),
                helmet.notes.clone().unwrap_or_default(),
            ]
        });
        self.write(&header, rows.collect())
    }

    /// Columns turned round, separators, line ends, blank rows and encoding of this dress.
    fn write(&self, header: &[&str], rows: Vec<Vec<String>>) -> Vec<u8> {
        let mut writer = csv::WriterBuilder::new().delimiter(self.delimiter).flexible(true).from_writer(Vec::new());
        let header: Vec<_> = header.iter().map(|name| (*name).to_owned()).collect();
        let width = header.len();
        for mut row in [vec![header], rows].concat() {
            row.rotate_left(self.turn % width);
            writer.write_record(&row).unwrap();
            if self.blank {
                writer.write_record(vec![" "; width]).unwrap();
            }
        }
        let text = String::from_utf8(writer.into_inner().unwrap()).unwrap().replace('\n', self.line_end);
        match self.encoding {
            0 => text.into_bytes(),
            1 => format!("\u{feff}{text}").into_bytes(),
            2 => [0xFF, 0xFE].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect(),
            _ => [0xFE, 0xFF].into_iter().chain(text.encode_utf16().flat_map(u16::to_be_bytes)).collect(),
        }
    }
}
