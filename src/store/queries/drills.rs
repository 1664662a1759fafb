//! What drills ask: what was drilled, who is away, and where.

use chrono::NaiveDate;

use crate::store::{Result, Tx};
use crate::trade::drill::{Absence, Drill, Venue};
use crate::trade::roster::ProgramId;

impl Tx {
    /// Drills since a day, the oldest first.
    pub async fn drills_since(&mut self, program: &ProgramId, day: NaiveDate) -> Result<Vec<Drill>> {
        self.select("WHERE program = $1 AND date >= $2 ORDER BY date, id", args![program, day]).await
    }

    /// Every drill, for imports.
    pub async fn all_drills(&mut self, program: &ProgramId) -> Result<Vec<Drill>> {
        self.select("WHERE program = $1 ORDER BY id", args![program]).await
    }

    /// Absences that end on a day or later.
    pub async fn absences_from(&mut self, program: &ProgramId, day: NaiveDate) -> Result<Vec<Absence>> {
        self.select("WHERE program = $1 AND last >= $2 ORDER BY staff, first", args![program, day]).await
    }

    /// Models worn by active athletes, as "team<tab>model".
    pub async fn models_worn(&mut self, program: &ProgramId) -> Result<Vec<String>> {
        const SQL: &str = "SELECT DISTINCT athlete.team || '\t' || helmet.model FROM helmet \
                           JOIN athlete ON athlete.program = helmet.program AND athlete.id = helmet.athlete \
                           WHERE helmet.program = $1 AND athlete.active ORDER BY 1";
        self.texts(SQL, args![program]).await
    }

    /// The day on which the whole plan was last rehearsed.
    pub async fn last_rehearsed(&mut self, program: &ProgramId) -> Result<Option<NaiveDate>> {
        const SQL: &str = "SELECT date FROM drill WHERE program = $1 AND skill = 'whole_plan' AND NOT undone \
                           ORDER BY date DESC LIMIT 1";
        Ok(self.texts(SQL, args![program]).await?.pop().and_then(|day| day.parse().ok()))
    }

    /// Whether the program has drills or venues at all.
    pub async fn has_drills(&mut self, program: &ProgramId) -> Result<bool> {
        const SQL: &str = "SELECT program FROM drill WHERE program = $1 UNION ALL SELECT program FROM venue WHERE program = $1 LIMIT 1";
        Ok(!self.texts(SQL, args![program]).await?.is_empty())
    }

    /// Every venue.
    pub async fn venues(&mut self, program: &ProgramId) -> Result<Vec<Venue>> {
        self.select("WHERE program = $1 ORDER BY name", args![program]).await
    }
}
