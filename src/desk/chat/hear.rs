//! What people press and pick on the platform, and what follows. Who may is decided by the linked person's role.

use super::commands::{self, Asking};
use super::{Bot, ChatDesk, render, tag};
use crate::channel::chat::press::Press;
use crate::channel::chat::{Interaction, Post, What, plain};
use crate::config::Program;
use crate::desk::DeskError;
use crate::desk::act::{Action, HandTo, Outcome, Via};
use crate::desk::scene::phone_words;
use crate::store::chat::{ChatLink, PersonKind};
use crate::trade::roster::{EventId, Language, StaffId, StaffMember};
use crate::trade::time::Moment;
use crate::wording::chat::{self as words, Say, say};

/// What is said back to the one who pressed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// Nothing: the post itself changes, or a direct message follows.
    Nothing,
    /// More words, to nobody else.
    FollowUp(Post),
    /// The answer to a command, or what its buttons become.
    Reply(Post),
}

impl Answer {
    pub(super) fn follow_up(what: Say, language: Language) -> Self {
        Self::FollowUp(Post::of(say(what, language)))
    }
}

impl ChatDesk {
    /// Acts on what somebody did. A second delivery of the same changes nothing again.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails; then nothing was done.
    pub async fn hear(&self, bot: &Bot, interaction: &Interaction, now: Moment) -> Result<Answer, DeskError> {
        let tag = match &interaction.what {
            What::Control { id, .. } => Press::read(id).and_then(|press| press.tag().map(ToOwned::to_owned)),
            What::Command { .. } => None,
        };
        let guild = interaction.guild.as_deref();
        let Some((program, link)) = self.whose(bot, guild, &interaction.user, tag.as_deref()).await? else {
            return Ok(Answer::FollowUp(Post::of(say(Say::NotSetUp, Language::En))));
        };
        match &interaction.what {
            What::Command { name, options } => {
                let post = self.command(program, link, interaction, name, options, now).await?;
                Ok(Answer::Reply(post))
            }
            What::Control { id, picked } => match Press::read(id) {
                Some(press) => self.press(program, link, interaction, press, picked.as_deref(), now).await,
                None => Ok(Answer::follow_up(Say::ItemGone, language(program))),
            },
        }
    }

    /// The program that an account acts in, and who it is there. From a server it is the server's program; from a direct
    /// message one that knows the account, where several do the one whose post the control stands under.
    pub(super) async fn whose(
        &self,
        bot: &Bot,
        guild: Option<&str>,
        user: &str,
        tag: Option<&str>,
    ) -> Result<Option<(&Program, Option<ChatLink>)>, DeskError> {
        let (mut first, mut known) = (None, None);
        for program in bot.programs.iter().filter_map(|id| self.desk.config().programs.get(id)) {
            let Some(chat) = &program.chat else { continue };
            if guild.is_some_and(|guild| guild != chat.guild) {
                continue;
            }
            let mut tx = self.desk.store().read().await?;
            let link = tx.chat_link(&program.id, user).await?;
            let its_own = match tag {
                Some(tag) => tx.chat_tagged(&program.id, tag).await?.is_some(),
                None => true,
            };
            match link {
                Some(link) if its_own => return Ok(Some((program, Some(link)))),
                Some(link) => _ = known.get_or_insert((program, Some(link))),
                None => _ = first.get_or_insert((program, None)),
            }
        }
        Ok(known.or(first))
    }

    /// The member of staff that a link stands for, while they are one.
    async fn member(&self, program: &Program, link: Option<&ChatLink>) -> Result<Option<StaffMember>, DeskError> {
        let Some(link) = link.filter(|link| link.kind == PersonKind::Staff) else { return Ok(None) };
        let staff = self.desk.store().read().await?.staff(&program.id).await?;
        Ok(staff.into_iter().find(|member| member.id.as_str() == link.person))
    }

    async fn press(
        &self,
        program: &Program,
        link: Option<ChatLink>,
        interaction: &Interaction,
        press: Press,
        picked: Option<&str>,
        now: Moment,
    ) -> Result<Answer, DeskError> {
        let Some(link) = link else {
            return Ok(Answer::FollowUp(Post::of(who_are_you(program))));
        };
        let press = match press {
            Press::Point(tag, point) => {
                return self.pressed_point(program, &link, interaction, &tag, Some(point), now).await;
            }
            Press::AllGood(tag) => return self.pressed_point(program, &link, interaction, &tag, None, now).await,
            other => other,
        };
        let Some(member) = self.member(program, Some(&link)).await? else {
            return Ok(Answer::follow_up(Say::NotStaff, language(program)));
        };
        let key = format!("chat/{}", interaction.id);
        match press {
            Press::LeaveOn => Ok(Answer::Reply(Post::of(say(Say::StillOn, member.language)))),
            Press::CallOff(tag) => self.call_off(program, &member, &tag, &key, now).await,
            press => {
                let Some(action) = self.action(program, &press, picked).await? else {
                    return Ok(Answer::follow_up(Say::ItemGone, member.language));
                };
                let outcome = self.desk.act(&program.id, &member.id, &action, &key, Via::Chat, now).await?;
                Ok(answer(&outcome, member.language))
            }
        }
    }

