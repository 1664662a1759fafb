//! An action in a transaction of its own: for chat and board, which have no message to be stored with it.

use std::collections::BTreeSet;

use super::{Action, By, Outcome, Via, act};
use crate::desk::{Desk, DeskError, load};
use crate::store::rows::Happening;
use crate::trade::roster::{ProgramId, StaffId};
use crate::trade::time::Moment;

impl Desk {
    /// Does what a member of staff asks for by chat or board, under the program's lock, and returns after the commit.
    /// `key` is natural, the interaction's or the form's own: asked a second time, nothing is done again and the first
    /// outcome is given.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails; then nothing was done.
    pub async fn act(
        &self,
        program: &ProgramId,
        staff: &StaffId,
        action: &Action,
        key: &str,
        via: Via<'_>,
        now: Moment,
    ) -> Result<Outcome, DeskError> {
        let settings = self.program(program)?;
        let mut tx = self.store().write().await?;
        let mut scene = load::begin(&mut tx, settings, self.wording(settings), now).await?;
        let id = format!("act/{key}");
        if let Some(before) = tx.happened(program, &[&id]).await?.pop() {
            let unknown = Outcome::AlreadyDone { who: String::new(), by: None };
            return Ok(serde_json::from_str(&before.outcome).unwrap_or(unknown));
        }
        let Some(member) = scene.staff.iter().find(|member| member.id == *staff).cloned() else {
            return Ok(Outcome::NotAllowed);
        };
        match action {
            Action::CallOff { .. } => load::whole_day(&mut tx, &mut scene).await?,
            _ => {
                let items: Vec<&str> = action.item().into_iter().collect();
                let athletes: BTreeSet<_> = action.athlete().cloned().into_iter().collect();
                load::about(&mut tx, &mut scene, &items, athletes).await?;
            }
        }
        if matches!(action, Action::Done { .. }) {
            scene.kits = crate::desk::kits::load(&mut tx, &scene).await?;
        }
        let outcome = act(&mut scene, &By { member: &member, via, key }, action);
        if !outcome.is_done() {
            return Ok(outcome);
        }
        let told = serde_json::to_string(&outcome).unwrap_or_default();
        scene.happenings.push(Happening { program: program.clone(), id, at: now, outcome: told });
        self.finish(tx, scene).await?;
        Ok(outcome)
    }
}
