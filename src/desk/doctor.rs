//! What is missing or wrong before the season finds out, each with how to mend it.

use chrono::{Datelike as _, NaiveDate, TimeDelta};
use secrecy::ExposeSecret as _;

use super::{Desk, DeskError, import};
use crate::config::{CARRIER_ACCOUNT, CARRIER_TOKEN, Config, Program, Team};
use crate::intake::Dataset;
use crate::trade::roster::Role;
use crate::trade::time::{Moment, resolve};
use crate::trade::times::When;
use crate::wording::words::clock_words;

/// How grave a finding is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Gravity {
    /// As it should be, or worth knowing.
    Fine,
    /// Works, but somebody will be checked by hand or not hear.
    Watch,
    /// Does not work until it is mended.
    Broken,
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// How grave.
    pub gravity: Gravity,
    /// What was found.
    pub what: String,
    /// How to mend it.
    pub mend: Option<String>,
}

pub(super) fn fine(what: impl Into<String>) -> Finding {
    Finding { gravity: Gravity::Fine, what: what.into(), mend: None }
}

pub(super) fn watch(what: impl Into<String>, mend: impl Into<String>) -> Finding {
    Finding { gravity: Gravity::Watch, what: what.into(), mend: Some(mend.into()) }
}

pub(super) fn broken(what: impl Into<String>, mend: impl Into<String>) -> Finding {
    Finding { gravity: Gravity::Broken, what: what.into(), mend: Some(mend.into()) }
}

/// What the configuration alone tells.
#[must_use]
pub fn config(config: &Config) -> Vec<Finding> {
    let mut found = Vec::new();
    let has_token = config.carrier.token.as_ref().is_some_and(|token| !token.expose_secret().is_empty());
    match (&config.carrier.account, has_token) {
        (Some(_), true) => found.push(fine("carrier credentials are set")),
        (account, _) => {
            let missing: Vec<&str> = [(account.is_none(), CARRIER_ACCOUNT), (!has_token, CARRIER_TOKEN)]
                .into_iter()
                .filter_map(|(missing, name)| missing.then_some(name))
                .collect();
            found.push(broken(
                format!("no carrier credentials: {} not set", missing.join(" and ")),
                "copy them from the carrier's console into the environment; never into a file that is committed",
            ));
        }
    }
    match &config.public_url {
        None => found.push(broken(
            "no public address: the carrier cannot deliver replies",
            "set server.public_url to the https address that leads to this server",
        )),
        Some(url) if url.scheme() != "https" && url.host_str() != Some("127.0.0.1") => found.push(broken(
            format!("the public address {url} is not https"),
            "replies hold health words: put TLS in front and write https://",
        )),
        Some(url) => found.push(fine(format!("the carrier calls {url}"))),
    }
    found.extend(config.programs.values().flat_map(super::chat::doctor::config));
    found
}

impl Desk {
    /// Looks at everything for one program.
    ///
    /// # Errors
    /// [`DeskError`] when the store fails.
    pub async fn examine(&self, program: &Program, now: Moment) -> Result<Vec<Finding>, DeskError> {
        let mut tx = self.store().read().await?;
        let data = import::stored(&mut tx, &program.id).await?;
        let mut found = times(program);
        people(&data, now.date(program.zone), &mut found);
        events(program, &data, now, &mut found);
        let sender = tx.sender(&program.id).await?;
        if let Some(why) = sender.and_then(|sender| sender.halted_why) {
            found.push(broken(format!("sending is halted: {why}"), "mend it; sending goes on by itself"));
        }
        for number in tx.numbers_stopped(&program.id).await? {
            let why = if number.opted_out_at.is_some() {
                "opted out of texts".to_owned()
            } else if number.wrong_at.is_some() {
                "is somebody else's".to_owned()
            } else {
                format!("does not take texts ({:?})", number.trouble)
            };
            found.push(watch(
                format!("{} {why}", number.phone.short()),
                "its owners are checked by hand; ask for another number",
            ));
        }
        found.extend(super::chat::doctor::stored(&mut tx, program).await?);
        found.push(self.bill(&mut tx, program, now).await?);
        Ok(found)
    }

    async fn bill(&self, tx: &mut crate::store::Tx, program: &Program, now: Moment) -> Result<Finding, DeskError> {
        let today = now.date(program.zone);
        let first = today.with_day(1).unwrap_or(today);
        let from = resolve(first.and_time(chrono::NaiveTime::MIN), program.zone);
        let (segments, messages) = tx.segments_between(&program.id, from, now.plus(TimeDelta::milliseconds(1))).await?;
        #[expect(clippy::cast_precision_loss, reason = "segments of a month")]
        let cost = segments as f64 * self.config().carrier.price_per_segment;
        Ok(fine(format!(
            "this month: {messages} texts, {segments} segments, about {cost:.2} at {} a segment{}",
            self.config().carrier.price_per_segment,
            if program.fold_accents { "; accents that would triple a text's price are written without" } else { "" },
        )))
    }
}

/// The times of each team in plain words, and those that cannot work.
#[must_use]
pub fn times(program: &Program) -> Vec<Finding> {
    let mut found = vec![fine(format!("{}: times are in {}", program.name, program.zone))];
    for team in program.teams.values() {
        found.push(fine(times_in_words(team)));
        let times = &team.times;
        if let When::At(at) = times.check
            && times.quiet.covers(at)
        {
            found.push(watch(
                format!("{}: the check at {} falls in quiet hours and waits for their end", team.name, words_of(at)),
                "set quiet_until to the check's time or earlier, or the check later",
            ));
        }
        if times.silent_before.span() <= times.check_closes_before.span() - TimeDelta::minutes(30) {
            found.push(watch(
                format!("{}: the check may still go out after the silent list", team.name),
                "set check_closes_before_minutes above silent_before_minutes",
            ));
        }
    }
    found
}

