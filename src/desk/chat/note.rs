//! Drills, kits and helmets noted in chat: the same words as by text, acted on by the same code, answered to the one who
//! wrote alone.

use crate::desk::inbound::staff::upkeep;
use crate::desk::once::Once;
use crate::desk::{Desk, DeskError, load};
use crate::store::rows::InMessage;
use crate::trade::roster::{ProgramId, StaffId};
use crate::trade::time::Moment;

impl Desk {
    /// Acts on words about drills, kits or helmets and gives the answer, which is texted to nobody; none when they are about
    /// none of these. `key` is the interaction's: a second time nothing is done again and the first answer is given.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails; then nothing was done.
    pub async fn noted_in_chat(
        &self,
        program: &ProgramId,
        staff: &StaffId,
        words: &str,
        key: &str,
        now: Moment,
    ) -> Result<Option<String>, DeskError> {
        let settings = self.program(program)?;
        let mut open = match self.begin_once(program, key, now).await? {
            Once::Do(open) => open,
            Once::Done(answer) => return Ok(Some(answer)),
        };
        let scene = &mut open.scene;
        let Some(member) = scene.staff.iter().find(|member| member.id == *staff).cloned() else { return Ok(None) };
        let message = InMessage {
            program: program.clone(),
            id: key.to_owned(),
            // Whoever is linked without a number of their own is answered all the same: nothing goes to this one.
            phone: member.phone.clone().unwrap_or_else(|| settings.number.clone()),
            body: words.to_owned(),
            photos: Vec::new(),
            carrier_answered: None,
            received_at: now,
            handled: true,
            athletes: Vec::new(),
            reading: None,
        };
        load::meant_by(&mut open.tx, scene, &[words]).await?;
        if !upkeep::obey(scene, &message, &member, words) {
            return Ok(None);
        }
        let own = format!("answer/{key}/{}", member.id);
        let answers: Vec<String> =
            scene.out.iter().filter(|out| out.id.starts_with(&own)).map(|out| out.body.clone()).collect();
        let welcome = format!("welcome/{}", message.phone);
        if scene.out.iter().any(|out| out.id == welcome) {
            scene.change_number(&message.phone, |number| number.welcomed_at = None);
        }
        scene.out.retain(|out| !out.id.starts_with(&own) && out.id != welcome);
        // A question by number waits for a text, and this was none.
        scene.change_number(&message.phone, |number| number.asked = None);
        let answer = answers.join("\n");
        self.end_once(open, key, answer.clone()).await?;
        Ok(Some(answer))
    }
}
