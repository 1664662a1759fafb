//! Helmets on the board: how each stands, the plan of batches, what retires.

use serde::Serialize;

use crate::desk::helmets::record::{self, Said, may};
use crate::desk::helmets::say::plan_lines;
use crate::desk::helmets::{Rack, Retirements, load};
use crate::desk::once::Once;
use crate::desk::scene::Scene;
use crate::desk::{Desk, DeskError};
use crate::trade::roster::{Helmet, ProgramId, StaffMember};
use crate::trade::time::Moment;

/// Seasons looked ahead for what retires.
const SEASONS: i32 = 4;

/// One helmet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Row {
    /// Tag.
    pub tag: String,
    /// Model and size: "Tern M".
    pub model: String,
    /// Serial number.
    pub serial: Option<String>,
    /// Who wears it.
    pub who: Option<String>,
    /// How it stands, in words.
    pub standing: &'static str,
    /// It is worn and may not be.
    pub alert: bool,
    /// It has to leave before the next season.
    pub goes: bool,
    /// Made: "2023-03".
    pub made: Option<String>,
    /// Last recertified.
    pub recertified: Option<String>,
    /// Certified until.
    pub certified: Option<String>,
    /// Serves until the end of: "2032".
    pub serves: Option<String>,
    /// Expected back.
    pub expected: Option<String>,
    /// Condition marks, and why it failed.
    pub marks: Vec<String>,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HelmetsView {
    /// Helmets, those that may not be worn and are first.
    pub rows: Vec<Row>,
    /// How many stand how.
    pub counts: Vec<(&'static str, usize)>,
    /// The day on which helmets have to leave at the latest, in words.
    pub ship_by: Option<String>,
    /// How many have to.
    pub to_go: usize,
    /// The plan in lines; none without a season.
    pub plan: Option<Vec<String>>,
    /// What retires before the coming seasons.
    pub retirements: Vec<Retirements>,
}

impl Desk {
    /// The helmets page.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn board_helmets(&self, program: &ProgramId, now: Moment) -> Result<HelmetsView, DeskError> {
        let settings = self.program(program)?;
        let mut tx = self.core.store.read().await?;
        let scene = crate::desk::load::look(&mut tx, settings, self.wording(settings), now).await?;
        let rack = load(&mut tx, &scene).await?.unwrap_or_default();
        drop(tx);
        Ok(view(&scene, &rack))
    }

    /// Notes what a form on the board says of helmets; a form sent twice counts once. False, and nothing noted, when this
    /// member may not or there is no such helmet.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn note_helmets(
        &self,
        program: &ProgramId,
        member: &StaffMember,
        (tags, said): (&[String], &Said),
        key: &str,
        now: Moment,
    ) -> Result<bool, DeskError> {
        let Once::Do(mut open) = self.begin_once(program, key, now).await? else { return Ok(true) };
        let Some(rack) = load(&mut open.tx, &open.scene).await? else { return Ok(false) };
        let known = |tag: &String| rack.helmets.get(tag).is_some();
        if !may(member) || tags.is_empty() || !tags.iter().all(known) {
            return Ok(false);
        }
        let wearers = tags.iter().filter_map(|tag| rack.helmets.get(tag)?.athlete.clone()).collect();
        open.scene.rack = Some(rack);
        crate::desk::load::about(&mut open.tx, &mut open.scene, &[], wearers).await?;
        record::note(&mut open.scene, member, tags, said, key);
        self.end_once(open, key, "noted".to_owned()).await?;
        Ok(true)
    }
}

fn view(scene: &Scene<'_>, rack: &Rack) -> HelmetsView {
    let (settings, today) = (&scene.program.reconditioning, scene.today);
    let to_go: Vec<String> = rack.to_go(settings).into_iter().map(|helmet| helmet.tag.0.clone()).collect();
    let mut rows: Vec<(crate::trade::service::Standing, Row)> = rack
        .helmets
        .values()
        .map(|helmet| (rack.standing(helmet, settings, today), row(scene, rack, helmet, &to_go)))
        .collect();
    rows.sort_by(|(a, left), (b, right)| (!left.alert, a, &left.tag).cmp(&(!right.alert, b, &right.tag)));
    let mut counts: Vec<(&'static str, usize)> = Vec::new();
    for (standing, _) in &rows {
        match counts.iter_mut().find(|(words, _)| *words == standing.words()) {
            Some((_, count)) => *count += 1,
            None => counts.push((standing.words(), 1)),
        }
    }
    let ship_by = rack.way(settings, today).map(|way| way.ship_by.format("%A, %B %-d, %Y").to_string());
    let plan = rack.plan(settings, today).map(|plan| match plan {
        Ok(plan) => plan_lines(&plan),
        Err(error) => vec![format!("No plan: {error}.")],
    });
    HelmetsView {
        rows: rows.into_iter().map(|(_, row)| row).collect(),
        counts,
        ship_by,
        to_go: to_go.len(),
        plan,
        retirements: rack.retirements(settings, today, SEASONS),
    }
}

fn row(scene: &Scene<'_>, rack: &Rack, helmet: &Helmet, to_go: &[String]) -> Row {
    let (settings, today) = (&scene.program.reconditioning, scene.today);
    let limits = rack.limits(helmet, settings);
    let standing = rack.standing(helmet, settings, today);
    let athlete = helmet.athlete.as_ref().and_then(|id| rack.athletes.get(id));
    let day = |day: chrono::NaiveDate| day.format("%b %-d %Y").to_string();
    let mut marks = helmet.marks.clone();
    marks.extend(helmet.failed.as_ref().map(|why| format!("failed {why}")));
    Row {
        tag: helmet.tag.0.clone(),
        model: [Some(helmet.model.as_str()), helmet.size.as_deref()]
            .into_iter()
            .flatten()
            .collect::<Vec<_>>()
            .join(" "),
        serial: helmet.serial.clone(),
        who: athlete.map(crate::trade::roster::Athlete::short),
        standing: standing.words(),
        alert: athlete.is_some() && !standing.may_be_worn() && helmet.shipped.is_none(),
        goes: to_go.contains(&helmet.tag.0),
        made: helmet.made.map(|made| made.format("%b %Y").to_string()),
        recertified: helmet.recertified.map(day),
        certified: limits.certified.map(day),
        serves: limits.serves.map(|day| day.format("%Y").to_string()),
        expected: rack.expected(helmet, settings).map(day),
        marks,
    }
}
