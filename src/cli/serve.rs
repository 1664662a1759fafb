//! `browline serve`: the schedule, the sender and the webhooks, until told to stop.

use std::net::{IpAddr, SocketAddr};
use std::path::Path;
use std::sync::Arc;

use anyhow::{Context as _, Result, bail};
use metrics_exporter_prometheus::PrometheusBuilder;
use secrecy::SecretString;
use tokio::net::TcpListener;
use tokio::sync::watch;

use super::{Ended, open};
use crate::clock::Clock;
use crate::config::Config;
use crate::desk::chat::ChatDesk;
use crate::run;
use crate::trade::time::Moment;
use crate::web::board::{self, Board, Opening, SHARED_FOR};
use crate::web::{Web, router};

/// What `serve` is told.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Rehearse: start the clock at this moment. Only with a carrier on this machine.
    #[arg(long, value_parser = open::moment, value_name = "TIME")]
    practice_from: Option<Moment>,
    /// Rehearse: run the clock this many times as fast as life.
    #[arg(long, default_value_t = 1.0, requires = "practice_from", value_name = "TIMES")]
    practice_speed: f64,
    /// Logs as JSON lines.
    #[arg(long)]
    log_json: bool,
}

/// Runs until SIGTERM or Ctrl-C, then finishes what is in hand.
///
/// # Errors
/// When the configuration, the credentials, the texts, the store or the address cannot be used.
pub fn run(path: &Path, args: Args) -> Result<Ended> {
    logs(args.log_json);
    let config = open::config(path)?;
    let clock = clock(&config, &args)?;
    let carrier = open::carrier(&config)?;
    let Some(public_url) = config.public_url.clone() else {
        bail!("server.public_url is not set\nhint: it is the https address at which the carrier reaches this server");
    };
    let token = Arc::new(config.carrier.token.clone().unwrap_or_else(|| SecretString::from("")));
    open::runtime()?.block_on(async {
        let metrics = PrometheusBuilder::new().install_recorder().ok();
        let listen = config.listen.clone();
        let mailer = open::mailer(&config)?;
        let desk = open::desk(config, clock, Arc::new(carrier)).await?;
        let listener = TcpListener::bind(&listen).await.with_context(|| format!("cannot listen on {listen}"))?;
        let address = listener.local_addr()?;
        tracing::info!(%address, "listening");
        eprintln!("browline listens on {address}; the carrier calls {public_url}sms/inbound; staff sign in at {public_url}sign-in");
        let (stop, stopped) = watch::channel(false);
        let board = Board::open(Opening {
            desk: desk.clone(),
            public_url: public_url.clone(),
            seed: open::secret_seed()?,
            shared_for: SHARED_FOR,
            closing: stopped.clone(),
        })?;
        let web = Web { desk: desk.clone(), token, public_url, metrics };
        let routes = router(web).merge(board::router(board)).into_make_service_with_connect_info::<SocketAddr>();
        let server = axum::serve(listener, routes).with_graceful_shutdown(until(stopped.clone()));
        let mail_stopped = stopped.clone();
        let chat = ChatDesk::open(&desk)?;
        let loops = run::run(&desk, stopped.clone());
        let chats = async {
            if let Some(chat) = &chat {
                run::chat(chat, stopped).await;
            }
        };
        let letters = async {
            if let Some(mailer) = &mailer {
                run::mail(&desk, mailer, mail_stopped).await;
            }
        };
        let ends = async {
            signal().await;
            tracing::info!("stopping: finishing what is in hand");
            let _ = stop.send(true);
        };
        let (served, (), (), (), ()) = tokio::join!(server, loops, chats, letters, ends);
        served?;
        desk.store().close().await;
        Ok(Ended::Well)
    })
}

fn clock(config: &Config, args: &Args) -> Result<Clock> {
    let Some(start) = args.practice_from else { return Ok(Clock::system()) };
    let here = |url: &url::Url| {
        url.host_str().is_some_and(|host| {
            host == "localhost" || host.trim_matches(['[', ']']).parse::<IpAddr>().is_ok_and(|ip| ip.is_loopback())
        })
    };
    let chats = config.programs.values().any(|program| program.chat.as_ref().is_some_and(|chat| chat.token.is_some()));
    if chats && !here(&config.chat_url) {
        bail!(
            "a practice clock would post to real people at the wrong time\n\
             hint: it needs a chat platform on this machine, or no chat token"
        );
    }
    if !here(&config.carrier.base_url) {
        bail!(
            "a practice clock would text real people at the wrong time\n\
             hint: it needs a carrier on this machine; set carrier.base_url to http://127.0.0.1:PORT"
        );
    }
    Ok(Clock::practice(start, args.practice_speed))
}

fn logs(json: bool) {
    use tracing_subscriber::EnvFilter;
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new("info"));
    let logs = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    if json {
        logs.json().init();
    } else {
        logs.init();
    }
}

async fn until(mut stopped: watch::Receiver<bool>) {
    // The sender lives as long as the server.
    let _ = stopped.wait_for(|stopped| *stopped).await;
}

async fn signal() {
    use tokio::signal::unix::{SignalKind, signal};
    match signal(SignalKind::terminate()) {
        Ok(mut terminate) => {
            tokio::select! {
                _ = terminate.recv() => {}
                _ = tokio::signal::ctrl_c() => {}
            }
        }
        Err(_) => {
            let _ = tokio::signal::ctrl_c().await;
        }
    }
}
