//! All that is coming, put together from every area: what `browline due`, the calendar feed and the board show.

use chrono::{NaiveDate, TimeDelta};

use super::scene::Scene;
use super::{Desk, DeskError};
use crate::config::Program;
use crate::store::Tx;
use crate::trade::coming::{Area, Coming, On, sort};
use crate::trade::roster::{Event, EventKind, ProgramId};
use crate::trade::time::Moment;

impl Desk {
    /// What is coming from one day to another, both included, in the order of time.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn coming(
        &self,
        program: &ProgramId,
        from: NaiveDate,
        to: NaiveDate,
        now: Moment,
    ) -> Result<Vec<Coming>, DeskError> {
        let program = self.program(program)?;
        let mut tx = self.store().read().await?;
        let scene = super::load::look(&mut tx, program, self.wording(program), now).await?;
        let mut coming = everything(&mut tx, &scene, from, to).await?;
        coming.retain(|coming| {
            let day = coming.on.day(program.zone);
            day >= from && day <= to
        });
        sort(&mut coming, program.zone);
        Ok(coming)
    }
}

/// Every area has a line here.
async fn everything(tx: &mut Tx, scene: &Scene<'_>, from: NaiveDate, to: NaiveDate) -> Result<Vec<Coming>, DeskError> {
    let program = scene.program;
    let events = tx.events(&program.id, from - TimeDelta::days(1), to + TimeDelta::days(1)).await?;
    let mut coming: Vec<Coming> =
        events.iter().filter(|event| !event.cancelled).map(|event| of_event(program, event)).collect();
    coming.extend(super::drills::remind::coming(tx, scene, &events).await?);
    coming.extend(super::clearance::remind::coming(tx, scene).await?);
    coming.extend(super::helmets::remind::coming(tx, scene).await?);
    coming.extend(super::kits::remind::coming(tx, scene, &events, (from, to)).await?);
    Ok(coming)
}

fn of_event(program: &Program, event: &Event) -> Coming {
    let team = program.teams.get(&event.team).map_or(event.team.as_str(), |team| team.name.as_str());
    let kind = match event.kind {
        EventKind::Practice => "practice",
        EventKind::Game => "game",
    };
    Coming {
        key: format!("event/{}", event.id),
        area: Area::Event,
        on: On::At(event.starts_at, event.ends_at),
        title: format!("{team} {kind}"),
        what: if event.helmets { String::new() } else { "without helmets".to_owned() },
        place: event.place.clone(),
        staff: Vec::new(),
        medical: false,
    }
}
