//! What a form on the board or a command in chat brings about: once, however often it is sent.

use super::reminders::Open;
use super::{Desk, DeskError, load};
use crate::store::rows::Happening;
use crate::trade::roster::ProgramId;
use crate::trade::time::Moment;

/// Whether it is to be done, or was.
pub(super) enum Once<'a> {
    /// It is to be done, in this transaction.
    Do(Box<Open<'a>>),
    /// It was done before, with this outcome.
    Done(String),
}

fn id(key: &str) -> String {
    format!("act/{key}")
}

impl Desk {
    /// Begins what has this natural key, under the program's lock.
    pub(super) async fn begin_once(&self, program: &ProgramId, key: &str, now: Moment) -> Result<Once<'_>, DeskError> {
        let settings = self.program(program)?;
        let mut tx = self.store().write().await?;
        let scene = load::begin(&mut tx, settings, self.wording(settings), now).await?;
        let before = tx.happened(program, &[&id(key)]).await?.pop();
        Ok(before.map_or(Once::Do(Box::new(Open { tx, scene })), |before| Once::Done(before.outcome)))
    }

    /// Ends it: what it changed and its outcome are committed together.
    pub(super) async fn end_once(&self, open: Box<Open<'_>>, key: &str, outcome: String) -> Result<(), DeskError> {
        let Open { tx, mut scene } = *open;
        let row = Happening { program: scene.program.id.clone(), id: id(key), at: scene.now, outcome };
        scene.happenings.push(row);
        self.finish(tx, scene).await
    }
}
