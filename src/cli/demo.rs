//! `browline demo`: a practice morning with simulated phones, in a throw-away folder. Nothing is sent to anybody.

use std::io::Write as _;
use std::sync::Arc;

use anyhow::{Context as _, Result};
use tokio::net::TcpListener;
use tokio::sync::watch;
use url::Url;

use super::{Ended, open};
use crate::rehearse::phones::router;
use crate::rehearse::scenario::{END, LISTED, moment};
use crate::rehearse::stage::{Options, Stage};
use crate::rehearse::story::Told;
use crate::rehearse::tour::tour;
use crate::trade::roster::Language;
use crate::web::board::{self, Board, Opening, SHARED_FOR};

/// What `demo` is told.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// The whole morning without waiting and without a page: prints the story and ends.
    #[arg(long)]
    plain: bool,
    /// One athlete's week from a symptom to a clearance, in this language: what the athlete, the family and the athletic
    /// trainer read and type.
    #[arg(long, value_name = "LANGUAGE", value_parser = ["en", "es"])]
    story: Option<String>,
    /// Decides how the crowd answers; the same seed is the same morning.
    #[arg(long, default_value_t = 1, value_name = "NUMBER")]
    seed: u64,
    /// Port of the page of phones, on this machine alone; 0 takes a free one.
    #[arg(long, default_value_t = 8095, value_name = "PORT")]
    port: u16,
    /// How many times as fast as life the practice clock runs; 0 stands still until it is stepped.
    #[arg(long, default_value_t = 20.0, value_name = "TIMES", value_parser = speed)]
    speed: f64,
}

fn speed(text: &str) -> Result<f64, String> {
    let speed: f64 = text.parse().map_err(|_| format!("`{text}` is not a number"))?;
    if (0.0..=600.0).contains(&speed) { Ok(speed) } else { Err("from 0 to 600".to_owned()) }
}

/// Runs the demo.
///
/// # Errors
/// When the throw-away folder or the port cannot be used.
pub fn run(args: Args) -> Result<Ended> {
    if let Some(language) = &args.story {
        let language = if language == "es" { Language::Es } else { Language::En };
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        let story = runtime.block_on(tour(language))?;
        say(&story.trim_end());
        return Ok(Ended::Well);
    }
    if args.plain {
        // One thread, so that the story follows from the seed alone.
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        runtime.block_on(plain(&args))
    } else {
        open::runtime()?.block_on(with_page(&args))
    }
}

/// A reader that goes away (`browline demo --plain | head`) ends the telling, not the program.
fn say(line: &impl std::fmt::Display) {
    let _ = writeln!(std::io::stdout(), "{line}");
}

async fn open_stage(args: &Args, staff: bool) -> Result<Stage> {
    let options = Options { seed: args.seed, staff, speed: 0.0 };
    let stage = Stage::open(options, |line: &Told| say(line)).await?;
    Ok(stage)
}

fn title(args: &Args) -> String {
    format!("A practice morning at Larkspur Valley High School, Tuesday September 15, 2026. Seed {}.", args.seed)
}

/// The whole morning on a clock that jumps from happening to happening; staff are simulated too.
async fn plain(args: &Args) -> Result<Ended> {
    say(&title(args));
    say(&"");
    let stage = open_stage(args, true).await?;
    for (at, head) in SUMS {
        stage.run_to(moment(at)).await?;
        sum_up(&stage, head).await?;
    }
    stage.desk.store().close().await;
    Ok(Ended::Well)
}

/// The morning with a page, at the clock's speed, until Ctrl-C or SIGTERM; staff and parents are left to whoever plays along.
async fn with_page(args: &Args) -> Result<Ended> {
    let listener = TcpListener::bind(("127.0.0.1", args.port))
        .await
        .with_context(|| format!("cannot listen on port {}\nhint: give another with --port", args.port))?;
    say(&title(args));
    let address = listener.local_addr()?;
    say(&format!("Phones: http://{address}/   Board: http://{address}/sign-in   Ctrl-C ends.\n"));
    let stage = Arc::new(open_stage(args, false).await?);
    stage.clock.set_speed(args.speed);
    let (stop, stopped) = watch::channel(false);
    let board = Board::open(Opening {
        desk: stage.desk.clone(),
        public_url: Url::parse(&format!("http://{address}/"))?,
        seed: open::secret_seed()?,
        shared_for: SHARED_FOR,
        closing: stopped.clone(),
    })?;
    let pages = router(Arc::clone(&stage)).merge(board::router(board));
    let server = tokio::spawn(axum::serve(listener, pages).into_future());
    let summary = tokio::spawn(sum_up_in_time(Arc::clone(&stage)));
    let driver = stage.drive(stopped);
    tokio::pin!(driver);
    let driven = tokio::select! {
        driven = &mut driver => driven,
        () = told_to_end() => {
            let _ = stop.send(true);
            driver.await
        }
    };
    server.abort();
    summary.abort();
    driven?;
    if stage.clock.now() < moment(END) {
        sum_up(&stage, "so far").await?;
    }
    stage.desk.store().close().await;
    Ok(Ended::Well)
}

/// Waits for Ctrl-C or SIGTERM, so that the throw-away folder is thrown away either way.
async fn told_to_end() {
    use tokio::signal::unix::{SignalKind, signal};
    let Ok(mut terminate) = signal(SignalKind::terminate()) else {
        let _ = tokio::signal::ctrl_c().await;
        return;
    };
    tokio::select! {
        _ = terminate.recv() => {}
        _ = tokio::signal::ctrl_c() => {}
    }
}

/// When and under which head the day is summed up.
const SUMS: [(&str, &str); 2] =
    [(LISTED, "2:00 pm, the fix list is out"), (END, "3:20 pm, ten minutes before practice")];

async fn sum_up(stage: &Stage, head: &str) -> Result<()> {
    let today = stage.today().await?;
    say(&format!("\n=== {head} ===\n{today}\n"));
    Ok(())
}

/// With a page the same, whenever the clock gets there.
async fn sum_up_in_time(stage: Arc<Stage>) {
    for (at, head) in SUMS {
        stage.clock.sleep_until(moment(at)).await;
        if let Err(error) = sum_up(&stage, head).await {
            tracing::error!(%error, "today cannot be put together");
        }
    }
}
