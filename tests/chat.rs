//! The chat platform's client on loopback: its requests against the platform's published description, its gateway
//! against drops, resumes and invalid sessions. Nothing here reaches another host.
#![allow(clippy::unwrap_used, clippy::expect_used, reason = "helpers of tests")]

#[path = "support/chat_description.rs"]
mod chat_description;
#[path = "chat/contract.rs"]
mod contract;
#[path = "support/fake_chat.rs"]
mod fake_chat;
#[path = "chat/gateway.rs"]
mod gateway;
#[path = "chat/peers.rs"]
mod peers;
#[path = "chat/rest.rs"]
mod rest;
#[path = "chat/serve.rs"]
mod serve;

use browline::channel::chat::press::Press;
use browline::channel::chat::rest::ChatRest;
use browline::channel::chat::{Control, Interaction, Post, Style, What};
use secrecy::SecretString;

use fake_chat::{APPLICATION, EQUIPMENT, FakeChat, GUILD, TOKEN};

fn client(base: &str) -> ChatRest {
    ChatRest::new(&base.parse().unwrap(), SecretString::from(TOKEN)).unwrap()
}

fn interaction(what: What) -> Interaction {
    Interaction {
        id: "170000000000000001".to_owned(),
        application: APPLICATION.to_owned(),
        token: "token-1".to_owned(),
        guild: Some(GUILD.to_owned()),
        user: "140000000000000001".to_owned(),
        what,
    }
}

/// A post with every kind of control.
fn post() -> Post {
    let tag = "0123456789abcdef".to_owned();
    let button = |press: Press, style| Control::Button { id: press.id(), label: "I take it".to_owned(), style };
    let choices = vec![("strap".to_owned(), "new chin strap".to_owned())];
    Post {
        text: "**#12 Jonah** · Tern L\nchin strap".to_owned(),
        rows: vec![
            vec![
                button(Press::Take(tag.clone()), Style::Primary),
                button(Press::Hold(tag.clone()), Style::Secondary),
                Control::Link { url: "https://kestrels.example/board/trainer".to_owned(), label: "page".to_owned() },
            ],
            vec![Control::Menu { id: Press::Fixed(tag).id(), prompt: "what was done?".to_owned(), choices }],
        ],
    }
}

/// Every kind of request that the program makes, once.
async fn everything(client: &ChatRest) {
    let control = interaction(What::Control { id: "b1:on".to_owned(), picked: None });
    let command = interaction(What::Command { name: "today".to_owned(), options: Vec::new() });
    client.ping().await.unwrap();
    client.see(EQUIPMENT).await.unwrap();
    client.gateway().await.unwrap();
    let made = client.create(EQUIPMENT, &post().wire(), "0123456789abcdef01234567").await.unwrap();
    client.edit(EQUIPMENT, &made.id, &Post::of("done").wire()).await.unwrap();
    client.open_direct("140000000000000001").await.unwrap();
    client.acknowledge(&control).await.unwrap();
    client.acknowledge(&command).await.unwrap();
    client.follow_up(&control, &Post::of("no")).await.unwrap();
    client.reply(&command, &post()).await.unwrap();
    client.set_commands(APPLICATION, GUILD, &browline::desk::chat::commands::all()).await.unwrap();
}