    /// What a control of an item's post asks for.
    async fn action(
        &self,
        program: &Program,
        press: &Press,
        picked: Option<&str>,
    ) -> Result<Option<Action>, DeskError> {
        let (Press::Take(tag) | Press::Done(tag) | Press::Fixed(tag) | Press::Hand(tag) | Press::Hold(tag)) = press
        else {
            return Ok(None);
        };
        let mut tx = self.desk.store().read().await?;
        let Some(post) = tx.chat_tagged(&program.id, tag).await? else { return Ok(None) };
        let Some(item) = tx.items_keyed(&program.id, &[&post.id]).await?.pop() else { return Ok(None) };
        drop(tx);
        Ok(match press {
            Press::Take(_) => Some(Action::Take { item: item.id }),
            Press::Done(_) => Some(Action::Done { item: item.id, what: None }),
            Press::Fixed(_) => {
                let what = picked.and_then(|key| words::fix(key, language(program)));
                what.map(|what| Action::Done { item: item.id, what: Some(what.to_owned()) })
            }
            Press::Hand(_) => picked.map(|to| {
                let to = if to == render::OPEN { HandTo::Open } else { HandTo::Staff(StaffId::from(to)) };
                Action::HandOn { item: item.id, to }
            }),
            Press::Hold(_) => item.athlete.map(|athlete| Action::HoldEquipment { athlete }),
            _ => None,
        })
    }

    async fn call_off(
        &self,
        program: &Program,
        member: &StaffMember,
        pressed: &str,
        key: &str,
        now: Moment,
    ) -> Result<Answer, DeskError> {
        let today = now.date(program.zone);
        let events = self.desk.store().read().await?.events(&program.id, today, today).await?;
        let event = events.into_iter().find(|event| event_tag(program, &event.id) == pressed);
        let language = member.language;
        let Some(event) = event.filter(|event| event.starts_at > now) else {
            return Ok(Answer::Reply(Post::of(say(Say::NoEvent, language))));
        };
        let action = Action::CallOff { event: event.id };
        let said = match self.desk.act(&program.id, &member.id, &action, key, Via::Chat, now).await? {
            Outcome::Done { who, told } => words::called_off(&who, &told.to_string(), language),
            Outcome::AlreadyDone { who, .. } => words::off_already(&who, language),
            Outcome::NotAllowed => say(Say::NotAllowed, language).to_owned(),
            Outcome::NotFound | Outcome::Medical { .. } => say(Say::NoEvent, language).to_owned(),
        };
        Ok(Answer::Reply(Post::of(said)))
    }

    async fn command(
        &self,
        program: &Program,
        link: Option<ChatLink>,
        interaction: &Interaction,
        name: &str,
        options: &[(String, String)],
        now: Moment,
    ) -> Result<Post, DeskError> {
        let option = |wanted: &str| options.iter().find(|(name, _)| name == wanted).map(|(_, text)| text.trim());
        match name {
            "link" => {
                let code = option("code").unwrap_or_default();
                return Ok(Post::of(self.link(&program.id, &interaction.user, code, now).await?));
            }
            "unlink" => return Ok(Post::of(self.unlink(&program.id, &interaction.user, now).await?)),
            _ => {}
        }
        if link.is_none() {
            return Ok(Post::of(who_are_you(program)));
        }
        let Some(member) = self.member(program, link.as_ref()).await? else {
            return Ok(Post::of(say(Say::NotStaff, language(program))));
        };
        let asking = Asking { desk: &self.desk, program, member: &member, now };
        match name {
            "today" => commands::today(&asking).await,
            "silent" => commands::silent(&asking).await,
            "athlete" => commands::athlete(&asking, option("who").unwrap_or_default()).await,
            "calloff" => commands::call_off(&asking, option("team")).await,
            "drill" | "kit" | "helmets" => {
                let said = option("text").unwrap_or_default();
                // A helmet's tag goes first in a text about one.
                let words =
                    if name == "helmets" && !said.is_empty() { said.to_owned() } else { format!("{name} {said}") };
                let key = format!("chat/{}", interaction.id);
                let answer = self.desk.noted_in_chat(&program.id, &member.id, &words, &key, now).await?;
                let unread = || say(Say::NotRead, member.language).to_owned();
                Ok(Post::of(plain(&answer.unwrap_or_else(unread))))
            }
            _ => Ok(Post::of(say(Say::ItemGone, member.language))),
        }
    }
}

/// The language of a program's posts.
pub(super) fn language(program: &Program) -> Language {
    program.chat.as_ref().map_or(Language::En, |chat| chat.language)
}

/// The tag of an event.
#[must_use]
pub fn event_tag(program: &Program, event: &EventId) -> String {
    tag(&program.id, &format!("event/{event}"))
}

/// What an account hears that nobody is known by.
#[must_use]
pub fn who_are_you(program: &Program) -> String {
    words::who_are_you(&phone_words(&program.number), language(program))
}

/// What is said of an outcome; what was done shows in the post.
fn answer(outcome: &Outcome, language: Language) -> Answer {
    match outcome {
        Outcome::Done { .. } => Answer::Nothing,
        Outcome::AlreadyDone { by: Some(by), .. } => {
            Answer::FollowUp(Post::of(words::has_it(&crate::channel::chat::plain(by), language)))
        }
        Outcome::AlreadyDone { by: None, .. } => Answer::follow_up(Say::ItemClosed, language),
        Outcome::NotAllowed => Answer::follow_up(Say::NotAllowed, language),
        Outcome::NotFound => Answer::follow_up(Say::ItemGone, language),
        Outcome::Medical { .. } => Answer::follow_up(Say::MedicalHold, language),
    }
}
