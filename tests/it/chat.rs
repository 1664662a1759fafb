//! The desk in chat, on both engines, against a platform on loopback.

mod direct;
mod linking;
mod posts;
mod staff;
mod whole;

use browline::channel::chat::{Interaction, Post, What};
use browline::desk::chat::hear::Answer;
use browline::desk::chat::{Bot, ChatDesk};
use browline::desk::doctor::{Finding, Gravity};
use browline::store::chat::ChatPost;
use browline::trade::queue::Item;

use crate::fake_chat::{APPLICATION, FakeChat, GUILD, TOKEN, options};
use crate::support::*;

pub const COLE_USER: &str = "140000000000000002";
pub const DANE_USER: &str = "140000000000000003";
pub const STRANGER: &str = "140000000000000009";
pub const MARCUS_USER: &str = "140000000000000012";
pub const NOAH_USER: &str = "140000000000000014";

/// Runs one body on both engines, each with a platform of its own.
macro_rules! in_chat {
    ($($(#[$doc:meta])* async fn $name:ident($room:ident) $body:block)+) => {$(
        mod $name {
            use super::*;
            $(#[$doc])*
            async fn body($room: $crate::chat::Room) $body

            #[tokio::test]
            async fn sqlite() {
                body($crate::chat::Room::open($crate::support::Engine::Sqlite, "").await).await;
            }

            #[tokio::test]
            async fn postgres() {
                body($crate::chat::Room::open($crate::support::Engine::Postgres, "").await).await;
            }
        }
    )+};
}
pub(crate) use in_chat;

/// A program with a place on the platform, and the platform.
pub struct Room {
    pub world: World,
    pub fake: FakeChat,
    pub chat: ChatDesk,
    interactions: std::cell::Cell<u64>,
}

/// The settings of a program with chat; `more` are further lines of its chat.
pub fn settings(base: &str, more: &str) -> String {
    let chat = format!(
        "[programs.larkspur.chat]\nguild = \"{GUILD}\"\nequipment = \"120000000000000001\"\n\
         medical = \"120000000000000002\"\ncontact = \"120000000000000003\"\n{more}\n"
    );
    let server = "[server]\npublic_url = \"https://kestrels.example\"\n";
    format!("{server}[chat]\nbase_url = \"{base}\"\n{CONFIG}\n{chat}")
}

pub fn env(key: &str) -> Option<String> {
    (key == "BROWLINE_CHAT_TOKEN").then(|| TOKEN.to_owned())
}

impl Room {
    pub async fn open(engine: Engine, more: &str) -> Self {
        let fake = FakeChat::start().await;
        Self::at(engine, fake, more).await
    }

    pub async fn at(engine: Engine, fake: FakeChat, more: &str) -> Self {
        let world = World::empty_with(engine, &settings(&fake.base, more), env).await;
        world.desk.import(&world.program, &roster(), world.clock.now(), false).await.unwrap();
        let chat = ChatDesk::open(&world.desk).unwrap().expect("a bot");
        Self { world, fake, chat, interactions: std::cell::Cell::new(170_000_000_000_000_000) }
    }

    pub fn bot(&self) -> &Bot {
        &self.chat.bots()[0]
    }

    /// Posts what changed.
    pub async fn settle(&self) {
        let now = self.world.clock.now();
        self.chat.sync(now).await.unwrap();
        self.chat.post_due(now).await.unwrap();
    }

    /// A phone writes, what follows is sent and posted.
    pub async fn text(&self, from: &str, body: &str) {
        self.world.text(from, body).await;
        self.settle().await;
    }

    pub fn interaction(&self, user: &str, what: What) -> Interaction {
        self.interactions.set(self.interactions.get() + 1);
        let id = self.interactions.get().to_string();
        Interaction {
            token: format!("token-{id}"),
            id,
            application: APPLICATION.to_owned(),
            guild: Some(GUILD.to_owned()),
            user: user.to_owned(),
            what,
        }
    }

    pub async fn hear(&self, interaction: &Interaction) -> Answer {
        self.chat.hear(self.bot(), interaction, self.world.clock.now()).await.unwrap()
    }

    /// Somebody uses a control; what follows is sent and posted.
    pub async fn press(&self, user: &str, control: &str, picked: Option<&str>) -> Answer {
        let what = What::Control { id: control.to_owned(), picked: picked.map(ToOwned::to_owned) };
        let answer = self.hear(&self.interaction(user, what)).await;
        self.world.desk.send_due(self.world.clock.now()).await.unwrap();
        self.settle().await;
        answer
    }

    /// Somebody uses a command.
    pub async fn command(&self, user: &str, name: &str, with: &[(&str, &str)]) -> Post {
        let what = What::Command { name: name.to_owned(), options: options(with) };
        match self.hear(&self.interaction(user, what)).await {
            Answer::Reply(post) => post,
            other => panic!("{name}: {other:?}"),
        }
    }

    /// The code in the last text that a phone got.
    pub fn code(&self, phone: &str) -> String {
        let texts = self.world.got(phone);
        let code = texts.iter().rev().find_map(|text| text.split("/link ").nth(1));
        let after = code.unwrap_or_else(|| panic!("no code in {texts:?}"));
        after.split_whitespace().next().unwrap().to_owned()
    }

    /// Links an account as a person would.
    pub async fn link(&self, phone: &str, user: &str) {
        self.world.text(phone, "Chat").await;
        let said = self.command(user, "link", &[("code", &self.code(phone))]).await;
        assert!(said.text.starts_with("Thanks"), "{said:?}");
    }

    pub async fn item(&self, id: &str) -> Item {
        let mut tx = self.world.desk.store().read().await.unwrap();
        tx.items_keyed(&self.world.program, &[id]).await.unwrap().pop().unwrap()
    }

    pub async fn rows(&self) -> Vec<ChatPost> {
        let mut tx = self.world.desk.store().read().await.unwrap();
        tx.chat_posts(&self.world.program).await.unwrap()
    }

    /// What the doctor finds wrong with the chat.
    pub async fn broken(&self) -> Vec<String> {
        let program = self.world.desk.program(&self.world.program).unwrap();
        let found: Vec<Finding> = self.world.desk.examine(program, self.world.clock.now()).await.unwrap();
        found
            .into_iter()
            .filter(|one| one.gravity != Gravity::Fine && one.what.contains("chat"))
            .map(|one| one.what)
            .collect()
    }
}

pub fn said(answer: &Answer) -> &str {
    match answer {
        Answer::FollowUp(post) | Answer::Reply(post) => &post.text,
        Answer::Nothing => "",
    }
}
