//! A program with two teams, and short ways to read files for it.

use browline::intake::{Dataset, Frame, HORIZON_DAYS, Note, Problem, SourceFile, parse};
use browline::trade::roster::{Athlete, ProgramId, TeamId};
use browline::trade::time::Moment;
use chrono_tz::Tz;

/// The school of the tests.
pub struct School {
    pub program: ProgramId,
    pub teams: Vec<(TeamId, String)>,
    pub zone: Tz,
    pub now: Moment,
    pub known: Vec<Athlete>,
    pub horizon_days: i64,
}

impl Default for School {
    fn default() -> Self {
        Self {
            program: ProgramId::from("kestrels"),
            teams: vec![
                (TeamId::from("varsity"), "Kestrels Varsity".to_owned()),
                (TeamId::from("jv"), "Junior Varsity".to_owned()),
            ],
            zone: chrono_tz::America::Chicago,
            now: Moment::parse("2026-08-20T12:00:00Z").unwrap(),
            known: Vec::new(),
            horizon_days: HORIZON_DAYS,
        }
    }
}

impl School {
    pub fn in_zone(zone: Tz, now: &str) -> Self {
        Self { zone, now: Moment::parse(now).unwrap(), ..Self::default() }
    }

    pub fn frame(&self) -> Frame<'_> {
        Frame {
            program: &self.program,
            zone: self.zone,
            teams: &self.teams,
            known_athletes: &self.known,
            known_staff: &[],
            now: self.now,
            horizon_days: self.horizon_days,
            progressions: &[],
        }
    }

    pub fn parse(&self, files: &[(&str, &[u8])]) -> Result<(Dataset, Vec<Note>), Vec<Problem>> {
        let files: Vec<_> =
            files.iter().map(|(name, bytes)| SourceFile { name: (*name).to_owned(), bytes: bytes.to_vec() }).collect();
        parse(&files, &self.frame())
    }

    pub fn read(&self, files: &[(&str, &str)]) -> Dataset {
        self.read_with_notes(files).0
    }

    pub fn read_with_notes(&self, files: &[(&str, &str)]) -> (Dataset, Vec<String>) {
        let files: Vec<_> = files.iter().map(|(name, text)| (*name, text.as_bytes())).collect();
        match self.parse(&files) {
            Ok((data, notes)) => (data, notes.iter().map(ToString::to_string).collect()),
            Err(problems) => {
                let lines: Vec<_> = problems.iter().map(ToString::to_string).collect();
                panic!("problems:\n{}", lines.join("\n"))
            }
        }
    }

    pub fn problems(&self, files: &[(&str, &str)]) -> Vec<String> {
        let files: Vec<_> = files.iter().map(|(name, text)| (*name, text.as_bytes())).collect();
        match self.parse(&files) {
            Ok(_) => Vec::new(),
            Err(problems) => problems.iter().map(ToString::to_string).collect(),
        }
    }
}

/// A calendar around entries, with the line ends that the standard asks for.
pub fn calendar(entries: &str) -> String {
    format!("BEGIN:VCALENDAR\nVERSION:2.0\n{entries}\nEND:VCALENDAR\n").replace('\n', "\r\n")
}

/// One entry; `lines` are its properties without a UID.
pub fn entry(uid: &str, lines: &str) -> String {
    format!("BEGIN:VEVENT\nUID:{uid}\n{lines}\nEND:VEVENT")
}