fn words_of(time: chrono::NaiveTime) -> String {
    clock_words(time, crate::trade::roster::Language::En)
}

/// A team's times in a sentence.
#[must_use]
pub fn times_in_words(team: &Team) -> String {
    let times = &team.times;
    let check = match times.check {
        When::At(at) => format!("at {}", words_of(at)),
        When::Before(lead) => format!("{} minutes before the start", lead.num_minutes()),
    };
    format!(
        "{}: the check goes out {check} (all within {} minutes, or the texts start earlier), the silent are reminded \
         {} minutes later, nothing is sent later than {} minutes before the start; before the start, equipment staff \
         get the fix list {} minutes, staff the silent list {} minutes, the coach availability {} minutes; helmets are \
         brought in {} minutes before; quiet after {} until {}",
        team.name,
        times.spread.0,
        times.nudge_after.0,
        times.check_closes_before.0,
        times.fix_list_before.0,
        times.silent_before.0,
        times.availability_before.0,
        times.fix_by_before.0,
        words_of(times.quiet.from),
        words_of(times.quiet.until),
    )
}

fn people(data: &Dataset, today: NaiveDate, found: &mut Vec<Finding>) {
    let active: Vec<_> = data.athletes.iter().filter(|athlete| athlete.active).collect();
    if active.is_empty() {
        found.push(broken("no athletes", "`browline import DIR` with an athletes.csv"));
        return;
    }
    let with = |role: Role| {
        data.staff.iter().filter(move |member| member.active && member.has(role) && member.phone.is_some()).count()
    };
    if with(Role::Trainer) == 0 {
        found.push(broken(
            "no athletic trainer with a phone: nobody hears of a head symptom",
            "add one to staff.csv with role trainer and a phone, and import",
        ));
    }
    if with(Role::Equipment) == 0 {
        found.push(broken(
            "no equipment staff with a phone: nobody gets the fix list",
            "add one to staff.csv with role equipment and a phone, and import",
        ));
    }
    if with(Role::Coach) == 0 {
        found.push(watch("no coach with a phone: availability goes to nobody", "add one to staff.csv with role coach"));
    }
    let no_phone =
        active.iter().filter(|athlete| athlete.phone.is_none()).map(|athlete| athlete.short()).collect::<Vec<_>>();
    named(found, &no_phone, "without a phone: checked by hand", "add the phone to athletes.csv, and import");
    let no_consent: Vec<String> = active
        .iter()
        .filter(|athlete| athlete.phone.is_some() && !data.consents.iter().any(|consent| athlete.consented(consent)))
        .map(
            |athlete| {
                if athlete.is_adult(today) { athlete.short() } else { format!("{} (a guardian's)", athlete.short()) }
            },
        )
        .collect();
    named(
        found,
        &no_consent,
        "without consent for texts: checked by hand",
        "have the form signed, fill consent_by and consent_date in athletes.csv, and import",
    );
    let no_helmet: Vec<String> = active
        .iter()
        .filter(|athlete| !data.helmets.iter().any(|helmet| helmet.athlete.as_ref() == Some(&athlete.id)))
        .map(|athlete| athlete.short())
        .collect();
    named(found, &no_helmet, "without a helmet on file", "fill the athlete column of helmets.csv, and import");
    let spare = data.helmets.iter().filter(|helmet| helmet.athlete.is_none()).count();
    found.push(fine(format!(
        "{} athletes, {} helmets of which {spare} unassigned, {} staff",
        active.len(),
        data.helmets.len(),
        data.staff.len()
    )));
}

fn named(found: &mut Vec<Finding>, who: &[String], what: &str, mend: &str) {
    const SHOWN: usize = 6;
    if who.is_empty() {
        return;
    }
    let shown: Vec<&str> = who.iter().take(SHOWN).map(String::as_str).collect();
    let more = if who.len() > SHOWN { format!(" and {} more", who.len() - SHOWN) } else { String::new() };
    let athletes = if who.len() == 1 { "athlete" } else { "athletes" };
    found.push(watch(format!("{} {athletes} {what}: {}{more}", who.len(), shown.join(", ")), mend));
}

fn events(program: &Program, data: &Dataset, now: Moment, found: &mut Vec<Finding>) {
    for team in program.teams.values() {
        let ahead: Vec<_> = data
            .events
            .iter()
            .filter(|event| event.team == team.id && event.starts_at > now && !event.cancelled && event.helmets)
            .collect();
        if ahead.is_empty() {
            found.push(watch(
                format!("{}: no practice or game with helmets ahead, so no check goes out", team.name),
                "import a calendar (.ics) or events.csv",
            ));
            continue;
        }
        let early = ahead.iter().filter(|event| is_too_early(program, team, event)).count();
        if early > 0 {
            found.push(watch(
                format!(
                    "{}: {early} events start too early for a check outside quiet hours; they are checked at the door",
                    team.name
                ),
                "widen the day with quiet_until, or plan those checks by hand",
            ));
        }
    }
}

fn is_too_early(program: &Program, team: &Team, event: &crate::trade::roster::Event) -> bool {
    let load = crate::schedule::Load { segments: 0, per_second: 0.0 };
    crate::schedule::day(&[event], &team.times, program.zone, load)
        .iter()
        .any(|due| due.step == crate::schedule::Step::Check && due.at >= due.until)
}
