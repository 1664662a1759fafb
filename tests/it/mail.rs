//! Notices by e-mail: through a mail server on loopback, acknowledged and stopped by the guardian's own page.

use std::sync::{Arc, Mutex};

use axum::body::Body;
use axum::http::{Request, StatusCode, header};
use browline::channel::mail::{MailSettings, Mailer, Safety};
use browline::web::{Web, router};
use http_body_util::BodyExt as _;
use secrecy::SecretString;
use tokio::io::{AsyncBufReadExt as _, AsyncWriteExt as _, BufReader};
use tokio::net::TcpListener;
use tower::ServiceExt as _;
use url::Url;

use crate::on_both_engines;
use crate::support::*;

const PUBLIC: &str = "https://kestrels.example.org/";
const GUARDIANS_BY_MAIL: &str = "\
id,first,last,phone,email,language,athletes,relation,way,consent_date,consent_how
g1,Mara,Reyes,312-555-0110,,en,a1;a2,mother,text,2026-08-01,signed form
g2,Rosa,Soto,312-555-0120,rosa.soto@example.org,es,a3,mother,email,2026-08-02,signed form
g3,Paul,Soto,,gone@example.org,en,a3,father,email,,
";

/// A mail server that takes what it gets, but for receivers that begin with "gone", and but for `busy` first connections.
struct Sink {
    port: u16,
    got: Arc<Mutex<Vec<String>>>,
}

impl Sink {
    async fn open(busy: usize) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let port = listener.local_addr().unwrap().port();
        let got = Arc::new(Mutex::new(Vec::new()));
        let kept = Arc::clone(&got);
        tokio::spawn(async move {
            let mut left = busy;
            while let Ok((stream, _)) = listener.accept().await {
                let is_busy = left > 0;
                left = left.saturating_sub(1);
                tokio::spawn(converse(stream, is_busy, Arc::clone(&kept)));
            }
        });
        Self { port, got }
    }

    fn mailer(&self) -> Mailer {
        let settings = MailSettings {
            host: "127.0.0.1".into(),
            port: self.port,
            safety: Safety::None,
            login: None,
            from: "notices@kestrels.example".into(),
        };
        Mailer::new(settings).unwrap()
    }

    fn got(&self) -> Vec<String> {
        self.got.lock().unwrap().clone()
    }
}

async fn converse(stream: tokio::net::TcpStream, busy: bool, got: Arc<Mutex<Vec<String>>>) {
    let (read, mut write) = stream.into_split();
    let mut lines = BufReader::new(read).lines();
    let hello = if busy { "421 try later\r\n" } else { "220 sink\r\n" };
    write.write_all(hello.as_bytes()).await.unwrap();
    let (mut data, mut letter) = (false, String::new());
    while let Ok(Some(line)) = lines.next_line().await {
        let answer = if data {
            if line == "." {
                data = false;
                if let Ok(folder) = std::env::var("BROWLINE_LETTERS") {
                    let number = std::fs::read_dir(&folder).unwrap().count();
                    std::fs::write(format!("{folder}/{number}.eml"), &letter).unwrap();
                }
                got.lock().unwrap().push(std::mem::take(&mut letter));
                "250 taken\r\n"
            } else {
                letter.push_str(line.strip_prefix('.').unwrap_or(&line));
                letter.push_str("\r\n");
                continue;
            }
        } else if line.starts_with("RCPT") && line.contains("<gone") {
            "550 no such mailbox\r\n"
        } else if line == "DATA" {
            data = true;
            "354 go on\r\n"
        } else if line == "QUIT" {
            "221 bye\r\n"
        } else {
            "250 fine\r\n"
        };
        if write.write_all(answer.as_bytes()).await.is_err() {
            return;
        }
    }
}

async fn world(engine: Engine) -> World {
    let config = format!("[server]\npublic_url = \"{PUBLIC}\"\n{CONFIG}");
    let world =
        World::empty_with(engine, &config, |key| (key == browline::config::CARRIER_TOKEN).then(|| "token".to_owned()))
            .await;
    let mut all = roster();
    all.retain(|file| file.name != "guardians.csv");
    all.extend(files(&[("guardians.csv", GUARDIANS_BY_MAIL)]));
    world.desk.import(&world.program, &all, world.clock.now(), false).await.unwrap();
    world.to("15T06:45:00").await;
    world.text(IVAN, "me duele la cabeza").await;
    world
}

async fn ask(world: &World, method: &str, address: &str, body: &'static str) -> (StatusCode, String) {
    let web = Web {
        desk: world.desk.clone(),
        token: Arc::new(SecretString::from("token")),
        public_url: Url::parse(PUBLIC).unwrap(),
        metrics: None,
    };
    let request = Request::builder()
        .method(method)
        .uri(address.replace(PUBLIC, "/"))
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .body(Body::from(body))
        .unwrap();
    let answer = router(web).oneshot(request).await.unwrap();
    let status = answer.status();
    (status, String::from_utf8_lossy(&answer.into_body().collect().await.unwrap().to_bytes()).into_owned())
}

