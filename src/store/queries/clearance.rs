//! Ways back from a hold: courses, what was recorded in them, clearances, check-ins.

use std::collections::BTreeSet;

use chrono::NaiveDate;

use crate::store::{Result, Tx, list};
use crate::trade::clearance::{CheckIn, Clearance, Course, CourseEntry};
use crate::trade::queue::Hold;
use crate::trade::roster::{AthleteId, ProgramId};

fn ids(athletes: &BTreeSet<AthleteId>) -> crate::store::Arg {
    list(athletes.iter().map(AthleteId::as_str))
}

impl Tx {
    /// Courses that are not over.
    pub async fn courses_open(&mut self, program: &ProgramId) -> Result<Vec<Course>> {
        self.select("WHERE program = $1 AND closed_at IS NULL ORDER BY opened_at", args![program]).await
    }

    /// All courses of some athletes.
    pub async fn courses_of(&mut self, program: &ProgramId, athletes: &BTreeSet<AthleteId>) -> Result<Vec<Course>> {
        self.select("WHERE program = $1 AND athlete IN LIST($2) ORDER BY opened_at", args![program, ids(athletes)])
            .await
    }

    /// What was recorded of an athlete, oldest first.
    pub async fn course_entries(&mut self, program: &ProgramId, athlete: &AthleteId) -> Result<Vec<CourseEntry>> {
        const TAIL: &str = "WHERE program = $1 AND athlete = $2 ORDER BY at, id";
        self.select(TAIL, args![program, athlete.as_str()]).await
    }

    /// Clearances of some athletes, oldest first.
    pub async fn clearances_of(
        &mut self,
        program: &ProgramId,
        athletes: &BTreeSet<AthleteId>,
    ) -> Result<Vec<Clearance>> {
        self.select("WHERE program = $1 AND athlete IN LIST($2) ORDER BY at", args![program, ids(athletes)]).await
    }

    /// Holds of some athletes, those that are over among them.
    pub async fn holds_ever(&mut self, program: &ProgramId, athletes: &BTreeSet<AthleteId>) -> Result<Vec<Hold>> {
        self.select("WHERE program = $1 AND athlete IN LIST($2) ORDER BY opened_at", args![program, ids(athletes)])
            .await
    }

    /// Check-ins since a day.
    pub async fn check_ins_since(&mut self, program: &ProgramId, since: NaiveDate) -> Result<Vec<CheckIn>> {
        self.select("WHERE program = $1 AND date >= $2 ORDER BY date, athlete", args![program, since]).await
    }

    /// Check-ins of an athlete, oldest first.
    pub async fn check_ins_of(&mut self, program: &ProgramId, athlete: &AthleteId) -> Result<Vec<CheckIn>> {
        const TAIL: &str = "WHERE program = $1 AND athlete = $2 ORDER BY date";
        self.select(TAIL, args![program, athlete.as_str()]).await
    }
}
