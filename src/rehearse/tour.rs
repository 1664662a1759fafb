//! One athlete's way from a symptom to a clearance, as the athlete, the family and the athletic trainer see it: the whole
//! program on a practice clock, with a script in place of a crowd. Invented people alone.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::Arc;

use anyhow::{Context as _, Result};
use chrono::NaiveDate;

use super::scenario;
use crate::channel::simulated::{SimulatedCarrier, SimulatedSettings, SimulatedText, Way};
use crate::clock::Clock;
use crate::config::Config;
use crate::desk::clearance::record::Act;
use crate::desk::{Desk, Identity};
use crate::intake::SourceFile;
use crate::store::Store;
use crate::store::seal::Seal;
use crate::trade::clearance::{Decision, Licence};
use crate::trade::phone::Phone;
use crate::trade::roster::{AthleteId, Language, ProgramId, StaffMember};
use crate::trade::time::Moment;
use crate::wording::Wording;

/// What somebody does in the tour.
enum Does {
    /// The athlete types.
    Athlete(&'static str),
    /// The guardian types.
    Guardian(&'static str),
    /// The athletic trainer types; `#` stands for the athlete's number.
    Trainer(&'static str),
    /// The athletic trainer opens the way back on the board.
    Opens,
    /// The athletic trainer records the clinician's determination on the board.
    Determines(NaiveDate),
    /// The athletic trainer records the clearance on the board.
    Clears(NaiveDate),
}

struct Cast {
    athlete: &'static str,
    guardian: &'static str,
    words: [&'static str; 4],
}

const EN: Cast = Cast {
    athlete: "parker-lindgren",
    guardian: "Solveig",
    words: ["all good except my head hurts", "received", "feeling fine", "received"],
};
const ES: Cast = Cast {
    athlete: "tomas-arredondo",
    guardian: "Irma",
    words: ["todo bien solo q me duele la cabeza", "recibido", "todo bien", "👍"],
};

fn day(day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 9, day).unwrap_or_default()
}

fn script(cast: &Cast) -> Vec<(&'static str, Does)> {
    let [report, received, fine, thanks] = cast.words;
    vec![
        ("15T06:52", Does::Athlete(report)),
        ("15T06:55", Does::Trainer("got #")),
        ("15T06:58", Does::Guardian(received)),
        ("15T09:30", Does::Opens),
        ("16T08:05", Does::Athlete(fine)),
        ("16T09:00", Does::Trainer("# step 1")),
        ("17T10:00", Does::Trainer("# step 2")),
        ("17T17:40", Does::Trainer("# worse 4 90")),
        ("18T10:00", Does::Trainer("# step 3")),
        ("19T10:00", Does::Trainer("# step 3")),
        ("20T10:30", Does::Trainer("# step 4")),
        ("20T11:00", Does::Determines(day(20))),
        ("20T11:05", Does::Trainer("# step 4")),
        ("21T11:30", Does::Trainer("# step 5")),
        ("22T09:00", Does::Trainer("# cleared")),
        ("22T12:00", Does::Clears(day(22))),
        ("22T12:20", Does::Guardian(thanks)),
        ("23T07:00", Does::Athlete("ok")),
    ]
}

fn decision(on: NaiveDate, parent: Option<&str>) -> Box<Decision> {
    Box::new(Decision {
        clinician: "Dr. Ruth Okafor".to_owned(),
        licence: Some(Licence::Physician),
        number: "IL 036-0001".to_owned(),
        on: Some(on),
        document: Some("clearance form".to_owned()),
        dated: Some(on),
        place: Some("locked file, training room".to_owned()),
        parent: parent.map(ToOwned::to_owned),
        reason: None,
    })
}

/// The scenario with this athlete and their family alone, and without what the tour is not about.
fn files(athlete: &str) -> Vec<SourceFile> {
    let own = |file: SourceFile| {
        let text = String::from_utf8_lossy(&file.bytes).into_owned();
        let kept = text.lines().enumerate().filter(|(nth, line)| *nth == 0 || line.contains(athlete));
        let bytes = kept.map(|(_, line)| format!("{line}\n")).collect::<String>().into_bytes();
        SourceFile { name: file.name, bytes }
    };
    scenario::files()
        .into_iter()
        .filter_map(|file| match file.name.as_str() {
            "athletes.csv" | "guardians.csv" => Some(own(file)),
            "staff.csv" | "venues.csv" => Some(file),
            name if name.ends_with(".ics") => Some(file),
            _ => None,
        })
        .collect()
}

struct Tour {
    desk: Desk,
    carrier: SimulatedCarrier,
    clock: Clock,
    program: ProgramId,
    number: Phone,
    zone: chrono_tz::Tz,
    names: BTreeMap<Phone, String>,
    shown: usize,
    about: Vec<String>,
    trainer: Phone,
}

/// The tour, a line a text, in the athlete's language.
///
/// # Errors
/// When the temporary folder or the scenario cannot be used.
pub async fn tour(language: Language) -> Result<String> {
    let cast = if language == Language::Es { &ES } else { &EN };
    let folder = tempfile::Builder::new().prefix("browline-demo-").tempdir().context("no temporary folder")?;
    let mut config = Config::parse("demo/browline.toml", scenario::CONFIG, |_| None)?;
    config.database = format!("sqlite://{}", folder.path().join("demo.db").display());
    let settings = config.programs.values().next().context("the scenario has no program")?.clone();
    let clock = Clock::manual(scenario::moment(scenario::START));
    let carrier = SimulatedCarrier::new(clock.clone(), SimulatedSettings { seed: 1, ..SimulatedSettings::default() });
    let store = Store::open_with(&config.database, Some(Seal::of(&[1; 32]))).await?;
    let wordings = [(settings.id.clone(), Wording::embedded())].into();
    let identity = Identity { worker: "demo".to_owned(), seed: 1 };
    let desk = Desk::open(store, config, wordings, Arc::new(carrier.clone()), clock.clone(), identity);
    desk.import(&settings.id, &files(cast.athlete), clock.now(), false).await?;
    let mut tx = desk.store().read().await?;
    let athlete = AthleteId::from(cast.athlete);
    let person = tx.athletes_named(&settings.id, [&athlete]).await?.pop().context("no such athlete")?;
    let guardian = tx.all_guardians(&settings.id).await?.into_iter().find(|one| one.first == cast.guardian);
    let guardian = guardian.context("no such guardian")?;
    let ana = tx.staff(&settings.id).await?.into_iter().find(|member| member.first == "Ana").context("no trainer")?;
    drop(tx);
    let phone = |phone: &Option<Phone>| phone.clone().context("no phone");
    let trainer = phone(&ana.phone)?;
    let names = [
        (phone(&person.phone)?, person.first.clone()),
        (phone(&guardian.phone)?, guardian.first.clone()),
        (trainer.clone(), ana.first.clone()),
    ];
    let jersey = person.jersey.clone().unwrap_or_default();
    let mut tour = Tour {
        desk,
        carrier,
        clock,
        program: settings.id.clone(),
        number: settings.number.clone(),
        zone: settings.zone,
        names: names.into(),
        shown: 0,
        about: vec![format!("#{jersey} ")],
        trainer,
    };
    let mut out = String::new();
    for (at, does) in script(cast) {
        tour.through(scenario::moment(&format!("2026-09-{at}:00-05:00")), &mut out).await?;
        tour.act(&does, (&athlete, &jersey), (&person.phone, &guardian.phone), &ana, &mut out).await?;
        tour.settle(&mut out).await?;
    }
    tour.desk.store().close().await;
    Ok(out)
}

impl Tour {
    /// Does all that is due on the way to a moment.
    async fn through(&mut self, end: Moment, out: &mut String) -> Result<()> {
        loop {
            self.settle(out).await?;
            match self.desk.next_due(self.clock.now()).await? {
                Some(next) if next < end => {
                    self.clock.set(next.max(self.clock.now().plus(chrono::TimeDelta::seconds(1))))
                }
                _ => break,
            }
        }
        self.clock.set(end.max(self.clock.now()));
        Ok(())
    }

    async fn settle(&mut self, out: &mut String) -> Result<()> {
        let now = self.clock.now();
        self.desk.tick(now).await?;
        self.desk.send_due(now).await?;
        let all = self.carrier.texts();
        for text in all.iter().skip(self.shown) {
            self.show(text, out);
        }
        self.shown = all.len();
        Ok(())
    }

    /// Texts of the three; of the trainer's many only those about the athlete.
    fn show(&self, text: &SimulatedText, out: &mut String) {
        let (phone, arrow) = if text.way == Way::FromPhone { (&text.from, "types") } else { (&text.to, "reads") };
        let Some(name) = self.names.get(phone) else { return };
        let is_list = ["Fix list", "Check at the door", "have not answered", "has not answered"]
            .iter()
            .any(|word| text.body.contains(word));
        let is_about = self.about.iter().any(|word| text.body.contains(word)) && !is_list;
        if *phone == self.trainer && text.way != Way::FromPhone && !is_about {
            return;
        }
        let at = text.at.local(self.zone).format("%a %H:%M");
        let _ = writeln!(out, "{at}  {name} {arrow}: {}", text.body.replace('\n', " / "));
    }

    async fn act(
        &mut self,
        does: &Does,
        (athlete, jersey): (&AthleteId, &str),
        (athletes, guardians): (&Option<Phone>, &Option<Phone>),
        ana: &StaffMember,
        out: &mut String,
    ) -> Result<()> {
        let now = self.clock.now();
        let typed = match does {
            Does::Athlete(text) => athletes.clone().map(|phone| (phone, (*text).to_owned())),
            Does::Guardian(text) => guardians.clone().map(|phone| (phone, (*text).to_owned())),
            Does::Trainer(text) => Some((self.trainer.clone(), text.replace('#', jersey))),
            Does::Opens | Does::Determines(_) | Does::Clears(_) => None,
        };
        if let Some((phone, text)) = typed {
            let incoming = self.carrier.write(&phone, &self.number, &text, Vec::new());
            self.desk.receive(incoming, now).await?;
            return Ok(());
        }
        let (act, words) = match does {
            Does::Determines(on) => (
                Act::Determine(decision(*on, None)),
                "records on the board: a physician determined readiness for contact; the form is in the locked file",
            ),
            Does::Clears(on) => (
                Act::Clear(decision(*on, Some("signed on the form"))),
                "records on the board: a physician cleared, in writing, acknowledged by a parent",
            ),
            _ => (
                Act::Open {
                    category: Some("evaluated by Dr. Okafor".to_owned()),
                    progression: Some("concussion".to_owned()),
                    check_in: true,
                },
                "opens the way back on the board: six steps, a daily check-in",
            ),
        };
        let key = format!("tour/{}", now.millis());
        let recorded = self.desk.record_way(&self.program, ana, (athlete, &act), &key, now).await?;
        recorded.map_err(|why| anyhow::anyhow!("{why}"))?;
        let at = now.local(self.zone).format("%a %H:%M");
        let _ = writeln!(out, "{at}  Ana {words}");
        Ok(())
    }
}
