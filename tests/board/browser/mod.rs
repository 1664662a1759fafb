//! The board in a real browser, on the scenario's morning when the fix list is out. Ignored by cargo, run by tests/pages.sh.

mod driver;
mod flows;
mod pages;

use std::sync::Arc;

use browline::channel::simulated::Way;
use browline::rehearse::scenario::{LISTED, moment};
use browline::rehearse::stage::{Options, Stage};
use browline::trade::phone::Phone;
use browline::web::board::{Board, Opening, SHARED_FOR, router};
use tokio::net::TcpListener;
use tokio::sync::watch;
use url::Url;

use driver::Browser;

const ANA: &str = "+13125550101";
const COLE: &str = "+12245550139";
const COACH: &str = "+18155550155";
const DENISE: &str = "+17085550167";

/// The scenario's program with its board on a free port of this machine.
struct Scene {
    stage: Arc<Stage>,
    base: String,
    _stop: watch::Sender<bool>,
}

impl Scene {
    async fn at_two() -> Self {
        let stage = Stage::open(Options { seed: 1, staff: false, speed: 0.0 }, |_| {}).await.unwrap();
        stage.run_to(moment(LISTED)).await.unwrap();
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let (stop, closing) = watch::channel(false);
        let board = Board::open(Opening {
            desk: stage.desk.clone(),
            public_url: Url::parse(&base).unwrap(),
            seed: [7; 32],
            shared_for: SHARED_FOR,
            closing,
        })
        .unwrap();
        tokio::spawn(axum::serve(listener, router(board)).into_future());
        Self { stage: Arc::new(stage), base, _stop: stop }
    }

    /// Signs a browser in as a person would: number, text, link, button.
    async fn sign_in(&self, browser: &Browser, number: &str) {
        browser.goto(&format!("{}/sign-in", self.base)).await;
        browser.fill("#phone", number).await;
        browser.press("Text me a link").await;
        browser.waits_for("a text with a link is on its way").await;
        let link = self.texted_link(number).await;
        browser.goto(&link).await;
        browser.press("Sign in on this device").await;
        browser.waits_for("Sign out").await;
    }

    /// The link in the newest text on a simulated phone.
    async fn texted_link(&self, number: &str) -> String {
        let phone = Phone::parse(number).unwrap();
        for _ in 0..60 {
            self.pass(1).await;
            let texts = self.stage.carrier.texts_of(&phone);
            let newest = texts.iter().rfind(|text| text.way == Way::ToPhone && text.body.contains("/sign-in/"));
            if let Some(text) = newest {
                return text.body.split_whitespace().find(|word| word.starts_with(&self.base)).unwrap().to_owned();
            }
            driver::moment(50).await;
        }
        panic!("no link came to {number}");
    }

    async fn types(&self, number: &str, text: &str) {
        self.stage.types(&Phone::parse(number).unwrap(), text, false).await.unwrap();
        self.stage.settle().await.unwrap();
    }

    /// Lets seconds of practice go by: the number that texts come from has its pace.
    async fn pass(&self, seconds: i64) {
        let then = self.stage.clock.now().plus(chrono::TimeDelta::seconds(seconds));
        self.stage.run_to(then).await.unwrap();
    }

    /// What a phone got, newest last.
    fn got(&self, number: &Phone) -> Vec<String> {
        let texts = self.stage.carrier.texts_of(number).into_iter();
        texts.filter(|text| text.way == Way::ToPhone).map(|text| text.body).collect()
    }
}