/// The part between angle brackets in a header.
fn link(letter: &str, header: &str) -> String {
    let unfolded = letter.replace("\r\n ", " ");
    let line = unfolded.lines().find(|line| line.starts_with(&format!("{header}:"))).expect(header).to_owned();
    line.split_once('<').unwrap().1.split('>').next().unwrap().to_owned()
}

on_both_engines! {
    async fn a_notice_goes_by_mail_and_is_acknowledged_by_its_link(fresh) {
        let world = world(fresh.engine).await;
        let sink = Sink::open(0).await;
        let report = world.desk.send_mail_due(&sink.mailer(), world.clock.now()).await.unwrap();
        assert_eq!((report.sent, report.failed), (1, 1), "{report:?}");
        let letters = sink.got();
        assert_eq!(letters.len(), 1);
        let letter = &letters[0];
        assert!(letter.contains("To: rosa.soto@example.org") && letter.contains("MIME-Version: 1.0"), "{letter}");
        assert!(letter.contains("List-Unsubscribe-Post: List-Unsubscribe=One-Click"), "{letter}");
        for word in ["conmoc", "cabeza", "head", "Soto,"] {
            assert!(!letter.contains(word), "{word}: {letter}");
        }
        // The address that the server refused: staff are asked, nothing more goes there.
        let contact: Vec<_> = world.open_items().await.into_iter().filter_map(|item| item.about).collect();
        assert!(contact.iter().any(|about| about.contains("Paul Soto")), "{contact:?}");

        let stop = link(letter, "List-Unsubscribe");
        let page = stop.strip_suffix("/stop").unwrap().to_owned();
        let (status, shown) = ask(&world, "GET", &page, "").await;
        assert_eq!(status, StatusCode::OK);
        assert!(shown.contains("Ivan") && shown.contains("en pausa") && shown.contains("Lo he leído"), "{shown}");
        assert!(shown.contains("llame a Ana, 312-555-0101"), "{shown}");
        assert_eq!(ask(&world, "GET", &format!("{}0", page), "").await.0, StatusCode::NOT_FOUND, "a guessed mark");
        let (status, shown) = ask(&world, "POST", &page, "").await;
        assert_eq!(status, StatusCode::OK);
        assert!(shown.contains("Gracias, Rosa") && !shown.contains("Lo he leído"), "{shown}");
        world.through("15T12:00:00").await;
        world.desk.send_mail_due(&sink.mailer(), world.clock.now()).await.unwrap();
        assert_eq!(sink.got().len(), 1, "who has read it is not asked again");
        world.record_holds().await;
    }

    async fn one_request_ends_mail_and_a_look_does_not(fresh) {
        let world = world(fresh.engine).await;
        let sink = Sink::open(0).await;
        world.desk.send_mail_due(&sink.mailer(), world.clock.now()).await.unwrap();
        let stop = link(&sink.got()[0], "List-Unsubscribe");
        ask(&world, "GET", &stop, "").await;
        let (_, shown) = ask(&world, "GET", stop.strip_suffix("/stop").unwrap(), "").await;
        assert!(shown.contains("No más correos"), "a look stops nothing: {shown}");
        let (status, shown) = ask(&world, "POST", &stop, "List-Unsubscribe=One-Click").await;
        assert_eq!(status, StatusCode::OK);
        assert!(shown.contains("No le mandaremos más correos"), "{shown}");
        world.through("15T12:00:00").await;
        world.desk.send_mail_due(&sink.mailer(), world.clock.now()).await.unwrap();
        assert_eq!(sink.got().len(), 1, "nothing more goes there");
        let open: Vec<_> = world.open_items().await.into_iter().filter_map(|item| item.about).collect();
        assert!(open.iter().any(|about| about.contains("call") && about.contains("Rosa Soto")), "a person is to call: {open:?}");
    }

    async fn a_busy_server_gets_it_later_once(fresh) {
        let world = world(fresh.engine).await;
        let sink = Sink::open(2).await;
        let report = world.desk.send_mail_due(&sink.mailer(), world.clock.now()).await.unwrap();
        assert_eq!((report.sent, report.again), (0, 2), "{report:?}");
        assert_eq!(world.desk.send_mail_due(&sink.mailer(), world.clock.now()).await.unwrap().sent, 0, "not at once");
        world.to("15T06:47:00").await;
        let report = world.desk.send_mail_due(&sink.mailer(), world.clock.now()).await.unwrap();
        assert_eq!((report.sent, report.failed), (1, 1), "{report:?}");
        assert_eq!(sink.got().len(), 1);
    }
}
