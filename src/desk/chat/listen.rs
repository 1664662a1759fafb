//! What the gateway tells, one after the other: acted on here, answered beside.

use std::collections::VecDeque;

use chrono::TimeDelta;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinSet;

use super::hear::Answer;
use super::{Bot, ChatDesk, commands};
use crate::channel::chat::gateway::{Heard, listen, told_to_stop};
use crate::channel::chat::rest::ChatRest;
use crate::channel::chat::{ChatRefused, Interaction, Post, What};
use crate::desk::DeskError;
use crate::trade::roster::Language;
use crate::wording::chat::{Say, say};

/// Events that may wait to be acted on.
const MAY_WAIT: usize = 1_024;
/// A direct message that could not be stored is tried again after this: what was written is not dropped.
const TRY_AGAIN: TimeDelta = TimeDelta::seconds(5);
/// Longest wait for the last answers to be said.
const SAY_WITHIN: TimeDelta = TimeDelta::seconds(3);
/// First and longest wait before the gateway is tried again.
const AGAIN: (TimeDelta, TimeDelta) = (TimeDelta::seconds(5), TimeDelta::minutes(5));

impl ChatDesk {
    /// Listens for one bot until `stop` turns true, however often the connection ends.
    pub async fn listen(&self, bot: &Bot, stop: watch::Receiver<bool>) {
        let (heard, events) = mpsc::channel(MAY_WAIT);
        tokio::join!(self.connections(bot, heard, stop.clone()), self.events(bot, events, stop));
    }

    async fn connections(&self, bot: &Bot, heard: mpsc::Sender<Heard>, mut stop: watch::Receiver<bool>) {
        let mut wait = AGAIN.0;
        while !*stop.borrow() {
            let began = self.desk.clock().now();
            if let Err(error) = listen(&bot.rest, self.desk.clock(), heard.clone(), stop.clone()).await {
                tracing::warn!(%error, "the chat gateway; it is tried again");
                self.gateway_is(bot, &error.to_string()).await;
            }
            if *stop.borrow() {
                return;
            }
            // A connection that held begins anew with the shortest wait.
            let held = self.desk.clock().now().since(began) > AGAIN.1;
            wait = if held { AGAIN.0 } else { wait };
            tokio::select! {
                () = self.desk.clock().sleep(wait) => {}
                () = told_to_stop(&mut stop) => return,
            }
            wait = (wait * 2).min(AGAIN.1);
        }
    }

    /// Ends when it is told to, with what has come until then: the library's own tasks may hold on to the queue.
    async fn events(&self, bot: &Bot, mut events: mpsc::Receiver<Heard>, mut stop: watch::Receiver<bool>) {
        let mut answers = JoinSet::new();
        let mut commands_set = false;
        let mut again = VecDeque::new();
        loop {
            let event = tokio::select! {
                biased;
                event = events.recv() => event,
                () = told_to_stop(&mut stop) => break,
                () = self.desk.clock().sleep(TRY_AGAIN), if !again.is_empty() => again.pop_front().map(Heard::Written),
            };
            let Some(event) = event else { break };
            while answers.try_join_next().is_some() {}
            match event {
                // Ready comes again after an invalid session: nothing is done twice that was done well.
                Heard::Ready { application } => {
                    self.gateway_is(bot, "ready").await;
                    if !commands_set {
                        commands_set = self.set_commands(bot, &application).await;
                    }
                }
                Heard::Stage(stage) => self.gateway_is(bot, stage).await,
                Heard::Interaction(interaction) => {
                    let answer = self.hear_or_excuse(bot, &interaction).await;
                    answers.spawn(tell(bot.rest.clone(), interaction, answer));
                }
                Heard::Written(written) => {
                    let now = self.desk.clock().now();
                    if let Err(error) = self.written(bot, &written, now).await {
                        tracing::error!(%error, message = %written.id, "a direct message is tried again");
                        again.push_back(written);
                    }
                }
            }
        }
        tokio::select! {
            () = async { while answers.join_next().await.is_some() {} } => {}
            () = self.desk.clock().sleep(SAY_WITHIN) => tracing::warn!("some answers in chat were not said in time"),
        }
    }

    async fn hear_or_excuse(&self, bot: &Bot, interaction: &Interaction) -> Answer {
        let now = self.desk.clock().now();
        match self.hear(bot, interaction, now).await {
            Ok(answer) => answer,
            Err(error) => {
                tracing::error!(%error, interaction = %interaction.id, "an interaction could not be acted on");
                let post = Post::of(say(Say::Later, Language::En));
                match interaction.what {
                    What::Command { .. } => Answer::Reply(post),
                    What::Control { .. } => Answer::FollowUp(post),
                }
            }
        }
    }

    async fn set_commands(&self, bot: &Bot, application: &str) -> bool {
        let mut all = true;
        for (_, chat) in self.places().filter(|(program, _)| bot.programs.contains(&program.id)) {
            if let Err(error) = bot.rest.set_commands(application, &chat.guild, &commands::all()).await {
                tracing::warn!(%error, "the chat commands could not be set");
                all = false;
            }
        }
        all
    }

    /// Notes how the gateway stands, for `doctor`.
    async fn gateway_is(&self, bot: &Bot, stage: &str) {
        if let Err(error) = self.note_gateway(bot, stage).await {
            tracing::error!(%error, "how the chat gateway stands could not be noted");
        }
    }

    async fn note_gateway(&self, bot: &Bot, stage: &str) -> Result<(), DeskError> {
        let now = self.desk.clock().now();
        for program in &bot.programs {
            let mut tx = self.desk.store().write().await?;
            let mut state = tx.lock_chat_state(program).await?;
            state.gateway = Some(stage.chars().take(200).collect());
            state.gateway_at = Some(now);
            tx.put(&[state]).await?;
            tx.commit().await?;
        }
        Ok(())
    }
}

/// Says the answer. One that can no longer be said is dropped: what was done shows in the posts.
async fn tell(rest: ChatRest, interaction: Interaction, answer: Answer) {
    let said: Result<(), ChatRefused> = match answer {
        Answer::Nothing => Ok(()),
        Answer::FollowUp(post) if matches!(interaction.what, What::Command { .. }) => {
            rest.reply(&interaction, &post).await
        }
        Answer::FollowUp(post) => rest.follow_up(&interaction, &post).await,
        Answer::Reply(post) => rest.reply(&interaction, &post).await,
    };
    if let Err(error) = said {
        tracing::warn!(%error, interaction = %interaction.id, "an answer in chat could not be said");
    }
}
